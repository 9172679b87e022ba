"""Of late on a harder course: what courses may add is taken off and widens the interval."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from server.analysis.evidence.course_allowance import COURSE_SD, Allowance, allowance
from server.analysis.evidence.recent import recent_trend, weights_of_halves
from server.analysis.evidence.round_lengths import round_lengths
from tests.tiers import count

HOLES = np.full(12, 18.0)


def season(strokes: np.ndarray, courses: list[str]) -> pd.DataFrame:
    """Rounds of eighteen holes that gain these strokes, on these courses, a week apart."""
    rounds = strokes.size
    return pd.DataFrame(
        {
            "round_id": np.repeat([f"r{place:02}" for place in range(rounds)], 18),
            "hole": np.tile(np.arange(1, 19), rounds),
            "ball": 1,
            "strokes_gained": np.repeat(strokes / 18, 18),
            "course": np.repeat(courses, 18),
            "played_on": np.repeat(pd.Timestamp("2026-03-01") + pd.to_timedelta(7 * np.arange(rounds), "D"), 18),
        }
    )


def between(strokes: np.ndarray, courses: list[str]) -> Allowance:
    valued = season(strokes, courses)
    return allowance(valued, round_lengths(valued), strokes, weights_of_halves(np.full(strokes.size, 18.0)))


def test_weights_are_later_less_earlier_by_length() -> None:
    assert weights_of_halves(np.array([18.0, 18.0, 9.0, 18.0, 9.0])) == pytest.approx([-0.4, -0.4, -0.2, 2 / 3, 1 / 3])


def test_one_course_and_equal_shares_add_nothing() -> None:
    strokes = np.random.default_rng(1).normal(0, 3, 12)
    assert between(strokes, ["North"] * 12)[:2] == pytest.approx((0.0, 0.0))
    assert between(strokes, ["North", "South"] * 6)[:2] == pytest.approx((0.0, 0.0))


def test_a_course_of_late_alone_widens_the_interval_by_hand() -> None:
    """All later rounds on one course, all earlier on another: their spread counts twice."""
    strokes = np.random.default_rng(2).normal(0, 3, 12)
    found = between(strokes, ["North"] * 6 + ["South"] * 6)
    assert found.sd > COURSE_SD
    plain, wide = recent_trend(strokes, HOLES), recent_trend(strokes, HOLES, courses=found)
    for one in (plain, wide):
        assert one["low"] is not None
        assert one["high"] is not None
    reach = np.hypot((plain["high"] - plain["low"]) / 2, norm.ppf(0.95) * found.sd)
    assert wide["high"] - wide["low"] == pytest.approx(2 * reach)
    assert wide["difference"] == pytest.approx(plain["difference"] - found.mean)
    assert (wide["later"], wide["earlier"]) == (plain["later"], plain["earlier"])


@pytest.mark.simulation
def test_a_harder_course_of_late_is_seldom_called_worse() -> None:
    """The same player; four of the six later rounds on a course 3 strokes harder, two of the earlier ones: as played
    most seasons differ by chance and course, with courses allowed for at most one in ten is called."""
    draw = np.random.default_rng(3)
    seasons = count(60, 1000)
    courses = [
        "North",
        "North",
        "South",
        "North",
        "South",
        "North",
        "South",
        "South",
        "North",
        "South",
        "South",
        "North",
    ]
    called = plain = 0
    for _ in range(seasons):
        strokes = draw.normal(0, 3, 12) - 3.0 * (np.array(courses) == "South")
        plain += recent_trend(strokes, HOLES)["words"] != "no clear change"
        called += recent_trend(strokes, HOLES, courses=between(strokes, courses))["words"] != "no clear change"
    print(f"called {100 * called / seasons:.1f} %, as played {100 * plain / seasons:.1f} % of {seasons}")
    assert called / seasons <= 0.10 + 3 * np.sqrt(0.09 / seasons)
    assert called <= plain
