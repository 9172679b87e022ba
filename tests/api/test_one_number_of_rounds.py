"""Every view tells one number of rounds, those of nine holes or more with a value, and how many are too short."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server.analysis.strokes_gained.summaries import GROUPINGS
from tests.api.asking import stored
from tests.records.made import Season, default_clubs, par_four

EXACT = 1e-9
ROUNDS, SHORT = 6, 4


def season(short: int) -> Season:
    """Rounds of 18 and of nine holes by turns, and `short` rounds that were left after a hole in three."""
    made = Season(f"Rounds {uuid4()}")
    clubs = default_clubs(made)
    for number in range(1, ROUNDS + 1):
        holes = dict.fromkeys(range(1, 19 if number % 2 else 10), (4, 400.0))
        one = made.round(f"round {number}", holes, played_on=f"2026-05-{number:02}", kind="practice", closed=True)
        for hole in holes:
            par_four(made, one, clubs, hole)
            if hole % 5 == number % 5:
                made.shot(one, hole, 1, "tee", 400, clubs["driver"], ball=2, end_lie="rough", end_distance_yd=190)
    for number in range(1, short + 1):
        one = made.round(f"short {number}", played_on=f"2026-06-{number:02}", kind="practice", closed=True)
        made.shot(one, 1, 1, "tee", 400, clubs["driver"])
        made.shot(one, 1, 2, "fairway", 150, clubs["8 iron"])
        made.shot(one, 1, 3, "green", 6, clubs["putter"], holed=True)
    return made


def read(client: FlaskClient, address: str) -> Any:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return answer.get_json()


def counts(client: FlaskClient, address: str) -> dict[str, tuple[int, int]]:
    """(rounds, short rounds) by where they are told."""
    groups = {by: read(client, f"{address}/strokes-gained?by={by}")["total"] for by in GROUPINGS}
    found: dict[str, dict[str, Any]] = {f"by {by}": total for by, total in groups.items()}
    found |= {f"{by}, all balls": read(client, f"{address}/strokes-gained?balls=all&by={by}")["total"] for by in groups}
    found["one lie"] = read(client, f"{address}/strokes-gained?by=lie&lie=sand")["total"]
    found["one setup"] = read(client, f"{address}/strokes-gained?setup=driver")["total"]
    scores = read(client, f"{address}/scores")
    found["scores"] = {"rounds": len(scores["rounds"]), "short_rounds": scores["short_rounds"]}
    listed = read(client, "/api/squad")["players"]
    found["squad"] = next(one for one in listed if address.endswith(one["player_id"]))
    found["priorities"] = read(client, f"{address}/priorities")
    found["trial"] = read(client, f"{address}/trial?a=driver&b=8+iron")
    compared = read(client, f"{address}/compared?from=2026-05-01&beside_from=2026-05-01&by=club")
    found |= {"first span": compared["first"], "second span": compared["second"]}
    found["putting"] = read(client, f"{address}/putting")["gained"]["total"]
    return {where: (one["rounds"], one["short_rounds"]) for where, one in found.items()}


def test_every_view_tells_one_number_of_rounds(client: FlaskClient) -> None:
    found = counts(client, stored(client, season(SHORT)))
    assert len(found) > 20
    assert set(found.values()) == {(ROUNDS, SHORT)}, found


def test_abandoned_holes_change_no_figure_a_round(client: FlaskClient) -> None:
    """Every hole is the par 4 that gains 3.99 - 4; the holes in three would lift the season to a gain."""
    addresses = [stored(client, season(short)) for short in (0, SHORT)]
    for by in ("category", "club"):
        before, after = (read(client, f"{address}/strokes-gained?by={by}")["total"] for address in addresses)
        assert before["per_round"] == pytest.approx(18 * (3.99 - 4), abs=EXACT)
        for name in ("per_round", "per_round_low", "per_round_high", "of_rounds", "holes"):
            assert after[name] == before[name]
        assert after["strokes_gained"] > before["strokes_gained"] + 3.9
    address = addresses[1]
    trend = next(one for one in read(client, "/api/squad")["players"] if address.endswith(one["player_id"]))
    assert trend["trend"]["mean"] == pytest.approx(18 * (3.99 - 4), abs=EXACT)
    assert [one["holes"] for one in trend["recent"]] == [18, 9, 18, 9, 18, 9]
    rows = read(client, f"{address}/strokes-gained?by=round")["rows"]
    assert sorted(row["of_rounds"] for row in rows) == [0] * SHORT + [1] * ROUNDS
    assert {row["per_round"] for row in rows if not row["of_rounds"]} == {None}


VIEWS = [
    *("strokes-gained?", "scores?", "trial?a=driver&b=8+iron&", "putting?"),
    *("part-swings?", "priorities?", "patterns?", "distances?"),
]


@pytest.fixture(scope="module")
def address(app: Flask) -> str:
    """Of a player with a season that is only read."""
    return stored(app.test_client(), season(1))


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize(
    ("days", "words"),
    [
        ("from=2031-01-01&to=2031-02-01", ", from 2031-01-01 to 2031-02-01."),
        ("from=2031-01-01", ", from 2031-01-01 on."),
        ("to=2001-01-01", ", up to 2001-01-01."),
    ],
)
def test_an_empty_span_of_days_says_so(client: FlaskClient, address: str, view: str, days: str, words: str) -> None:
    assert read(client, f"{address}/{view}{days}")["empty"] == f"There is no shot in the rounds asked for{words}"
    assert read(client, f"{address}/{view.rstrip('?&')}")["empty"] is None


def test_an_empty_second_span_says_so(client: FlaskClient, address: str) -> None:
    found = read(client, f"{address}/compared?from=2026-05-01&beside_from=2031-01-01")
    assert (found["first"]["empty"], found["second"]["rounds"]) == (None, 0)
    assert found["words"] == found["second"]["empty"] == "There is no shot in the rounds asked for, from 2031-01-01 on."
