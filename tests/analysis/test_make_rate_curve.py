"""The posterior of the make-rate curve: by hand, against quadrature done otherwise, and over simulated seasons."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from server.analysis.putting.make_rates import (
    CARELESS,
    TOUR,
    TOUR_PRIOR,
    Prior,
    make_rate,
    posterior,
    weighted_quantiles,
)
from tests.tiers import count, some

LENGTHS = np.array([1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 20, 25, 30, 40, 50], dtype=np.float64)
MIX = np.array([22, 12, 9, 6, 5, 4, 5, 4, 4, 6, 5, 5, 5, 4, 3, 1]) / 100
"""A player's lengths, rounded from the demo season."""
LOOKED_AT = (3, 6, 8, 10, 15, 20, 30)
DEMO = (0.021, 0.088)
SEASONS = count(400, 1200)
SLACK = 3.5 * (0.9 * 0.1 / SEASONS) ** 0.5
"""Of a share of nine in ten: 0.03 of 1,200 seasons."""


def test_the_formula_by_hand():
    """From 10 ft: asin((2.125 - 0.84) / 120) = 0.0107 rad, 0.60 of 0.0178; 11 ft times 0.08 = 0.88 ft of roll."""
    cdf = NormalDist().cdf
    straight = 2 * cdf(math.asin((2.125 - 0.84) / 120) / 0.0178) - 1
    right = cdf(2 / 0.88) - cdf(-1 / 0.88)
    assert make_rate([10], 0.0178, 0.08)[0] == pytest.approx(straight * right, abs=1e-12)
    assert 0.38 < straight * right < 0.40


def test_a_putt_nearer_than_the_edge_of_the_hole_is_no_trouble():
    assert make_rate([0.05, 0.1], *TOUR) == pytest.approx([1.0, 1.0], abs=1e-9)


def test_the_grid_agrees_with_quadrature():
    """An independent way: Gauss and Legendre's product rule of 80 by 80 over likelihood times prior."""
    feet, tried, made = np.array([4.0, 10.0, 25.0]), np.array([20, 15, 12]), np.array([15, 5, 1])
    nodes, weights = np.polynomial.legendre.leggauss(80)
    first, second = (TOUR_PRIOR.mean[part] + 5 * TOUR_PRIOR.sd[part] * nodes for part in (0, 1))
    whole = mean = 0.0
    for angle, angle_weight in zip(first, weights, strict=True):
        for distance, distance_weight in zip(second, weights, strict=True):
            rates = (1 - CARELESS) * make_rate([*feet, 8.0], math.exp(angle), math.exp(distance))
            away = (np.array([angle, distance]) - TOUR_PRIOR.mean) / TOUR_PRIOR.sd
            likely = np.prod(rates[:3] ** made * (1 - rates[:3]) ** (tried - made)) * math.exp(-0.5 * away @ away)
            whole += angle_weight * distance_weight * likely
            mean += angle_weight * distance_weight * likely * rates[3]
    assert posterior(feet, tried, made).rates([8])[0] == pytest.approx(mean / whole, abs=1e-3)


def drawn(seed: int, putts: int, truth: tuple[float, float] | None) -> tuple[Any, Any, Any]:
    """Putts of many seasons: attempts, made, true rates at `LOOKED_AT`; without a truth players come from the prior."""
    draw = np.random.default_rng(seed)
    log_sigma = TOUR_PRIOR.mean + TOUR_PRIOR.sd * draw.standard_normal((SEASONS, 2))
    sigma = np.exp(log_sigma) if truth is None else np.broadcast_to(truth, (SEASONS, 2))
    rates = np.array([make_rate(LENGTHS, *pair) for pair in sigma]) * (1 - CARELESS)
    true = np.array([make_rate(LOOKED_AT, *pair) for pair in sigma]) * (1 - CARELESS)
    tried = draw.multinomial(putts, MIX, size=SEASONS)
    return tried, draw.binomial(tried, rates), true


def held(tried: Any, made: Any, true: Any) -> Any:
    """Share of seasons whose 90 % interval holds the truth, by length."""
    found = []
    for part in range(0, SEASONS, 100):
        low, _, high = posterior(LENGTHS, tried[part : part + 100], made[part : part + 100]).interval(LOOKED_AT)
        found.append((low <= true[part : part + 100]) & (true[part : part + 100] <= high))
    return np.concatenate(found).mean(axis=0)


