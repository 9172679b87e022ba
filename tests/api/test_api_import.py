"""Importing a shots table over HTTP: a preview that stores nothing, then every row or none, for this player alone."""

from __future__ import annotations

import base64
from typing import Any
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server.api.app import LARGEST_REQUEST
from server.api.importing import LARGEST_FILE, LONGEST_TABLE, MOST_NOTES
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.store.engine import reading
from server.store.erasure import erase_player
from server.store.log import ErasedError
from server.store.players import players
from tests.api.asking import log_of, problem, stored
from tests.files.tables import drive_and_putt, row, table
from tests.records.made import Season


@pytest.fixture
def player(client: FlaskClient) -> Season:
    """A player whom the server knows, called as the tables of the tests call theirs."""
    made = Season(f"Wren {uuid4()}")
    made.changes[0]["body"]["name"] = "Wren Quillfeather"
    stored(client, made)
    return made


def send(client: FlaskClient, player: Season, rows: list[dict[str, Any]], **more: Any) -> Any:
    body = {"table": table(rows).decode()} | more
    return client.post(f"/api/players/{player.player_id}/import", json=body)


def test_a_preview_says_what_would_be_stored_and_stores_nothing(client: FlaskClient, player: Season) -> None:
    rows = [
        *drive_and_putt(course="Blottingham Heath", tees="middle", kind="competition"),
        *drive_and_putt(played_on="2026-05-02"),
        *drive_and_putt(played_on="2026-05-02", hole=2),
    ]
    before = log_of(client, player.player_id)
    seen = send(client, player, rows).get_json()
    assert log_of(client, player.player_id) == before
    assert (seen["stored"], seen["rows"], seen["kept"]) == (False, 6, 0)
    shown = [
        (one["row"], one["played_on"], one["kind"], one["course"], one["holes"], one["shots"]) for one in seen["rounds"]
    ]
    assert shown == [
        (2, "2026-05-01", "competition", "Blottingham Heath", 1, 2),
        (4, "2026-05-02", "practice", None, 2, 4),
    ]
    assert [words.split(" is new")[0] for words in seen["made"]] == [
        "club 'driver'",
        "club 'putter'",
        "course 'Blottingham Heath'",
    ]
    done = send(client, player, rows, dry_run=False).get_json()
    assert done == seen | {"stored": True}
    assert len(log_of(client, player.player_id)) == len(before) + seen["changes"]
    again = send(client, player, rows, dry_run=False).get_json()
    assert (again["changes"], len(log_of(client, player.player_id))) == (0, len(before) + seen["changes"])


@pytest.mark.parametrize("dry_run", [True, False])
def test_bad_rows_are_named_with_value_and_range_and_nothing_is_stored(
    client: FlaskClient, player: Season, dry_run: bool
) -> None:
    rows = [*drive_and_putt(), row(played_on="2026-05-02", distance=900), row(hole=40, lie="water", par="x")]
    before = log_of(client, player.player_id)
    found = problem(send(client, player, rows, dry_run=dry_run), 422)["errors"]
    assert [(one["field"], one["value"], one["range"]) for one in found] == [
        ("row 4, distance", "900", "0 to 700 yd"),
        ("row 5, hole", "40", "1 to 36"),
        ("row 5, par", "x", "3 to 6"),
        ("row 5, lie", "water", "tee, fairway, fringe, rough, sand, recovery, green"),
    ]
    assert log_of(client, player.player_id) == before


def test_rows_that_do_not_fit_together_are_named(client: FlaskClient, player: Season) -> None:
    rows = [row(), row(shot=2, lie="fairway", distance=150, par=5)]
    found = problem(send(client, player, rows), 422)["errors"]
    assert "row 3, par" in [one["field"] for one in found]


def test_the_rows_are_this_players_even_beside_one_of_the_same_name(client: FlaskClient, player: Season) -> None:
    twin = Season(f"Twin {uuid4()}")
    twin.changes[0]["body"]["name"] = "Wren Quillfeather"
    stored(client, twin)
    before = log_of(client, twin.player_id)
    nameless = [{name: value for name, value in one.items() if name != "player"} for one in drive_and_putt()]
    assert send(client, player, nameless, dry_run=False).get_json()["changes"] > 0
    assert send(client, player, drive_and_putt(hole=2), dry_run=False).get_json()["changes"] > 0
    assert log_of(client, twin.player_id) == before
    other = problem(send(client, player, [row(player="Somebody Else")]), 422)["errors"]
    assert [(one["field"], one["value"], one["range"]) for one in other] == [
        ("row 2, player", "Somebody Else", "Wren Quillfeather")
    ]


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"table": ""},
        {"table": 7},
        {"table": "x" * (LONGEST_TABLE + 1)},
        {"table": "a,b", "dry_run": "yes"},
        {"table": "a,b", "player": "x"},
        {"table": "a\0b"},
        {"table": "hole,par"},
        {"table": 'a,"b'},
    ],
)
def test_what_is_no_table_is_refused(client: FlaskClient, player: Season, sent: dict[str, Any]) -> None:
    before = log_of(client, player.player_id)
    answer = client.post(f"/api/players/{player.player_id}/import", json=sent)
    assert len(problem(answer, 422)["errors"]) == 1
    assert len(answer.data) < 2000
    assert log_of(client, player.player_id) == before


