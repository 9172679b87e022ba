"""The bag for a course over HTTP: what is compared and what is not, an answer in parts and one that is kept, bad input
in one line."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import numpy as np
import pytest
from flask.testing import FlaskClient

from server.game.map_form import HoleForm, map_from_form
from server.reports import course_bag
from server.reports.course_bag import left_at_home
from server.reports.course_bag_rows import BagFigure, SwappedFor
from tests.api.asking import problem, stored
from tests.records.made import Season, named

FORM = HoleForm(170, 26, 22, ((140, 20),), ())
HOLES = {1: (3, 170.0), 2: (3, 165.0)}
CLUBS = {"6 iron": 178, "7 iron": 168, "8 iron": 156, "old iron": 160, "new iron": 166}
"""Club -> yards; the old one is retired, the new one has four shots."""


def made_season(*, tapped: bool = True, mapped: bool = True) -> Season:
    """Two rounds of two par 3s, of which the first is mapped: five irons at the hole and two putts."""
    made = Season(f"Bags {uuid4()}")
    retired = {"old iron": {"retired_on": "2026-06-01"}}
    clubs = {label: made.club(label, "iron", **retired.get(label, {})) for label in CLUBS}
    putter = made.club("putter", "putter")
    tees = [{"name": "white", "holes": [{"number": n, "par": par, "length_yd": yd} for n, (par, yd) in HOLES.items()]}]
    course = made.put("course", "course", {"name": "Blottingham Heath", "tees": tees})
    if mapped:
        made.put("hole_map", "map", {"course_id": course, "hole": 1, "features": map_from_form(FORM)})
    rng = np.random.default_rng(0)
    for place in range(2):
        day = {"played_on": f"2026-05-{place + 1:02d}"}
        one = made.round(f"round {place}", HOLES, kind="practice", closed=True, course_id=course, tees="white", **day)
        ball = 0
        for label, yards in CLUBS.items():
            for _ in range(2 if label == "new iron" else 4):
                ball += 1
                right, long = (float(x) for x in rng.normal(0, 6, 2).round())
                told = {"swing": "full", "target_yd": yards, "right_yd": right, "long_yd": long} if tapped else {}
                made.shot(one, 1, 1, "tee", 170, clubs[label], ball=ball, end_lie="green", end_distance_yd=8, **told)
        made.shot(one, 1, 2, "green", 8, putter)
        made.shot(one, 1, 3, "green", 1, putter, holed=True)
    return made


def asked(season: Season, **more: Any) -> str:
    return "course-bag?" + urlencode({"course_id": named(f"{season.player_id}|course")} | more, doseq=True)


@pytest.fixture(scope="module")
def season() -> Season:
    return made_season()


def test_clubs_with_shots_enough_are_compared_on_mapped_holes(client: FlaskClient, season: Season) -> None:
    made = client.get(f"{stored(client, season)}/{asked(season)}").get_json()
    assert [hole["number"] for hole in made["holes"]] == [1]
    assert made["unmapped"] == [2]
    assert {club["club"] for club in made["clubs"]} == {"6 iron", "7 iron", "8 iron"}
    assert all(club["carried"] for club in made["clubs"])
    assert {entry["name"]: entry["reason"] for entry in made["left_out"]} == {
        "old iron": "retired: not carried any more",
        "new iron": "4 tapped full swings; at least 5 are needed",
    }
    assert made["words"][0].startswith("With 3 clubs beside the putter there is room for all of them; over the one")
    assert made["putting"]["saves"] is None
    assert made["putting"]["words"].startswith("Too few rounds for your own putting")
    used = [club for club in made["clubs"] if club["shots"] > 0]
    assert sum(club["share"] for club in used) == pytest.approx(1.0)
    assert all(club["worth"]["low"] <= club["worth"]["high"] for club in made["clubs"])
    assert made["wedge"]["instead"] is None


def test_the_answer_comes_in_parts_and_is_kept_while_the_log_stays(
    client: FlaskClient, season: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = f"{stored(client, season)}/{asked(season, longer_yd=6)}"
    parts = client.get(address, headers={"Accept": "application/json-seq"}).get_data(as_text=True)
    records = [json.loads(part) for part in parts.split("\x1e") if part]
    shares = [record["done"] for record in records[:-1]]
    assert shares == sorted(shares)
    assert shares[-1] <= 1
    monkeypatch.setattr(course_bag, "course_bag", None)
    assert client.get(address).get_json() == records[-1]["answer"]


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"tees": "gold"}, "tees", "has no tees 'gold'; there is white"),
        ({"hole": 2}, "hole", "hole 2 of Blottingham Heath has no map; mapped holes: 1"),
        ({"hole": 0}, "hole", "is outside its range"),
        ({"longer_yd": 0}, "longer_yd", "is outside its range"),
        ({"longer_yd": 31}, "longer_yd", "is outside its range"),
        ({"longer_yd": "far"}, "longer_yd", "is not a number"),
    ],
)
def test_bad_input_is_one_clear_fault(
    client: FlaskClient, season: Season, wrong: dict[str, Any], field: str, words: str
) -> None:
    (fault,) = problem(client.get(f"{stored(client, season)}/{asked(season, **wrong)}"), 422)["errors"]
    assert fault["field"].startswith(field)
    assert words in fault["message"]


def test_without_shots_or_without_any_map_it_says_why(client: FlaskClient) -> None:
    for made, field, words in (
        (made_season(tapped=False), "clubs", "no club has shots enough to compare with"),
        (made_season(mapped=False), "course_id", "none of the holes of Blottingham Heath has a map"),
    ):
        address = stored(client, made)
        (fault,) = problem(client.get(f"{address}/{asked(made)}"), 422)["errors"]
        assert fault["field"] == field
        assert words in fault["message"]
    problem(client.get(f"{address}/course-bag?course_id={uuid4()}"), 404)


@pytest.mark.parametrize(
    ("names", "clear", "words"),
    [
        (["4 iron"], True, "On 18 holes, leave the 4 iron at home. To carry the 4 iron in place of the 5 iron"),
        (["4 iron"], False, "On 18 holes, leave the 4 iron or the 5 iron at home. To carry the 4 iron in place"),
        (["4 iron", "3 wood"], False, "On 18 holes, the best bag is without the 4 iron and 3 wood. To carry the 4"),
    ],
)
def test_no_club_is_sent_home_against_one_that_makes_no_real_difference(
    names: list[str], clear: bool, words: str
) -> None:
    costs = BagFigure(strokes=0.2, low=-0.1, high=0.3, chance=0.9, clear=clear, verdict="as it is")
    said = left_at_home("On 18 holes", names, SwappedFor(club="5 iron", costs=costs))
    assert said.startswith(words)
    assert said.endswith("would cost 0.20 strokes a round (-0.10 to +0.30): as it is.")
