"""The predicted round over HTTP: holes without a map by name, an answer that is kept, bad input in one line."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import numpy as np
import pytest
from flask.testing import FlaskClient

from server.game.map_form import HoleForm, map_from_form
from server.records.typed_schemas import schema_of
from server.reports import round_ahead
from server.reports.round_ahead_rows import RoundsCheckedDocument
from tests.api.asking import problem, stored
from tests.records.made import Season, named

FORM = HoleForm(170, 26, 22, ((140, 20),), ())
HOLES = {1: (3, 170.0), 2: (3, 165.0)}


def made_season(rounds: int = 3, *, tapped: bool = True, mapped: bool = True) -> Season:
    """Rounds of two par 3s, of which the first is mapped: an iron at the hole, ten balls of it, and two putts."""
    made = Season(f"Predicted {uuid4()}")
    iron, putter = made.club("7 iron", "iron"), made.club("putter", "putter")
    tees = [{"name": "white", "holes": [{"number": n, "par": par, "length_yd": yd} for n, (par, yd) in HOLES.items()]}]
    course = made.put("course", "course", {"name": "Blottingham Heath", "tees": tees})
    if mapped:
        made.put("hole_map", "map", {"course_id": course, "hole": 1, "features": map_from_form(FORM)})
    rng = np.random.default_rng(0)
    for place in range(rounds):
        day = {"played_on": f"2026-05-{place + 1:02d}"}
        one = made.round(f"round {place}", HOLES, kind="practice", closed=True, course_id=course, tees="white", **day)
        for ball in range(1, 5):
            right, long = (float(x) for x in rng.normal(0, 5, 2).round())
            told = {"swing": "full", "target_yd": 170, "right_yd": right, "long_yd": long} if tapped else {}
            made.shot(one, 1, 1, "tee", 170, iron, ball=ball, end_lie="green", end_distance_yd=8, **told)
        made.shot(one, 1, 2, "green", 8, putter)
        made.shot(one, 1, 3, "green", 1, putter, holed=True)
    return made


def asked(season: Season, what: str = "round-ahead", **more: Any) -> str:
    query = {"course_id": named(f"{season.player_id}|course")} | more
    return f"{what}?" + urlencode(query, doseq=True)


@pytest.fixture(scope="module")
def season() -> Season:
    return made_season()


def test_mapped_holes_are_predicted_and_the_others_named(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    made = client.get(f"{address}/{asked(season)}").get_json()
    assert made["unmapped"] == [2]
    assert [hole["number"] for hole in made["holes"]] == [1]
    assert made["words"].startswith("Over 1 of 2 holes, those with a map: most likely 3; 8 rounds in 10")
    assert "Without a map, and left out: 2." in made["about"]
    (hole,) = made["holes"]
    assert hole["birdie"] + hole["par_chance"] + hole["bogey"] + hole["double"] == pytest.approx(1.0)
    assert sum(row["chance"] for row in made["scores"]) == pytest.approx(1.0, abs=0.01)
    assert made["mean"] == pytest.approx(hole["mean"], abs=1e-6)
    assert made["rounds"] == 3
    assert made["spread"]["whole"] ** 2 == pytest.approx(
        sum(made["spread"][part] ** 2 for part in ("holes", "form", "unknown")), rel=0.3
    )


def test_the_answer_is_kept_while_the_log_stays(
    client: FlaskClient, season: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = stored(client, season)
    first = client.get(f"{address}/{asked(season)}").data
    monkeypatch.setattr(round_ahead, "holes_ahead", None)
    assert client.get(f"{address}/{asked(season)}").data == first


def test_the_pin_and_the_wind_change_the_hole(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    plain, windy, aside = (
        client.get(f"{address}/{asked(season, **more)}").get_json()
        for more in ({}, {"wind_mph": 40, "wind_from_deg": 0}, {"pin": "1:6,176"})
    )
    assert windy["mean"] > plain["mean"] + 0.1
    assert windy["day"]["wind_mph"] == 40
    assert aside["holes"][0]["solved"] != plain["holes"][0]["solved"]


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"tees": "gold"}, "tees", "has no tees 'gold'; there is white"),
        ({"first_hole": 2, "last_hole": 1}, "first_hole", "2 is after the last hole, 1"),
        ({"first_hole": 7}, "first_hole", "7 is after the last hole, 2"),
        ({"first_hole": 2}, "course_id", "none of the holes 2 of Blottingham Heath has a map"),
        ({"pin": "2:0,100"}, "pin", "hole 2 is not one of the holes with a map: 1"),
        ({"pin": "1:900,100"}, "pin", "hole 1: (900, 100) lies beyond the map"),
        ({"pin": "1:0,40"}, "pin", "hole 1: (0, 40) is not on the green"),
        ({"pin": "here"}, "pin", "is not HOLE:X,Y"),
        ({"wind_mph": 500}, "wind_mph", "is outside its range"),
        ({"first_hole": 0}, "first_hole", "is outside its range"),
    ],
)
def test_bad_input_is_one_clear_fault(
    client: FlaskClient, season: Season, wrong: dict[str, Any], field: str, words: str
) -> None:
    address = stored(client, season)
    (fault,) = problem(client.get(f"{address}/{asked(season, **wrong)}"), 422)["errors"]
    assert fault["field"].startswith(field)
    assert words in fault["message"]


def test_without_shots_or_without_any_map_it_says_why(client: FlaskClient) -> None:
    for made, field, words in (
        (made_season(tapped=False), "player", "no club has shots enough to plan with (no finish is tapped yet)"),
        (made_season(0), "player", "no club has shots enough to plan with (no finish is tapped yet)"),
        (made_season(mapped=False), "course_id", "none of the holes 1, 2 of Blottingham Heath has a map"),
    ):
        address = stored(client, made)
        for what in ("round-ahead", "rounds-checked"):
            if what == "rounds-checked" and field == "player":
                continue  # nobody is predicted: see below
            (fault,) = problem(client.get(f"{address}/{asked(made, what)}"), 422)["errors"]
            assert fault["field"] == field
            assert words in fault["message"]
    problem(client.get(f"{address}/round-ahead?course_id={uuid4()}"), 404)


def test_with_few_rounds_the_check_reports_that_nothing_is_clear(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    made = client.get(f"{address}/{asked(season, 'rounds-checked')}").get_json()
    assert (made["count"], made["rounds"], made["skill"], made["coverage"]) == (0, [], None, [])
    assert made["words"] == made["few"]
    assert made["few"].startswith("No round to check by: too few to judge the predictions")


def test_every_round_is_predicted_from_those_before_it_alone(client: FlaskClient) -> None:
    """The forecast of a round is the same whatever was played on that day and after it."""
    long, short = made_season(8), made_season(7)
    documents: list[Any] = []
    for made in (long, short):
        address = stored(client, made)
        documents.append(client.get(f"{address}/{asked(made, 'rounds-checked')}").get_json())
    found = [document["rounds"] for document in documents]
    assert [row["rounds_before"] for row in found[0]] == [5, 6, 7]
    assert [row["rounds_before"] for row in found[1]] == [5, 6]
    assert found[0][0] == found[1][0]
    assert schema_of(RoundsCheckedDocument)().validate(documents[0]) == {}
    assert found[0][0]["score"] == 3