def test_a_file_larger_than_a_request_may_be_is_not_read(client: FlaskClient, player: Season) -> None:
    body = b'{"table": "' + b"x" * LARGEST_REQUEST + b'"}'
    address = f"/api/players/{player.player_id}/import"
    problem(client.post(address, data=body, content_type="application/json"), 413)


def test_what_is_reported_of_a_bad_file_is_bounded(client: FlaskClient, player: Season) -> None:
    (found,) = problem(send(client, player, [row(distance=-1)] * 107), 422)["errors"]
    assert (found["field"], found["value"], found["range"]) == ("row 2, distance", "-1", "0 to 700 yd")
    assert found["message"] == "-1 yd is outside 0 to 700 yd; 106 more like it, the last in row 108"
    strange = {f"strange {number} {'x' * 500}": "" for number in range(MOST_NOTES + 9)}
    seen = send(client, player, [one | strange for one in drive_and_putt()]).get_json()
    assert (len(seen["notes"]), seen["notes"][-1]) == (MOST_NOTES + 1, "and 9 more")
    assert max(map(len, seen["notes"])) <= 300


def test_a_player_who_was_erased_in_between_does_not_come_back_under_another_id(
    app: Flask, client: FlaskClient, player: Season
) -> None:
    engine = app.extensions["pencilbag_engine"]
    with reading(engine) as connection:
        before = {one.player_id for one in players(connection)}
    erase_player(engine, player.player_id)
    rows = read_table(table(drive_and_putt()), "Wren Quillfeather")
    with pytest.raises(ErasedError):
        import_table(engine, rows, player_id=player.player_id)
    with reading(engine) as connection:
        assert {one.player_id for one in players(connection)} == before - {player.player_id}


def test_a_table_of_more_rows_than_are_stored_at_once_is_refused(
    client: FlaskClient, player: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.api.importing.MOST_ROWS", 1)
    (fault,) = problem(send(client, player, drive_and_putt()), 422)["errors"]
    assert (fault["field"], fault["value"], fault["range"]) == ("table", "2 rows", "up to 1 rows")
    assert send(client, player, [row(holed="yes")]).status_code == 200


def test_an_unknown_player_has_no_rounds_to_import(client: FlaskClient) -> None:
    problem(client.post(f"/api/players/{uuid4()}/import", json={"table": "a"}), 404)


def sent_as_file(client: FlaskClient, player: Season, content: bytes, **more: Any) -> Any:
    body = {"content": base64.b64encode(content).decode()} | more
    return client.post(f"/api/players/{player.player_id}/import", json=body)


def test_the_bytes_of_a_file_are_taken_and_the_answer_says_how(client: FlaskClient, player: Season) -> None:
    content = table(drive_and_putt(note="Zoë", target_yd="250|5", played_on="03/04/2026")).decode()
    content = content.replace(",", ";").replace("|", ",")
    (fault,) = problem(sent_as_file(client, player, content.encode("cp1252")), 422)["errors"]
    assert (fault["field"], fault["value"]) == ("row 2, played_on", "03/04/2026")
    assert fault["message"].endswith("choose one; 1 more like it, the last in row 3")
    seen = sent_as_file(client, player, content.encode("cp1252"), date_format="DD/MM/YYYY").get_json()
    assert seen["taken"] == (
        "CSV, Windows-1252 (not sound UTF-8), semicolons between cells, decimal comma, days DD/MM/YYYY"
    )
    assert [one["played_on"] for one in seen["rounds"]] == ["2026-04-03"]
    as_words = client.post(
        f"/api/players/{player.player_id}/import", json={"table": content, "date_format": "DD/MM/YYYY"}
    ).get_json()
    assert as_words == seen | {"taken": seen["taken"].replace("Windows-1252 (not sound UTF-8)", "UTF-8")}


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"content": "no base64!"}, "content"),
        ({"content": "AAAA", "table": "a"}, "table"),
        ({"content": ""}, "content"),
        ({"content": base64.b64encode(b"x" * (LARGEST_FILE + 1)).decode()}, "content"),
        ({"content": base64.b64encode(b"PK\x03\x04 broken").decode()}, "table"),
        ({"table": "hole,par;shot,lie;club\n"}, "separator"),
        ({"table": "a", "decimal": "dot"}, "decimal"),
        ({"table": "a", "date_format": "YY"}, "date_format"),
        ({"table": "a", "sheet": "rounds"}, "sheet"),
    ],
)
def test_a_file_that_cannot_be_taken_names_what_settles_it(
    client: FlaskClient, player: Season, sent: dict[str, Any], field: str
) -> None:
    (fault,) = problem(client.post(f"/api/players/{player.player_id}/import", json=sent), 422)["errors"]
    assert fault["field"] == field
