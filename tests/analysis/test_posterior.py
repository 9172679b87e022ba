"""Draws of a pattern against the closed forms of the normal-inverse-chi-square posterior, and mishits among shots."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from server.analysis.plan.posterior import TAILS, Belief, Draws, drawn_patterns
from server.analysis.plan.priors import Skill, learnt, median_spread, prior_of

PRIOR = prior_of(Skill())
DRAWS = 20_000


def test_draws_of_mean_and_spread_are_the_closed_forms() -> None:
    """Gelman et al. (2013), section 3.3: the mean is Student's t, the variance scaled inverse chi-square. Both by the
    Kolmogorov-Smirnov distance, whose 99.9 % point at 20,000 draws is 0.0138."""
    own = np.random.default_rng(0).normal(0.03, 0.08, 12)
    belief = Belief(0.0, 9.0, 0.07, 8.0, worth=1.0)
    count = np.full(DRAWS, 12.0)
    squares = np.full(DRAWS, float(((own - own.mean()) ** 2).sum()))
    centre, spread = belief.drawn(count, np.full(DRAWS, own.mean()), squares, np.random.default_rng(1))
    shots, freedom = 21.0, 20.0
    middle = 12 * own.mean() / shots
    total = 8 * 0.07**2 + squares[0] + 9 * 12 / 21 * own.mean() ** 2
    by_t = stats.t(freedom, middle, np.sqrt(total / freedom / shots))
    by_chi = stats.invgamma(freedom / 2, scale=total / 2)
    assert stats.kstest(centre, by_t.cdf).statistic < 0.0138
    assert stats.kstest(spread**2, by_chi.cdf).statistic < 0.0138


def test_without_shots_the_draws_are_the_prior() -> None:
    none = np.zeros(DRAWS)
    centre, spread = PRIOR.side.drawn(none, none, none, np.random.default_rng(2))
    side = np.tan(np.radians(4.5))
    assert np.median(spread) == pytest.approx(side, rel=0.02)
    assert np.std(np.log(spread)) == pytest.approx(np.sqrt(special_variance(PRIOR.side.freedom)) / 2, rel=0.03)
    assert centre.mean() == pytest.approx(0.0, abs=0.001)


def special_variance(freedom: float) -> float:
    """Variance of the logarithm of chi-square, by integration."""
    return float(stats.chi2(freedom).expect(lambda x: np.log(x) ** 2) - stats.chi2(freedom).expect(np.log) ** 2)


def test_a_shot_of_heavy_tails_is_worth_less_for_the_spread() -> None:
    """Twenty shots at worth 0.35 count as seven for the spread, and as twenty for the centre."""
    one = Belief(0.0, 1.0, 0.07, 8.0)
    shots, _, freedom, _ = one.updated(np.array([20.0]), np.array([0.0]), np.array([0.1]))
    assert shots[0] == 21.0
    assert freedom[0] == pytest.approx(8 + 20 * one.worth)


def test_a_median_spread_is_the_median() -> None:
    spread = median_spread(0.08, 6.0)
    assert np.sqrt(6 * spread**2 / stats.chi2.ppf(0.5, 6)) == pytest.approx(0.08)


def patterns(n: int, mishits: int, seed: int = 0) -> tuple[np.ndarray, Draws]:
    """`n` usual shots, centred right by 0.02, and mishits a quarter of the reach short."""
    rng = np.random.default_rng(seed)
    heavy = rng.standard_t(TAILS, (n, 2)) * np.sqrt((TAILS - 2) / TAILS)
    own = np.array([0.02, 1.0]) + heavy * [0.08, 0.04]
    if mishits:
        own[:mishits] = np.column_stack([np.linspace(-0.1, 0.1, mishits), np.linspace(0.70, 0.80, mishits)])
    return own, drawn_patterns(own, PRIOR, np.random.default_rng(seed + 1), 2000)


def test_mishits_are_set_apart_and_leave_centre_and_spread_alone() -> None:
    own, found = patterns(60, 6)
    assert (found.doubt[:6] > 0.9).all()
    assert (found.doubt[6:] > 0.5).mean() < 0.06
    assert found.centre[:, 1].mean() == pytest.approx(own[6:, 1].mean(), abs=0.006)
    assert found.spread[:, 1].mean() == pytest.approx(0.04, rel=0.25)
    many = found.doubt.sum()
    assert found.mishits.mean() == pytest.approx((2 + many) / (25 + 60), abs=0.01)


@pytest.mark.parametrize("n", [8, 60])
def test_without_mishits_the_centre_is_that_of_the_closed_form(n: int) -> None:
    prior = replace(PRIOR, mishits=(1e-9, 1e9))
    own = np.random.default_rng(4).normal([0.05, 1.0], [0.08, 0.045], (n, 2))
    found = drawn_patterns(own, prior, np.random.default_rng(5), 4000)
    mean = own.mean(axis=0)
    squares = ((own - mean) ** 2).sum(axis=0)
    for place, belief in enumerate((prior.side, prior.depth)):
        shots, centre, freedom, variance = belief.updated(np.array([float(n)]), mean[[place]], squares[[place]])
        by_t = stats.t(freedom[0], centre[0], np.sqrt(variance[0] / shots[0]))
        assert stats.kstest(found.centre[:, place], by_t.cdf).statistic < 0.031  # 99.9 % point at 4,000


def test_a_topped_ball_is_a_mishit_however_short() -> None:
    own, _ = patterns(30, 0)
    own[0] = [0.02, 0.05]
    assert drawn_patterns(own, PRIOR, np.random.default_rng(0)).doubt[0] > 0.9


def test_what_other_clubs_have_in_common_is_learnt_with_its_doubt() -> None:
    """Six clubs of 40 shots around 0.05 right, each off by its own: that centre, worth what clubs differ by, and near
    their spread, half the stated one."""
    rng = np.random.default_rng(6)
    clubs = np.repeat(np.arange(6), 40)
    own = np.column_stack([rng.normal(0.05 + 0.01 * (clubs - 2.5), 0.04), rng.normal(1.0, 0.03, 240)])
    found = learnt(own, clubs, PRIOR)
    assert found.side.centre == pytest.approx(0.05 * 240 / 249, abs=0.005)
    # spread 0.04 against 1 degree = 0.0175 between clubs, and a little for what is not known of their centre
    assert found.side.shots == pytest.approx((0.04 / 0.0175) ** 2, rel=0.3)
    assert found.side.spread == pytest.approx(0.6 * PRIOR.side.spread, rel=0.1)
    assert sum(found.mishits) == pytest.approx(40.0)
    assert found.side.freedom < 10.0
    assert found.depth.centre == 1.0
