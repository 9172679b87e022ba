"""Rounds as the API tells them: closed and opened again, nine holes, a par or a length that was mended."""

from __future__ import annotations

import csv
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient

from tests.api.asking import post, stored
from tests.records.made import Season, change, default_clubs, named, par_four

EXACT = 1e-9
"""The accuracy that every value of this tool promises."""

FIRST, AGAIN, LAST = "2026-05-01T14:02:00.000Z", "2026-05-01T14:30:00.000Z", "2026-05-01T15:00:00.000Z"
CLOSINGS = [{"closed_at": FIRST, "reopened_at": AGAIN}, {"closed_at": LAST, "reopened_at": None}]


def told(client: FlaskClient, address: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """The only round of a player: in the list, and its scorecard."""
    (listed,) = client.get(f"{address}/rounds").get_json()["rounds"]
    return listed, client.get(f"{address}/rounds/{listed['round_id']}/scorecard").get_json()


def played(kind: str, **fields: Any) -> Season:
    made = Season(f"Closed {uuid4()}")
    par_four(made, made.round("one", kind=kind, **fields), default_clubs(made))
    return made


def test_a_competition_round_that_was_opened_again_says_that_evidence_was_open(client: FlaskClient) -> None:
    address = stored(client, played("competition", closed=True, closings=CLOSINGS))
    for document in told(client, address):
        assert document["closings"] == CLOSINGS
        assert document["opened_again"]["between"] == [{"from": FIRST, "to": AGAIN}]
        assert "evidence and plans could be seen in between" in document["opened_again"]["words"]
        assert "rule 4.3a" in document["opened_again"]["words"]


def test_it_says_so_while_it_is_open_too(client: FlaskClient) -> None:
    address = stored(client, played("competition", closings=CLOSINGS[:1]))
    listed, card = told(client, address)
    assert listed["opened_again"] == card["opened_again"]
    assert card["opened_again"]["between"] == [{"from": FIRST, "to": AGAIN}]
    assert card["locked"]


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("competition", {"closed": True, "closings": CLOSINGS[1:]}),
        ("competition", {"closed": True}),
        ("competition", {"closed": True, "closings": None}),
        ("practice", {"closed": True, "closings": CLOSINGS}),
    ],
)
def test_other_rounds_say_nothing_of_it(client: FlaskClient, kind: str, fields: dict[str, Any]) -> None:
    address = stored(client, played(kind, **fields))
    for document in told(client, address):
        assert document["opened_again"] is None
        assert document["closings"] == (fields.get("closings") or [])


def test_a_closing_with_a_wrong_clock_is_kept_and_one_that_is_no_time_is_set_aside(client: FlaskClient) -> None:
    clock = [{"closed_at": "+012026-05-01T14:02:00.000Z", "reopened_at": "1970-01-01T00:00:00.000Z"}]
    address = stored(client, played("practice", closings=clock))
    assert told(client, address)[0]["closings"] == clock
    bad = played("practice", closings=[{"closed_at": "half past two"}])
    post(client, bad.player_id, bad.changes)
    (aside,) = client.get(f"/api/players/{bad.player_id}/quarantine").get_json()["quarantine"]
    (fault,) = aside["errors"]
    assert (fault["field"], fault["value"]) == ("closings.0.closed_at", "half past two")
    assert (fault["message"], fault["range"][:8]) == ("is not a time", "ISO 8601")


def nine(meant: int | None, **fields: Any) -> Season:
    """Nine of eighteen holes, a par 4 each, in four strokes each."""
    made = Season(f"Nine {uuid4()}")
    clubs = default_clubs(made)
    holes = dict.fromkeys(range(1, 19), (4, 400.0))
    one = made.round("one", holes, closed=True, holes_meant=meant, **fields)
    for hole in range(1, 10):
        par_four(made, one, clubs, hole)
    return made


@pytest.mark.parametrize(("meant", "total"), [(9, (36, 36, True)), (None, (72, None, False)), (10, (72, None, False))])
def test_nine_holes_that_were_meant_have_a_score(client: FlaskClient, meant: int | None, total: Any) -> None:
    made = nine(meant, stopped=meant is None)
    address = stored(client, made)
    listed, card = told(client, address)
    assert (
        (listed["holes_meant"], listed["stopped"]) == (meant, meant is None) == (card["holes_meant"], card["stopped"])
    )
    found = card["total"]
    assert (found["par"], found["score"], found["complete"]) == total
    assert (found["score_of_complete_holes"], found["to_par"], found["holes_complete"]) == (36, 0, 9)
    table = client.get(f"/api/season/2026/rounds.csv?player={made.player_id}").get_data(as_text=True)
    (row,) = csv.DictReader(StringIO(table.removeprefix("\ufeff")))
    assert (row["par"], row["score"]) == (str(total[0]), "" if total[1] is None else str(total[1]))


@pytest.mark.parametrize("closed", [True, False])
def test_what_rests_on_par_and_length_follows_when_they_are_mended(client: FlaskClient, closed: bool) -> None:
    """The hole was a par 3 of 380 yd all the time: one change of the round, one of its tee shot."""
    made = played("practice", closed=closed)
    address = stored(client, made)
    round_id = named(f"{made.player_id}|one")

    def gained(by: str) -> dict[str, float]:
        rows = client.get(f"{address}/strokes-gained?by={by}").get_json()["rows"]
        return {row[by]: row["strokes_gained"] for row in rows}

    before = gained("category")
    assert before["off_the_tee"] == pytest.approx(3.99 - 2.945 - 1, abs=EXACT)
    assert told(client, address)[1]["total"]["to_par"] == 0
    one = next(said for said in made.changes if said["kind"] == "round")
    body = one["body"] | {"holes": [{"number": 1, "par": 3, "length_yd": 380}]}
    tee = next(said for said in made.changes if said["kind"] == "shot" and said["body"]["order"] == 1)
    mended = [
        change("round", body, round_id, parents=[one["change_id"]]),
        change("shot", tee["body"] | {"distance_yd": 380}, tee["record_id"], parents=[tee["change_id"]]),
    ]
    post(client, made.player_id, mended[:1])
    after = gained("category")
    assert "off_the_tee" not in after
    assert after["approach"] == pytest.approx(before["off_the_tee"] + before["approach"], abs=EXACT)
    post(client, made.player_id, mended[1:])
    # the tour table: tee 380 yd 3.96
    assert gained("category")["approach"] == pytest.approx(3.96 - 1.834 - 2, abs=EXACT)
    card = told(client, address)[1]
    assert (card["total"]["par"], card["total"]["to_par"], card["holes"][0]["length_yd"]) == (3, 1, 380)
    assert card["total"]["strokes_gained"] == pytest.approx(3.96 - 4, abs=EXACT)
