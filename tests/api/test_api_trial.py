"""The trial by HTTP: its document, the competition lock, bad input as problem documents; the level of intervals."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient

from tests.api.asking import problem, stored
from tests.records.made import Season, default_clubs

VALUES = (140.0, 190.0, 150.0, 160.0)
"""Yards left after a drive of 400 yd, in turn."""


def two_clubs(client: FlaskClient, name: str, **last_round: Any) -> str:
    """Six rounds of nine holes: two drives, two with a 3 wood that ends 20 yd shorter, five with an iron; the player's
    address."""
    season = Season(f"{name} {uuid4()}")
    clubs = default_clubs(season) | {"3 wood": season.club("3 wood", "wood")}
    season.put("setup", "new shaft", {"club_id": clubs["driver"], "since": "2026-05-04", "note": "new shaft"})
    for number in range(6):
        fields = last_round if number == 5 else {}
        holes = dict.fromkeys(range(1, 10), (4, 400.0))
        round_id = season.round(f"r{number}", holes, played_on=f"2026-05-0{number + 1}", **fields)
        for hole in range(1, 5):
            club, more = ("driver", 0.0) if hole < 3 else ("3 wood", 20.0)
            left = VALUES[(number + hole) % 4] + more
            season.shot(round_id, hole, 1, "tee", 400, clubs[club], end_lie="fairway", end_distance_yd=left)
        for hole in range(5, 10):
            season.shot(
                round_id,
                hole,
                1,
                "tee",
                400,
                clubs["8 iron"],
                end_lie="fairway",
                end_distance_yd=VALUES[(number + hole) % 4] + 60,
            )
    return stored(client, season)


def test_a_trial_by_hand(client: FlaskClient) -> None:
    address = two_clubs(client, "Trial")
    found = client.get(f"{address}/trial?a=driver&b=3 wood").get_json()
    assert (found["a"]["shots"], found["b"]["shots"], found["rounds"]) == (12, 12, 6)
    (place,) = found["places"]
    assert (place["lie"], place["distance"], place["weight"]) == ("tee", "over 300 to 400 yd", 1)
    assert found["difference"]["per_shot"] == pytest.approx(place["mean_a"] - place["mean_b"])
    assert found["design"]["code"] == "chosen"
    assert found["difference"]["shots_a_round"] == pytest.approx(8)
    assert found["difference"]["per_shot"] > 0
    assert (found["level"], found["minimum_effect"]) == (0.9, 0.3)
    assert found["verdict"]["words"].endswith(".")
    same = client.get(f"{address}/trial?a=3 wood&b=driver").get_json()
    assert same["difference"]["per_shot"] == pytest.approx(-found["difference"]["per_shot"])
    assert same["verdict"]["words"] == found["verdict"]["words"]


def test_days_setups_level_and_minimum_effect(client: FlaskClient) -> None:
    address = two_clubs(client, "Setups")
    found = client.get(
        f"{address}/trial?a=driver@2026-05-04&b=driver@as it was&level=0.8&minimum_effect=0.5"
    ).get_json()
    assert (found["a"]["name"], found["b"]["name"]) == ("driver since 2026-05-04", "driver as it was")
    assert (found["a"]["shots"], found["b"]["shots"]) == (6, 6)
    assert (found["level"], found["minimum_effect"]) == (0.8, 0.5)
    assert client.get(f"{address}/trial?a=driver&b=3 wood&from=2026-05-02&to=2026-05-03").get_json()["rounds"] == 2
    nothing = client.get(f"{address}/trial?a=driver&b=3 wood&from=2030-01-01").get_json()
    assert nothing["verdict"] == {
        "code": "cannot_tell",
        "side": None,
        "words": "Not clear yet: there are no shots in these days.",
        "settled": False,
    }
    assert (nothing["difference"], nothing["shots_missing"], nothing["places"]) == (None, None, [])


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("a=driver&b=driver", "b: driver 'driver' and 'driver' have the same shots"),
        ("a=driver&b=driver@2026-05-04", "have the same shots"),
        ("a=moon&b=driver", "a: moon 'moon' is not one of the player's clubs: 3 wood, 8 iron, driver, putter"),
        ("a=driver@2026-01-01&b=3 wood", "driver has no setup that began on '2026-01-01'; it has 2026-05-04"),
        ("a=driver", "b"),
        ("a=&b=driver", "a"),
        ("a=driver&b=3 wood&minimum_effect=0", "minimum_effect: 0"),
        ("a=driver&b=3 wood&minimum_effect=nan", "minimum_effect"),
        ("a=driver&b=3 wood&level=1", "level: 1"),
        ("a=driver&b=3 wood&from=yesterday", "from"),
        ("a=driver&b=3 wood&from=2026-06-01&to=2026-05-01", "from: 2026-06-01 is after to: 2026-05-01"),
        ("a=driver&b=3 wood&moon=1", "moon"),
    ],
)
def test_bad_input_is_a_problem_document(client: FlaskClient, query: str, words: str) -> None:
    address = two_clubs(client, "Bad")
    assert words in problem(client.get(f"{address}/trial?{query}"), 422)["detail"]


def test_players_and_baselines_that_are_not_there(client: FlaskClient) -> None:
    problem(client.get(f"/api/players/{uuid4()}/trial?a=driver&b=3 wood"), 404)
    address = two_clubs(client, "Nobody")
    problem(client.get(f"{address}/trial?a=driver&b=3 wood&baseline=moon"), 404)


def test_a_competition_round_that_is_open_locks_the_trial(client: FlaskClient) -> None:
    address = two_clubs(client, "Open", kind="competition")
    assert "rule 4.3a" in problem(client.get(f"{address}/trial?a=driver&b=3 wood"), 423)["detail"]
    closed = two_clubs(client, "Closed", kind="competition", closed=True)
    assert client.get(f"{closed}/trial?a=driver&b=3 wood").status_code == 200


def test_the_level_of_a_summarys_intervals(client: FlaskClient) -> None:
    address = two_clubs(client, "Level")
    usual = client.get(f"{address}/strokes-gained").get_json()
    assert usual["level"] == 0.9
    assert usual == client.get(f"{address}/strokes-gained?level=0.9").get_json()
    wide = client.get(f"{address}/strokes-gained?level=0.95").get_json()
    for narrow_row, wide_row in zip(usual["rows"], wide["rows"], strict=True):
        assert wide_row["per_shot_low"] < narrow_row["per_shot_low"] < narrow_row["per_shot"]
        assert narrow_row["per_shot"] < narrow_row["per_shot_high"] < wide_row["per_shot_high"]
    for level in ("0.4", "1", "nan", "many"):
        assert "level" in problem(client.get(f"{address}/strokes-gained?level={level}"), 422)["detail"]
