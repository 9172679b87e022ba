"""Practice beside the course: where both sources differ, answers made of both hold the course's truth at least as often
as they say, and are never narrower than the course's own."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.patterns.spread import Figure, mean_figure, session_median
from server.analysis.practice.balls import practice_putts, putts_worth
from server.analysis.practice.of_course import pooled_medians
from server.analysis.practice.pooling import LEAST_OTHERS, LOG, LOGIT, PLAIN, difference, estimate, pooled, shift_of
from server.analysis.putting.make_rates import TOUR_PRIOR, make_rate
from server.analysis.putting.player_curve import curve_of, practice_prior
from tests import tiers

Rng = np.random.Generator
TIMES = 10 if tiers.LONG else 1


def told(value: float, half: float, n: int = 30) -> Figure:
    """A figure with its interval."""
    return Figure(value, value - half, value + half, n)


def test_the_courses_own_figure_always_shows() -> None:
    own = told(150.0, 4.0)
    assert pooled(own, told(140.0, 1.0), [-10.0] * 8) is own
    nothing = Figure(150.0, None, None, 3)
    assert pooled(nothing, Figure(140.0, None, None, 2), [0.0] * 8) is nothing


def test_a_figure_by_hand() -> None:
    """Five shifts of -12, -11, -10, -9, -8: mean -10, standard deviation sqrt(2.5); t of 4 degrees at 95 % 2.1318."""
    found = pooled(Figure(None, None, None, 0), told(140.0, 1.6448536), [-12.0, -11.0, -10.0, -9.0, -8.0])
    half = (1.6448536**2 + 2.1318468**2 * 2.5 * 1.2) ** 0.5
    assert (found.value, found.low, found.high) == pytest.approx((150.0, 150 - half, 150 + half))


def test_too_few_other_clubs_tell_nothing() -> None:
    nothing = Figure(None, None, None, 0)
    assert pooled(nothing, told(140.0, 1.0), [-10.0] * (LEAST_OTHERS - 1)) is nothing
    assert pooled(nothing, told(140.0, 1.0), [-10.0, -9.0, -8.0, -7.0]).low is not None


def test_shares_at_their_edges_and_spreads_near_nothing_stay_in_their_scales() -> None:
    for scale, value, low, high in ((LOGIT, 0.0, 0.0, 0.1), (LOGIT, 1.0, 0.9, 1.0), (LOG, 1e-12, 0.0, 0.5)):
        found = pooled(Figure(None, None, None, 0), Figure(value, low, high, 20), [0.1, 0.0, -0.1, 0.05], scale)
        assert found.low is not None
        assert found.high is not None
        assert found.value is not None
        assert found.low <= found.value <= found.high
    assert estimate(Figure(3.0, 3.0, 3.0, 9)) is None


def test_a_difference_adds_half_widths_as_squares() -> None:
    found = difference(told(140.0, 3.0), told(150.0, 4.0))
    assert (found.value, found.low, found.high) == pytest.approx((-10.0, -15.0, -5.0))
    assert difference(told(140.0, 3.0), Figure(150.0, None, None, 2)) == Figure(-10.0, None, None, 32)
    assert difference(Figure(None, None, None, 0), told(1.0, 1.0)).value is None


# clubs, mean shift and spread of shifts: in shares of the length
FAMILIES = [(6, 0.0, 0.0), (7, -0.08, 0.02), (9, -0.03, 0.06)]


@pytest.mark.parametrize(("clubs", "mean", "spread"), tiers.some(FAMILIES, 2))
def test_medians_of_both_hold_the_courses_truth_where_both_differ(clubs: int, mean: float, spread: float) -> None:
    """Of each bag the last club was never hit on the course. Its interval holds where it would go there; the others
    have the course's own."""
    rng = np.random.default_rng(20260 + clubs)
    runs = 100 * TIMES
    held = 0
    for _ in range(runs):
        lengths = np.linspace(230, 110, clubs)
        shifted = lengths * np.exp(mean + spread * rng.normal(size=clubs))
        course = {str(club): _course(rng, lengths[club]) for club in range(clubs - 1)}
        practice = {str(club): _practised(rng, shifted[club]) for club in range(clubs)}
        found = pooled_medians(course, practice)
        assert all(found[club] is course[club] for club in course if course[club].low is not None)
        last = found[str(clubs - 1)]
        assert last.low is not None
        assert last.high is not None
        held += last.low <= lengths[-1] <= last.high
    assert held / runs >= 0.9 - 2 * (0.09 / runs) ** 0.5


def _course(rng: Rng, length: float) -> Figure:
    """The mean length of 24 shots in 8 rounds."""
    days = np.repeat(rng.normal(0, 0.02, 8), 3)
    return mean_figure(length * (1 + days + rng.normal(0, 0.06, 24)), np.repeat(np.arange(8), 3))


def _practised(rng: Rng, length: float) -> Figure:
    """The same of 60 balls in 6 sessions."""
    days = np.repeat(rng.normal(0, 0.02, 6), 10)
    return mean_figure(length * (1 + days + rng.normal(0, 0.05, 60)), np.repeat(np.arange(6), 10))


