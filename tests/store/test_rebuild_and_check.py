"""Check finds whatever in the records is not what the log says, and rebuilds it, on both databases."""

from __future__ import annotations

import gc
import threading
import tracemalloc
from collections.abc import Callable, Iterator
from itertools import zip_longest
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from server.__main__ import main
from server.records import changes as envelope
from server.store import rebuild
from server.store.engine import open_database, writing
from server.store.log import push, retake_quarantined
from server.store.quarantine import quarantined
from server.store.rebuild import check_database
from server.store.tables import CHANGE, CLUB, KIND_TABLES, PLAYER, ROUND, ROUND_HOLE, SHOT
from tests.bench.bench_sync import grow
from tests.records.made import Season, body_of, change, named
from tests.store.full_database import everything, records_in_log
from tests.tiers import count

PLAYER_ID, OTHER_ID = named("Wren Quillfeather"), named("Ash Inkwell")
CLUB_ID = named(f"{PLAYER_ID}|club driver")
ROUND_ID = named(f"{PLAYER_ID}|one")
SHOT_ID = named(f"{PLAYER_ID}|{ROUND_ID}|1|1|1")


@pytest.fixture
def whole(filled_url: str) -> Iterator[sa.Engine]:
    """A database with something of everything."""
    engine = open_database(filled_url)
    yield engine
    engine.dispose()


