"""Ratings of tees: what they say beside each other, what is set aside, and what the level makes of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.adjusted_spans import TwoRates, adjusted_difference, is_sure
from server.analysis.evidence.course_ratings import ABSURD, NONE, Ratings, ratings_of
from server.analysis.evidence.level import LASTING, RATED, hardness_of, level_of, stated_level
from server.analysis.evidence.two_spans import AT_RATINGS, compare
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


def test_two_spans_expect_courses_at_their_ratings() -> None:
    """No course in both, and the second span's two are 3 strokes harder, as their ratings say: the difference of the
    whole round is put right by them, those of groups and of a part of the shots are not."""
    draw = np.random.default_rng(5)
    frames = []
    for span, names, effect in (("first", ["North", "South"], 0.0), ("second", ["East", "West"], -3.0)):
        made = rounds_frame(list(effect + draw.normal(0, 1, 20)), names * 10).assign(tees="white")
        frames.append(made.assign(round_id=span + made["round_id"]))
    hardness = {
        (name, "white"): 1.5 if name in ("East", "West") else -1.5 for name in ("North", "South", "East", "West")
    }
    plain = compare(*frames, "club")
    rated = compare(*frames, "club", ratings=Ratings(hardness, []))
    assert plain.total.difference["adjusted"] == pytest.approx(3, abs=1)
    assert rated.total.difference["adjusted"] == pytest.approx(0, abs=1)
    assert rated.courses.endswith(AT_RATINGS)
    assert AT_RATINGS not in plain.courses
    assert rated.rows[0].difference == plain.rows[0].difference
    every = tuple(frame["hole"].gt(0) for frame in frames)
    part = compare(*frames, "club", only=every, ratings=Ratings(hardness, []))  # type: ignore[arg-type]
    assert part.total.difference["adjusted"] == plain.total.difference["adjusted"]
    assert compare(*frames, "club", ratings=NONE).courses == plain.courses


@pytest.mark.simulation
def test_ratings_that_say_nothing_make_no_span_worse() -> None:
    """Two spans on two other courses each, ratings drawn apart from how hard they are: "better" or "worse" in at most
    7 % of pairs."""
    seasons, draw = count(200, 1000), np.random.default_rng(6)
    said = 0
    for _ in range(seasons):
        effects, off = draw.normal(0, 2, 4), draw.normal(0, 2, 4)
        spans = [rates(draw, played, effects)._replace(tees=["white"] * 20) for played in ([0, 1] * 10, [2, 3] * 10)]
        ratings = Ratings({(f"course {code}", "white"): float(one) for code, one in enumerate(off)}, [])
        both = TwoRates(*(one._replace(strokes=one.strokes + hardness_of(one, ratings)) for one in spans))
        said += is_sure(adjusted_difference(both, 0.9)["chance_first_better"])
    print(f"ratings that say nothing: said {said / seasons:.4f}")
    assert said / seasons <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / seasons)