@pytest.mark.simulation
@pytest.mark.parametrize("putts", some([60, 300, 1000], 1))
def test_intervals_hold_the_truth_of_players_from_the_prior(putts: int):
    """90 % intervals: nine in ten, within 3.5 standard errors."""
    share = held(*drawn(seed=20_260_301 + putts, putts=putts, truth=None))
    assert np.all(np.abs(share - 0.9) <= SLACK), share.round(3)


@pytest.mark.simulation
@pytest.mark.parametrize("truth", [TOUR, DEMO])
@pytest.mark.parametrize("putts", some([60, 300, 1000], 1))
def test_intervals_of_one_known_player_hold_at_least_the_stated_rate(putts: int, truth: tuple[float, float]):
    """A player near the prior's centre is held more often than stated while the prior still weighs, never less."""
    share = held(*drawn(seed=7 + putts, putts=putts, truth=truth))
    assert share.min() >= 0.9 - SLACK, share.round(3)
    if putts == 1000:
        assert share.max() <= 0.92 + SLACK, share.round(3)


def test_many_seasons_at_once_are_each_season_by_itself():
    """61 seasons: as many as the first grid has points."""
    tried, made, _ = drawn(seed=3, putts=80, truth=DEMO)
    together = posterior(LENGTHS, tried[:61], made[:61])
    for season in (0, 30, 60):
        alone = posterior(LENGTHS, tried[season], made[season])
        assert together.rates(LOOKED_AT)[season] == pytest.approx(alone.rates(LOOKED_AT), abs=1e-12)
        low, middle, high = alone.interval(LOOKED_AT)
        assert np.all((low < middle) & (middle < high))


def test_without_a_putt_it_is_the_prior():
    found = posterior([], [], [])
    assert found.log_mean() == pytest.approx(TOUR_PRIOR.mean, abs=1e-6)
    low, _, high = found.interval([8])
    assert low[0] < make_rate([8], *TOUR)[0] < high[0]


@pytest.mark.parametrize(
    ("feet", "tried", "made"),
    [
        ([50], [60], [60]),
        ([1], [60], [0]),
        ([8], [1], [1]),
        ([8], [1], [0]),
        ([3, 60], [1000, 1000], [1000, 1000]),
        ([0.01, 150], [5, 5], [0, 5]),
    ],
)
def test_odd_seasons_give_rates_between_0_and_1(feet: Any, tried: Any, made: Any):
    found = posterior(feet, tried, made)
    low, middle, high = found.interval([1, 8, 30, 150])
    assert np.isfinite([low, middle, high]).all()
    assert np.all((low >= 0) & (low <= middle) & (middle <= high) & (high <= 1))
    assert np.all(np.diff(middle) < 0)
    assert np.all(np.diff(found.rates([1, 8, 30, 150])) < 0)


def test_one_missed_tap_in_does_not_outweigh_a_season():
    tried, made, _ = drawn(seed=5, putts=600, truth=TOUR)
    feet = np.append(LENGTHS, 0.5)
    before = posterior(feet, np.append(tried[0], 1), np.append(made[0], 1)).rates([8])[0]
    after = posterior(feet, np.append(tried[0], 1), np.append(made[0], 0)).rates([8])[0]
    assert after == pytest.approx(before, abs=0.005)


@pytest.mark.parametrize(("feet", "tried", "made"), [([0], [1], [1]), ([8], [1], [2]), ([8], [1], [-1])])
def test_counts_that_cannot_be_are_refused(feet: Any, tried: Any, made: Any):
    with pytest.raises(ValueError, match="putts"):
        posterior(feet, tried, made)


def test_quantiles_of_a_discrete_distribution_by_hand():
    found = weighted_quantiles(np.array([3.0, 1.0, 2.0]), np.array([0.5, 0.25, 0.25]), np.array([0.125, 0.375, 0.75]))
    assert found == pytest.approx([1, 2, 3])


def test_a_prior_that_says_nothing_leaves_the_putts_alone():
    """1.2 million putts: their spread of the distance is known to about 1 %, three times that is allowed."""
    flat = Prior(TOUR_PRIOR.mean, np.array([math.inf, math.inf]))
    tried, made, _ = drawn(seed=11, putts=1000, truth=(0.03, 0.12))
    many = (tried.sum(axis=0), made.sum(axis=0))
    assert posterior(LENGTHS, *many, flat).sigma() == pytest.approx((0.03, 0.12), rel=0.03)
