"""Ratings of tees: what they say beside each other, what is set aside, and what the level makes of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.course_ratings import ABSURD, NONE, Ratings, ratings_of
from server.analysis.evidence.level import LASTING, RATED, level_of, stated_level
from server.analysis.expected_strokes.baseline import load_baseline
from tests.analysis.made_courses import rates, rounds_frame
from tests.tiers import count

TOUR = load_baseline("tour")
LENGTH = 400.0
EXPECTED = 18 * float(TOUR.expected("tee", LENGTH)[0])


def tees(rating: float | None, holes: int = 18, name: str = "white") -> list[dict[str, Any]]:
    return [{"name": name, "rating": rating, "slope": 130, "holes": [{"length_yd": LENGTH}] * holes}]


def test_hardness_is_the_rating_less_what_the_lengths_expect() -> None:
    found = ratings_of({"North": tees(EXPECTED + 1), "South": tees(EXPECTED + 4)}, TOUR)
    assert found.hardness == pytest.approx({("North", "white"): -1.5, ("South", "white"): 1.5}, abs=1e-9)
    assert found.absurd == []


def test_missing_ratings_nine_holes_and_a_single_one_say_nothing() -> None:
    assert ratings_of({"North": tees(None), "South": tees(72.0)}, TOUR) == NONE
    assert ratings_of({"North": tees(36.0, 9), "South": tees(72.0)}, TOUR) == NONE
    assert ratings_of({}, TOUR) == NONE


def test_a_rating_far_from_the_others_is_set_aside_and_named() -> None:
    given = {"North": tees(72.0), "South": tees(73.0), "East": tees(73.0 + ABSURD + 0.6)}
    found = ratings_of(given, TOUR)
    assert found.absurd == ["East, white"]
    assert set(found.hardness) == {("North", "white"), ("South", "white")}
    frame = rounds_frame([-3.0, -1, -4, 0, -2, -5], ["North", "South", "East"] * 2).assign(tees="white")
    said = level_of(frame, ratings=found)
    assert said["ratings_ignored"] == ["East, white"]
    assert "are ignored: East, white." in said["words"]


def test_a_course_is_expected_at_its_rating() -> None:
    """Courses that differ just as their ratings say: no spread is left, the level is that at the ratings' mean."""
    draw = np.random.default_rng(1)
    effects = np.array([-5.0, 0, 1, 4])
    played = [0] * 9 + [1, 2, 3] * 3
    made = rates(draw, played, effects)._replace(tees=["white"] * 18)
    ratings = Ratings({(f"course {code}", "white"): -float(effect) for code, effect in enumerate(effects)}, [])
    plain, rated = stated_level(made, 0), stated_level(made, 0, ratings=ratings)
    assert (plain["lasting"]["about"], rated["lasting"]["about"]) == (LASTING, RATED)
    wide, narrow = (one["lasting"]["high"] - one["lasting"]["low"] for one in (plain, rated))  # type: ignore[operator]
    assert narrow < 0.7 * wide
    assert abs(rated["lasting"]["mean"] or 9) < 2
    assert rated["season"] == plain["season"]
    assert [row["course"] for row in rated["courses"]] == [f"course {code}" for code in range(4)]
    assert [row["effect"] for row in rated["courses"]] == pytest.approx(list(effects), abs=1.5)
    assert "expected at their ratings" in rated["words"]
    other = made._replace(tees=["blue"] * 18)
    assert stated_level(other, 0, ratings=ratings)["lasting"]["about"] == LASTING


@pytest.mark.simulation
def test_ratings_that_say_nothing_do_no_harm() -> None:
    """Four courses of SD 2 with ratings drawn apart from them, SD 2: at least 87 % held, three Monte-Carlo errors."""
    seasons, draw = count(200, 1000), np.random.default_rng(2)
    held = 0
    for _ in range(seasons):
        made = rates(draw, [0, 1, 2, 3] * 5, draw.normal(0, 2, 4))._replace(tees=["white"] * 20)
        off = draw.normal(0, 2, 4)
        ratings = Ratings({(f"course {code}", "white"): float(one) for code, one in enumerate(off)}, [])
        said = stated_level(made, 0, ratings=ratings)["lasting"]
        assert said["low"] is not None
        assert said["high"] is not None
        held += int(said["low"] <= 0 <= said["high"])
    assert held / seasons >= 0.87 - 3 * np.sqrt(0.09 / seasons)
