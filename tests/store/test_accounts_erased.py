"""Erasing a player: nothing of it is read, pulled or derived any more, and no byte of it stays in the file."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from server.questions.own_baselines import own_ids
from server.store.account_tables import ACCOUNT, CREDENTIAL, NOTE, SHARE
from server.store.accounts import add_account, any_account, checked
from server.store.engine import open_database, reading
from server.store.erasure import erase_player
from server.store.log import ErasedError, push
from server.store.players import heads, player_by_id, players
from server.store.pulling import pull
from server.store.quarantine import quarantined
from server.store.rebuild import check_database
from server.store.sharing import write_note
from server.store.tables import CHANGE, KIND_TABLES, QUARANTINE, ROUND_HOLE, SHOT
from tests.api.asking import problem
from tests.api.people import PASSWORD, House, house
from tests.records.made import body_of, change

MARK = "zanzibarquartz"
"""Stands in every text of the player who is erased, and nowhere else."""


@pytest.fixture
def full(database_url: str) -> Iterator[House]:
    """A house on each sort of database, in which Robin has left marks of every kind."""
    made = house(database_url, MARK)
    robin = made.robin
    club_id = robin.club(f"{MARK} wedge")
    for turn in range(30):
        # Written anew again and again: SQLite leaves old rows behind in freed pages.
        robin.put("club", f"club {MARK} wedge", body_of("club", label=f"{MARK} {turn}", sort="wedge"))
    bad = change("club", {"label": MARK, "sort": MARK}) | {"device_id": f"device {MARK}"}
    marked = [raw | {"device_id": f"device {MARK}"} for raw in robin.changes[-31:]]
    push(made.engine, robin.player_id, f"device {MARK}", [*marked, bad])
    write_note(made.engine, robin.player_id, made.accounts["Ash"], "club", club_id, f"{MARK} swings well")
    made.accounts["Marked"] = add_account(
        made.engine, f"Marked {MARK}", "player", PASSWORD, player_id=made.robin.player_id
    )
    yield made
    made.engine.dispose()


def held(engine: sa.Engine, table: sa.Table, player_id: str) -> list[Any]:
    with reading(engine) as connection:
        query = sa.select(table).where(table.c.player_id == player_id).order_by(*table.primary_key)
        return list(connection.execute(query).mappings())


def test_nothing_of_the_player_stays_but_the_numbers_of_the_log(full: House) -> None:
    engine, robin = full.engine, full.robin.player_id
    before = held(engine, CHANGE, robin)
    assert held(engine, SHOT, robin)
    assert quarantined(engine, robin)
    erase_player(engine, robin)
    for table in (*KIND_TABLES.values(), QUARANTINE, NOTE, SHARE):
        assert held(engine, table, robin) == []
    rounds = [raw["record_id"] for raw in full.robin.changes if raw["kind"] == "round"]
    with reading(engine) as connection:
        holes = sa.select(ROUND_HOLE).where(ROUND_HOLE.c.record_id.in_(rounds))
        assert connection.execute(holes).all() == []
        assert player_by_id(connection, robin) is None
        assert [player.player_id for player in players(connection)] == [full.sam.player_id]
    after = held(engine, CHANGE, robin)
    same = ("change_id", "record_id", "seq", "kind", "op", "received_at", "chain")
    assert [[row[name] for name in same] for row in after] == [[row[name] for name in same] for row in before]
    emptied = ("body", "parents", "device_id", "client_time", "effective_time", "digest")
    assert {tuple(row[name] for name in emptied) for row in after} == {(None, "[]", "", "", "", "")}


def test_the_accounts_end_nameless_and_the_house_stays_closed(full: House) -> None:
    engine = full.engine
    assert checked(engine, f"Marked {MARK}", PASSWORD) is not None
    full.session("Robin")
    full.bearer("Robin", "read_own")
    erase_player(engine, full.robin.player_id)
    assert checked(engine, f"Marked {MARK}", PASSWORD) is None
    assert any_account(engine)
    rows = held(engine, ACCOUNT, full.robin.player_id)
    assert len(rows) == 2
    for row in rows:
        assert (row["name"], row["password"]) == (f"erased {row['account_id']}", None)
        assert row["disabled_at"] is not None
        with reading(engine) as connection:
            given = sa.select(CREDENTIAL).where(CREDENTIAL.c.account_id == row["account_id"])
            for credential in connection.execute(given).mappings():
                assert (credential["label"], credential["scopes"]) == ("", "")
                assert credential["revoked_at"] is not None


def test_other_players_keep_everything(full: House) -> None:
    tables = (CHANGE, *KIND_TABLES.values())
    before = [held(full.engine, table, full.sam.player_id) for table in tables]
    erase_player(full.engine, full.robin.player_id)
    assert [held(full.engine, table, full.sam.player_id) for table in tables] == before


def test_nothing_comes_back(full: House) -> None:
    erase_player(full.engine, full.robin.player_id)
    with pytest.raises(ErasedError):
        push(full.engine, full.robin.player_id, "phone", full.robin.changes)
    with pytest.raises(ErasedError):
        pull(full.engine, full.robin.player_id, None)
    assert held(full.engine, SHOT, full.robin.player_id) == []


def test_the_records_of_an_erased_player_are_nobodys(full: House) -> None:
    """Their ids stand in the log still; they have no head, and do not stop another player who uses one."""
    raw = next(one for one in full.robin.changes if one["kind"] == "club")
    asked = [raw["record_id"], next(one["record_id"] for one in full.sam.changes if one["kind"] == "club")]
    mine = change("club", body_of("club", label="mine"), raw["record_id"])
    (refused,) = push(full.engine, full.sam.player_id, "phone", [mine]).quarantined
    assert [str(fault) for fault in refused[1]] == [
        f"record_id: {raw['record_id']} belongs to another player (a record of this player)"
    ]
    with reading(full.engine) as connection:
        assert set(heads(connection, asked)) == set(asked)
    erase_player(full.engine, full.robin.player_id)
    with reading(full.engine) as connection:
        assert set(heads(connection, asked)) == {asked[1]}
    assert push(full.engine, full.sam.player_id, "phone", [mine]).new == 1
    with reading(full.engine) as connection:
        found = heads(connection, asked)[raw["record_id"]]
    assert (found.player_id, found.change_id) == (full.sam.player_id, mine["change_id"])
    edit = change("club", body_of("club", label="edited"), raw["record_id"], parents=[mine["change_id"]])
    assert push(full.engine, full.sam.player_id, "phone", [edit]).new == 1
    assert check_database(full.engine).faults == 0


@pytest.mark.parametrize("rebuild", [False, True])
def test_the_check_finds_an_erased_player_in_order(full: House, rebuild: bool) -> None:
    erase_player(full.engine, full.robin.player_id)
    report = check_database(full.engine, rebuild=rebuild)
    assert (report.faults, report.differences) == (0, [])
    assert report.changes == len(full.sam.changes)
    assert held(full.engine, SHOT, full.robin.player_id) == []


def test_the_check_finds_what_is_left_of_an_erased_player(full: House) -> None:
    engine, robin = full.engine, full.robin.player_id
    (left, *_) = held(engine, SHOT, robin)
    erase_player(engine, robin)
    with engine.begin() as connection:
        connection.execute(sa.insert(SHOT), [dict(left)])
    assert check_database(engine).faults == 1
    assert check_database(engine, rebuild=True).faults == 1
    assert check_database(engine).faults == 0
    assert held(engine, SHOT, robin) == []


def test_erasing_twice_or_nobody_changes_nothing(full: House) -> None:
    erase_player(full.engine, full.robin.player_id)
    once = held(full.engine, CHANGE, full.robin.player_id)
    erase_player(full.engine, full.robin.player_id)
    erase_player(full.engine, "11111111-2222-4333-8444-555555555555")
    assert held(full.engine, CHANGE, full.robin.player_id) == once


def files(folder: Path) -> bytes:
    """Every byte of the database: the file, its write-ahead log, the shared memory beside it."""
    return b"".join(path.read_bytes() for path in sorted(folder.glob("log.sqlite*")))


@pytest.mark.parametrize("cleans", [True, False], ids=["written anew", "only deleted"])
def test_no_byte_of_the_player_stays_in_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cleans: bool) -> None:
    """Only to delete is not enough, which shows that this test can fail."""
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    robin = made.robin
    for turn in range(50):
        robin.put("club", "club driver", body_of("club", label=f"{MARK} {turn}", sort="driver"))
    changes = [raw | {"device_id": f"device {MARK}"} for raw in robin.changes[-50:]]
    push(made.engine, robin.player_id, "phone", [*changes, change("club", {"label": MARK, "sort": MARK})])
    write_note(made.engine, robin.player_id, made.accounts["Ash"], "club", "driver", MARK)
    words = [MARK, "Robin", *(row["digest"] for row in held(made.engine, CHANGE, robin.player_id))]
    assert len(words) > 60
    assert all(word.encode() in files(tmp_path) for word in words)
    if not cleans:
        monkeypatch.setattr("server.store.erasure._leave_no_bytes", lambda _engine: None)
    erase_player(made.engine, robin.player_id)
    found = files(tmp_path)
    assert made.sam.player_id.encode() in found
    assert any(word.encode() in found for word in words) != cleans
    made.engine.dispose()


def test_a_reader_at_work_is_reported_and_the_erasure_holds(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.store.erasure.PATIENCE_S", 0.5)
    url = f"sqlite:///{tmp_path / 'log.sqlite'}"
    made = house(url)
    other = open_database(url, busy_wait_s=0.1)
    engine = open_database(url, busy_wait_s=0.1)
    with closing(other.connect()) as reader:
        reader.exec_driver_sql("BEGIN")
        reader.execute(sa.select(CHANGE)).all()
        with caplog.at_level(logging.WARNING, "pencilbag"):
            erase_player(engine, made.robin.player_id)
        reader.rollback()
    assert "a player was erased, but" in caplog.text
    assert held(engine, SHOT, made.robin.player_id) == []
    for one in (made.engine, other, engine):
        one.dispose()


def test_over_http_it_is_asked_twice_and_sent_to_every_device(tmp_path: Path) -> None:
    full = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    address, name = f"/api/players/{full.robin.player_id}", "Robin"
    robin, phone, ash = full.client("Robin"), full.client("Robin"), full.client("Ash")
    script = full.bearer("Robin", "read_own", "write_own")
    sound = {"name": name, "meant": "erase everything"}
    for field, said in (("name", "robin"), ("meant", "yes")):
        found = problem(robin.post(f"{address}/erasure", json=sound | {field: said}), 422)
        assert [fault["field"] for fault in found["errors"]] == [field]
    assert robin.get(address).status_code == 200
    erased = robin.post(f"{address}/erasure", json=sound)
    assert (erased.status_code, "Max-Age=0" in erased.headers["Set-Cookie"]) == (204, True)
    # The device that asked is nobody's from now on; the others are told.
    problem(robin.get("/api/players"), 401)
    for gone in (phone.get(f"{address}/changes"), phone.post(f"{address}/changes", json={}), phone.get("/api/players")):
        problem(gone, 410)
    problem(full.app.test_client().get("/api/players", headers=script), 410)
    problem(ash.get(address), 404)
    assert ash.get("/api/players").get_json() == {"players": []}
    problem(full.app.test_client().get("/api/players"), 401)
    problem(full.app.test_client().post("/api/sign-in", json={"name": "Robin", "password": PASSWORD}), 401)
    full.engine.dispose()


@pytest.mark.parametrize("page", [1, 7, 5000])
def test_everything_is_handed_over_before_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, page: int) -> None:
    monkeypatch.setattr("server.api.own_data.LARGEST_PAGE", page)
    full = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    bad = change("club", {"label": "x", "sort": "spoon"})
    push(full.engine, full.robin.player_id, "phone", [bad])
    write_note(full.engine, full.robin.player_id, full.accounts["Ash"], "club", "driver", "swings well")
    robin = full.client("Robin")
    address = f"/api/players/{full.robin.player_id}"
    share_id = robin.get(f"{address}/shares").get_json()["shares"][0]["share_id"]
    robin.delete(f"{address}/shares/{share_id}")
    found = robin.get(f"{address}/everything").get_json()
    assert (found["player_id"], found["name"]) == (full.robin.player_id, "Robin")
    assert [one["body"] for one in found["changes"]] == [raw["body"] for raw in full.robin.changes]
    assert [one["raw"] for one in found["quarantine"]] == [bad]
    assert [(one["reader"] or one["squad"], one["ended_at"] is None) for one in found["shares"]] == [
        ("Ash", False),
        ("first", True),
    ]
    assert [one["words"] for one in found["notes"]] == ["swings well"]
    (account,) = found["accounts"]
    assert (account["name"], len(account["credentials"])) == ("Robin", 1)
    assert not {"password", "secret_hash"} & ({*account} | {*account["credentials"][0]})
    assert found["tables"] == [f"/api/season/2026/datapackage.json?player={full.robin.player_id}"]
    package = robin.get(found["tables"][0])
    assert package.status_code == 200
    full.engine.dispose()


def test_a_baseline_learnt_from_the_player_alone_goes_too(tmp_path: Path) -> None:
    full = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    folder = tmp_path / "baselines"
    folder.mkdir()
    learnt = {"robin": [full.robin.player_id], "squad": [full.robin.player_id, full.sam.player_id]}
    for name, whose in learnt.items():
        (folder / f"{name}.toml").write_text(f'id = "{name}"\nplayers = {whose}\n', encoding="utf-8")
        (folder / f"{name}.csv").write_text("lie,distance,unit,expected_strokes\n", encoding="utf-8")
    assert own_ids(folder) == ["robin", "squad"]
    answer = full.client("Robin").post(
        f"/api/players/{full.robin.player_id}/erasure", json={"name": "Robin", "meant": "erase everything"}
    )
    assert answer.status_code == 204, answer.text
    assert sorted(path.name for path in folder.iterdir()) == ["squad.csv", "squad.toml"]
    full.engine.dispose()