@pytest.fixture
def command(filled_url: str, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Runs `python -m server` on this database."""
    monkeypatch.setenv("PENCILBAG_DATABASE", filled_url)
    return lambda *words: CliRunner().invoke(main, words)


def columns_together() -> list[list[tuple[sa.Table, str]]]:
    """Derived columns that are no key, every fifth, in the long tier all; one of each table at a time, whose name the
    difference says. Holes go apart from their round, which mends with them."""
    tables = [*KIND_TABLES.values(), ROUND_HOLE]
    found = [(table, column.name) for table in tables for column in table.c if not column.primary_key]
    found = found[:: count(5, 1)]
    lines = [[one for one in found if one[0] is table] for table in tables]
    kinds = [[one for one in group if one is not None] for group in zip_longest(*lines[:-1])]
    return [*kinds, *([one] for one in lines[-1])]


def otherwise(column: sa.Column[Any], value: Any) -> Any:
    """Another value of the same type."""
    if isinstance(column.type, sa.Boolean):
        return not value
    if isinstance(column.type, sa.Date):
        return sa.text("DATE '1999-09-09'") if value is None else value.replace(year=1999)
    if isinstance(column.type, sa.Integer | sa.Double):
        return (value or 0) + 1
    return ("x" if value != "x" else "y") if column.name != "player_id" else OTHER_ID


def test_a_sound_database_is_found_sound(whole: sa.Engine, command: Callable[..., Result]) -> None:
    before = everything(whole)
    report = check_database(whole)
    assert (report.faults, report.differences) == (0, [])
    assert report.changes == len(before["change"])
    assert report.records == len(records_in_log(whole))
    done = command("check")
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout == f"{report.changes} changes, {report.records} records checked: the records match the log\n"
    assert command("check", "--rebuild").exit_code == 0
    assert everything(whole) == before


@pytest.mark.parametrize("columns", columns_together(), ids=lambda columns: columns[0][1])
def test_one_changed_value_anywhere_is_found_and_mended(whole: sa.Engine, columns: list[tuple[sa.Table, str]]) -> None:
    before = everything(whole)
    wanted = []
    with writing(whole) as connection:
        for table, name in columns:
            key = list(table.primary_key.columns)
            # Of the two players' records one that both sorts of checks pass: the first of this player.
            own = sa.select(CHANGE.c.record_id).where(CHANGE.c.player_id == PLAYER_ID)
            query = sa.select(table).where(table.c.record_id.in_(own)).order_by(*key)
            row = connection.execute(query).mappings().first()
            assert row is not None
            spot = sa.and_(*(column == row[column.name] for column in key))
            value = otherwise(table.c[name], row[name])
            if isinstance(value, sa.TextClause) and connection.dialect.name == "sqlite":
                value = sa.text("'1999-09-09'")
            connection.execute(sa.update(table).where(spot).values({name: value}))
            wanted.append(f"{table.name} {row['record_id']}: the record differs from its changes")
    changed = everything(whole)
    assert all(changed[table.name] != before[table.name] for table, _ in columns)
    report = check_database(whole)
    assert sorted(report.differences) == sorted(wanted)
    assert check_database(whole, rebuild=True).faults == len(columns)
    assert everything(whole) == before
    assert check_database(whole).faults == 0


def remove_shot(connection: sa.Connection) -> None:
    connection.execute(sa.delete(SHOT).where(SHOT.c.record_id == SHOT_ID))


def remove_round(connection: sa.Connection) -> None:
    connection.execute(sa.delete(ROUND).where(ROUND.c.record_id == ROUND_ID))


def remove_every_record(connection: sa.Connection) -> None:
    for table in KIND_TABLES.values():
        connection.execute(sa.delete(table))


def remove_hole(connection: sa.Connection) -> None:
    connection.execute(sa.delete(ROUND_HOLE).where(ROUND_HOLE.c.record_id == ROUND_ID, ROUND_HOLE.c.number == 2))


def add_hole(connection: sa.Connection) -> None:
    connection.execute(sa.insert(ROUND_HOLE), {"record_id": ROUND_ID, "number": 3, "par": 3, "length_yd": 150.0})


def add_row_of_another_kind(connection: sa.Connection) -> None:
    row = {"record_id": SHOT_ID, "player_id": PLAYER_ID, "label": "ghost", "sort": "iron", "on_trial": False}
    connection.execute(sa.insert(CLUB), row)


def add_record(connection: sa.Connection) -> None:
    row = {"record_id": str(uuid4()), "player_id": PLAYER_ID, "label": "ghost", "sort": "iron", "on_trial": False}
    connection.execute(sa.insert(CLUB), row)


def test_a_row_that_no_change_speaks_of_is_found_in_every_table(whole: sa.Engine) -> None:
    before = everything(whole)
    ghosts = {table.name: str(uuid4()) for table in KIND_TABLES.values()}
    with writing(whole) as connection:
        for table in KIND_TABLES.values():
            row = connection.execute(sa.select(table).order_by(table.c.record_id)).mappings().first()
            assert row is not None
            connection.execute(sa.insert(table), dict(row) | {"record_id": ghosts[table.name]})
    found = [f"{name} {ghost}: it is in no change of the log" for name, ghost in ghosts.items()]
    assert check_database(whole).differences == found
    assert check_database(whole, rebuild=True).faults == len(found) == 9
    assert everything(whole) == before


TAMPERINGS: dict[Callable[[sa.Connection], None], tuple[int | None, str]] = {
    # what is done: how many differences (None: all rows there are), what the first is called
    remove_shot: (1, "the record differs from its changes"),
    # With a round go its two holes.
    remove_round: (3, "the record differs from its changes"),
    remove_every_record: (None, "the record differs from its changes"),
    remove_hole: (1, "the record differs from its changes"),
    add_hole: (1, "the record differs from its changes"),
    add_row_of_another_kind: (1, "the record differs from its changes"),
    add_record: (1, "it is in no change of the log"),
}


@pytest.mark.parametrize("tamper", TAMPERINGS, ids=lambda tamper: tamper.__name__)
def test_rows_missing_and_rows_too_many_are_found_and_mended(
    whole: sa.Engine, command: Callable[..., Result], tamper: Callable[[sa.Connection], None]
) -> None:
    before = everything(whole)
    derived = sum(len(before[table.name]) for table in (*KIND_TABLES.values(), ROUND_HOLE))
    with writing(whole) as connection:
        tamper(connection)
    count, words = TAMPERINGS[tamper]
    count = derived if count is None else count
    done = command("check")
    assert (done.exit_code, done.stdout) == (2, "")
    lines = done.stderr.splitlines()
    assert lines[0].endswith(words)
    assert lines[-1].startswith("error: ")
    assert lines[-1].endswith(f": {count} difference{'s' if count > 1 else ''}; check --rebuild repairs the records")
    done = command("check", "--rebuild")
    assert done.exit_code == 0
    assert "found and rebuilt from the log" in done.stdout
    assert everything(whole) == before
    assert command("check").exit_code == 0


@pytest.mark.parametrize(
    ("tamper", "words"),
    [
        (sa.delete(CHANGE).where(CHANGE.c.seq == 3), "numbered 1 to {n}, last number given {n}"),
        (sa.delete(CHANGE).where(CHANGE.c.seq == 1), "numbered 2 to {n}, last number given {n}"),
        (sa.update(CHANGE).where(CHANGE.c.seq == 1).values(seq=0), "numbered 0 to {n}, last number given {n}"),
        (sa.update(PLAYER).values(last_seq=PLAYER.c.last_seq + 1), "numbered 1 to {n}, last number given {more}"),
        (sa.delete(CHANGE), "none numbered, last number given {n}"),
    ],
    ids=["gap", "first gone", "renumbered", "count too high", "log empty"],
)
def test_a_gap_in_the_log_is_named_and_never_papered_over(whole: sa.Engine, tamper: Any, words: str) -> None:
    count = sum(1 for row in everything(whole)["change"] if row[0] == PLAYER_ID)
    table = tamper.table
    with writing(whole) as connection:
        connection.execute(tamper.where(table.c.player_id == PLAYER_ID))
    wanted = words.format(n=count, more=count + 1)
    for _ in range(2):
        (found,) = [one for one in check_database(whole, rebuild=True).differences if one.startswith("player ")]
        assert found.startswith(f"player {PLAYER_ID}: ")
        assert found.endswith(wanted)


def test_differences_are_listed_up_to_a_hundred_and_all_counted(database_url: str) -> None:
    engine = open_database(database_url)
    season = Season()
    for number in range(150):
        season.club(f"club {number}")
    push(engine, season.player_id, "phone", season.changes)
    with writing(engine) as connection:
        connection.execute(sa.update(CLUB).values(label="spoilt"))
    report = check_database(engine)
    assert (report.faults, len(report.differences)) == (150, rebuild.MOST_DIFFERENCES)
    engine.dispose()


@pytest.mark.parametrize("size", [1, 2, 3, 7])
def test_groups_of_any_size_find_the_same(whole: sa.Engine, monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    before = everything(whole)
    with writing(whole) as connection:
        remove_shot(connection)
        add_record(connection)
        add_hole(connection)
    wanted = check_database(whole)
    monkeypatch.setattr(rebuild, "RECORDS_AT_ONCE", size)
    found = check_database(whole)
    assert (found.changes, found.records, found.faults) == (wanted.changes, wanted.records, 3)
    assert sorted(found.differences) == sorted(wanted.differences)
    check_database(whole, rebuild=True)
    assert everything(whole) == before


def test_a_record_that_came_between_two_statements_is_left_alone(
    whole: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On PostgreSQL a new player may push between them: the group does not name the record, its range holds it."""
    before = everything(whole)
    groups = rebuild._groups
    monkeypatch.setattr(rebuild, "_groups", lambda connection: ([*ids[:1], *ids[2:]] for ids in groups(connection)))
    with writing(whole) as connection:
        remove_shot(connection)
    assert check_database(whole, rebuild=True).faults == 1
    assert everything(whole) == before


def test_a_record_of_two_players_is_named(whole: sa.Engine) -> None:
    with writing(whole) as connection:
        query = sa.select(CHANGE).where(CHANGE.c.record_id == SHOT_ID)
        row = dict(connection.execute(query).mappings().one())
        last = connection.execute(sa.select(PLAYER.c.last_seq).where(PLAYER.c.player_id == OTHER_ID)).scalar_one()
        row |= {"player_id": OTHER_ID, "seq": last + 1, "change_id": str(uuid4()), "record_seq": 2}
        connection.execute(sa.insert(CHANGE), row)
        connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == OTHER_ID).values(last_seq=last + 1))
    assert f"record {SHOT_ID}: it is in the logs of two players" in check_database(whole).differences


