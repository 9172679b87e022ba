"""Intervals of means, spreads, shares and medians hold the truth as often as they say."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from server.analysis.patterns.spread import mean_figure, median_figure, share_figure, spread_figure
from tests.tiers import some

SEASONS = 800
ERROR = math.sqrt(0.9 * 0.1 / SEASONS)
"""Standard error of a simulated coverage of 90 %: 0.0106."""


def season(rng: np.random.Generator, rounds: int, each: int, form: float) -> tuple[np.ndarray, np.ndarray]:
    """Lengths of shots in rounds whose form differs by `form` standard deviations; 8 % mishits short, as a driver's."""
    shots = rng.normal(0, 10, (rounds, each)) + form * 10 * rng.standard_normal((rounds, 1))
    shots -= np.where(rng.random((rounds, each)) < 0.08, rng.uniform(15, 60, (rounds, each)), 0)
    return shots.ravel(), np.repeat(np.arange(rounds), each)


MEAN = -0.08 * 37.5
VARIANCE = 100 + 0.08 * (37.5**2 + 45**2 / 12) - MEAN**2


@pytest.mark.simulation
@pytest.mark.parametrize(("rounds", "each"), some([(6, 5), (12, 5), (40, 5)], 1))
@pytest.mark.parametrize("form", [0.0, 0.4])
def test_means_are_held_nine_times_of_ten(rounds: int, each: int, form: float) -> None:
    """At least 87 of 100 as every interval of this tool; never too wide by more than the larger of two variances
    makes it."""
    rng = np.random.default_rng(rounds)
    held = 0
    for _ in range(SEASONS):
        figure = mean_figure(*season(rng, rounds, each, form))
        held += bool(figure.low is not None and figure.high is not None and figure.low <= MEAN <= figure.high)
    assert 0.87 <= held / SEASONS <= 0.97


@pytest.mark.simulation
@pytest.mark.parametrize(("rounds", "each"), some([(6, 5), (12, 5), (40, 5)], 1))
def test_spreads_with_long_tails_are_held_nine_times_of_ten(rounds: int, each: int) -> None:
    rng = np.random.default_rng(rounds)
    held = plain = 0
    truth = math.sqrt(VARIANCE)
    for _ in range(SEASONS):
        shots, which = season(rng, rounds, each, 0.0)
        figure = spread_figure(shots, which)
        held += bool(figure.low is not None and figure.high is not None and figure.low <= truth <= figure.high)
        n = shots.size
        low, high = (shots.std(ddof=1) * math.sqrt((n - 1) / stats.chi2.ppf(p, n - 1)) for p in (0.95, 0.05))
        plain += low <= truth <= high
    assert 0.87 <= held / SEASONS <= 0.95
    assert plain / SEASONS < 0.82  # the interval for normal shots is found out


@pytest.mark.simulation
@pytest.mark.parametrize("rounds", some([5, 20, 100], 1))
def test_spreads_of_normal_shots_are_held_at_least_nine_times_of_ten(rounds: int) -> None:
    """What guards against unseen mishits is wider than normal shots need: more than nine of ten, ever less so."""
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(SEASONS):
        figure = spread_figure(rng.normal(0, 10, 2 * rounds), np.repeat(np.arange(rounds), 2))
        held += bool(figure.low is not None and figure.high is not None and figure.low <= 10 <= figure.high)
    assert 0.87 <= held / SEASONS <= {5: 1.0, 20: 0.98, 100: 0.95}[rounds]


@pytest.mark.simulation
@pytest.mark.parametrize("share", some([0.1, 0.5, 0.92], 0, 2))
@pytest.mark.parametrize("rounds", some([6, 20], 1))
def test_shares_are_held_nine_times_of_ten(share: float, rounds: int) -> None:
    """Each round's own share is Beta around the truth, so that shots of a round go together (intraclass 0.1)."""
    rng = np.random.default_rng(rounds)
    held = 0
    for _ in range(SEASONS):
        own = rng.beta(share * 9, (1 - share) * 9, rounds)
        flags = (rng.random((rounds, 8)) < own[:, None]).astype(float)
        figure = share_figure(flags.ravel(), np.repeat(np.arange(rounds), 8))
        held += bool(figure.low is not None and figure.high is not None and figure.low <= share <= figure.high)
    assert 0.86 <= held / SEASONS <= 0.97


def test_wilsons_interval_by_hand() -> None:
    """8 of 10, one a round: z = 1.6449, middle (p + z^2/2n)/(1 + z^2/n)."""
    figure = share_figure([1.0] * 8 + [0.0] * 2, range(10))
    assert figure.value == pytest.approx(0.8)
    z = 1.6448536
    # the design effect of ten rounds of one shot is 10/9 of the plain variance, so n = 9 shots' worth
    effective = 9
    middle = (0.8 + z**2 / (2 * effective)) / (1 + z**2 / effective)
    half = z / (1 + z**2 / effective) * math.sqrt(0.16 / effective + z**2 / (4 * effective**2))
    assert (figure.low, figure.high) == pytest.approx((middle - half, middle + half), abs=1e-6)


def test_medians_lie_between_order_statistics() -> None:
    """15 shots: P(B <= 3) = 0.0176, P(B <= 4) = 0.0592 > 0.05, so the 4th and the 12th, coverage 0.965."""
    figure = median_figure(np.arange(15.0), np.arange(15) % 5)
    assert (figure.value, figure.low, figure.high) == (7.0, 3.0, 11.0)


@pytest.mark.parametrize("function", [mean_figure, spread_figure, share_figure, median_figure])
def test_nothing_is_reported_of_too_few_shots_or_one_round(function: object) -> None:
    assert callable(function)
    assert function([], []).value is None
    four = function([1.0, 0.0, 1.0, 1.0], [1, 2, 3, 4])
    assert (four.low, four.high, four.n) == (None, None, 4)
    one_round = function([1.0, 0.0, 1.0, 1.0, 0.0, 1.0], [1] * 6)
    assert (one_round.low, one_round.high) == (None, None)
    gaps = function([1.0, 0.0, float("nan")] * 6, range(18))
    assert (gaps.n, gaps.low is not None) == (12, True)


def test_spreads_say_nothing_of_an_interval_below_ten_shots() -> None:
    assert spread_figure([1.0, 0.0, 2.0] * 3, range(9)).low is None
    assert spread_figure([1.0, 0.0, 2.0, 5.0, 4.0] * 2, range(10)).low is not None