@pytest.mark.parametrize("between", tiers.some([0.0, 3.0], 1))
def test_a_median_of_practice_holds_the_truth_whatever_the_days_do(between: float) -> None:
    rng = np.random.default_rng(7)
    runs = 200 * TIMES
    held = told_ = 0
    for _ in range(runs):
        values = 150 + np.repeat(rng.normal(0, between, 8), 12) + rng.normal(0, 8, 96)
        found = session_median(values, np.repeat(np.arange(8), 12))
        if found.low is not None and found.high is not None:
            told_ += 1
            held += found.low <= 150 <= found.high
    assert told_ == runs
    assert held / told_ >= 0.9 - 2 * (0.09 / told_) ** 0.5


def test_a_median_of_practice_without_enough_sessions_has_no_interval() -> None:
    assert session_median([150.0] * 50, ["one"] * 50) == Figure(150.0, None, None, 50)
    assert session_median(np.arange(140.0, 160.0), ["one", "two"] * 10).low is None  # t of one degree reaches too far
    assert session_median([np.nan], ["one"]) == Figure(None, None, None, 0)


def putts(rng: Rng, angle: float, distance: float, sessions: int, each: int, between: float = 0.0) -> pd.DataFrame:
    """Practice putts from 4, 8, 12 and 20 ft; `between`: how far the logits of sessions differ."""
    feet = np.tile(np.repeat([4.0, 8.0, 12.0, 20.0], each // 4), sessions)
    rate = make_rate(feet, angle, distance)
    moved = np.repeat(rng.normal(0, between, sessions), each)
    chance = 1 / (1 + np.exp(-(np.log(rate / (1 - rate)) + moved)))
    rows: dict[str, Any] = {
        "round_id": np.repeat(np.arange(sessions), each), "order": 1, "club": "putter", "length_ft": feet,
        "holed": rng.random(feet.size) < chance, "left_ft": np.nan, "sort": "putter",
    }  # fmt: skip
    return pd.DataFrame(rows)


def test_the_curve_that_leans_on_practice_is_wider_beforehand_than_the_tours() -> None:
    prior = practice_prior(practice_putts(putts(np.random.default_rng(1), 0.03, 0.2, 10, 40)))
    assert (prior.sd >= TOUR_PRIOR.sd).all()


@pytest.mark.parametrize("apart", tiers.some([0.0, 0.25, 0.5], 1))
def test_make_rates_of_both_hold_the_courses_truth_where_both_differ(apart: float) -> None:
    """Course putts spread more than practice putts by `apart` in the logarithm of both parameters."""
    rng = np.random.default_rng(11)
    runs = 60 * TIMES
    lengths = [4.0, 8.0, 15.0, 30.0]
    angle, distance = 0.02 * np.exp(apart), 0.09 * np.exp(apart)
    truth = (1 - 0.003) * make_rate(lengths, angle, distance)
    held = np.zeros(len(lengths))
    for _ in range(runs):
        prior = practice_prior(practice_putts(putts(rng, 0.02, 0.09, 8, 40)))
        feet = rng.choice([3.0, 6.0, 10.0, 15.0, 25.0, 40.0], 60)
        holed = rng.random(60) < (1 - 0.003) * make_rate(feet, angle, distance)
        low, _, high = curve_of(pd.DataFrame({"feet": feet, "holed": holed}), prior).interval(lengths)
        held += (low <= truth) & (truth <= high)
    assert (held / runs >= 0.9 - 2 * (0.09 / runs) ** 0.5).all(), held / runs


@pytest.mark.parametrize("between", tiers.some([0.0, 0.6], 1))
def test_make_rates_of_practice_hold_the_truth_whatever_the_sessions_do(between: float) -> None:
    rng = np.random.default_rng(5)
    runs = 60 * TIMES
    lengths = [4.0, 8.0, 20.0]
    rate = make_rate(lengths, 0.022, 0.1)
    days = rng.normal(0, between, 100_000)[:, None]
    truth = (1 / (1 + np.exp(-(np.log(rate / (1 - rate)) + days)))).mean(axis=0)
    held = np.zeros(len(lengths))
    for _ in range(runs):
        low, _, high = curve_of(practice_putts(putts(rng, 0.022, 0.1, 12, 40, between))).interval(lengths)
        held += (low <= truth) & (truth <= high)
    assert (held / runs >= 0.9 - 2 * (0.09 / runs) ** 0.5).all(), held / runs


def test_putts_of_sessions_that_differ_are_worth_less() -> None:
    rng = np.random.default_rng(9)
    alike = [putts_worth(practice_putts(putts(rng, 0.022, 0.1, 12, 40))) for _ in range(8)]
    apart = [putts_worth(practice_putts(putts(rng, 0.022, 0.1, 12, 40, 1.0))) for _ in range(8)]
    assert max(alike) == 1.0
    assert np.mean(alike) > np.mean(apart) + 0.4
    assert putts_worth(practice_putts(putts(rng, 0.022, 0.1, 1, 4))) == 1.0


def test_shifts_need_both_intervals() -> None:
    assert shift_of(told(150, 2), told(140, 2), PLAIN) == -10
    assert shift_of(told(150, 2), Figure(140.0, None, None, 3), PLAIN) is None