def test_a_rebuild_beside_pushes_writes_nothing_stale(whole: sa.Engine) -> None:
    head = [CLUB_ID, SHOT_ID]
    over = threading.Event()
    pushed: list[int] = []

    def edit() -> None:
        for number in range(200):
            shot = body_of("shot", round_id=ROUND_ID, club_id=CLUB_ID, distance_yd=100 + number)
            edits = [change("club", body_of("club", label=f"edit {number}"), head[0]), change("shot", shot, head[1])]
            pushed.append(push(whole, PLAYER_ID, "phone", edits).new)
            if over.is_set() and number > 20:
                return

    thread = threading.Thread(target=edit)
    thread.start()
    for _ in range(count(4, 8)):
        with writing(whole) as connection:
            connection.execute(sa.update(CLUB).where(CLUB.c.player_id == OTHER_ID).values(label="spoilt"))
        assert check_database(whole, rebuild=True).faults > 0
        assert check_database(whole).faults == 0
    over.set()
    thread.join(120)
    assert not thread.is_alive()
    assert set(pushed) == {2}
    assert check_database(whole).faults == 0


def test_a_change_of_the_future_waits_raw_until_the_server_understands_it(
    whole: sa.Engine, command: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    record = str(uuid4())
    ahead = change(
        "club", body_of("club", label="from ahead", new_field={"unknown": [1, None]}), record, schema_version=2
    )
    after = change("club", body_of("club", label="later"), record, schema_version=2, parents=[ahead["change_id"]])
    done = push(whole, PLAYER_ID, "phone", [after, ahead])
    assert (done.new, done.acknowledged) == (0, [after["change_id"], ahead["change_id"]])
    waiting = [entry["raw"] for entry in quarantined(whole, PLAYER_ID)]
    assert waiting[1:] == [after, ahead]
    assert retake_quarantined(whole) == 0
    assert command("check", "--rebuild").exit_code == 0
    assert [entry["raw"] for entry in quarantined(whole, PLAYER_ID)] == waiting
    monkeypatch.setattr(envelope, "SCHEMA_VERSION", 2)
    done_again = command("check", "--rebuild")
    assert (done_again.exit_code, done_again.stderr) == (0, "2 quarantined changes accepted\n")
    assert [entry["raw"] for entry in quarantined(whole, PLAYER_ID)] == waiting[:1]
    with whole.connect() as connection:
        stored = connection.execute(sa.select(CHANGE).where(CHANGE.c.record_id == record)).mappings().all()
        label = connection.execute(sa.select(CLUB.c.label).where(CLUB.c.record_id == record)).scalar()
    assert {row["change_id"] for row in stored} == {ahead["change_id"], after["change_id"]}
    assert {row["schema_version"] for row in stored} == {2}
    assert '"new_field":{"unknown":[1,null]}' in "".join(row["body"] for row in stored)
    assert label == "later"
    assert check_database(whole).faults == 0


def peak(path: Path, changes: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """Bytes that Python held at most while all records of a log were found missing and written."""
    url = f"sqlite:///{path / f'{changes}.sqlite'}"
    grow(url, str(uuid4()), changes)
    engine = open_database(url)
    check_database(engine)
    check_group = rebuild._check_group

    def collected(*given: Any) -> None:
        gc.collect()  # what waits for the collector, and what CPython keeps for the next objects, is not held
        check_group(*given)

    monkeypatch.setattr(rebuild, "_check_group", collected)
    gc.collect()
    gc.freeze()  # so that the collector need not walk what other tests have left
    tracemalloc.start()
    try:
        report = check_database(engine, rebuild=True)
        held = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
        gc.unfreeze()
        monkeypatch.setattr(rebuild, "_check_group", check_group)
        engine.dispose()
    assert report.changes >= changes
    assert report.faults > changes
    return held


def test_memory_of_a_rebuild_does_not_grow_with_the_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A group of records is in memory at once, not the log: ten times the log may take the same, but for the words of
    the first hundred differences and what the allocator leaves over."""
    monkeypatch.setattr(rebuild, "RECORDS_AT_ONCE", count(50, 100))
    small, large = (peak(tmp_path, changes, monkeypatch) for changes in (count(200, 1_000), count(2_000, 10_000)))
    assert large < 1.3 * small
