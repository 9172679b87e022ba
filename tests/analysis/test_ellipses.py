"""Ellipses against numpy, scikit-learn and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from sklearn.covariance import MinCovDet

from server.analysis.patterns.ellipses import (
    circular_error,
    ellipse,
    next_shot_ellipse,
    next_shot_factor,
    robust_fit,
)
from tests.tiers import some

TRUE = np.array([[90.0, 30.0], [30.0, 200.0]])


def sample(rng: np.random.Generator, n: int) -> np.ndarray:
    return rng.multivariate_normal([3.0, -5.0], TRUE, size=n)


@pytest.mark.simulation
@pytest.mark.parametrize("n", some([10, 30, 100], 1))
def test_the_ellipse_holds_nine_of_ten_next_shots(n: int) -> None:
    """2,500 seasons of n shots and one more: the standard error of a share of 0.9 is 0.006; three of them are
    allowed."""
    rng = np.random.default_rng(n)
    seasons = 2500
    factor = next_shot_factor(n, 0.9)
    held = held_by_chi_square = 0
    for _ in range(seasons):
        shots = sample(rng, n + 1)
        away = shots[-1] - shots[:-1].mean(axis=0)
        squared = float(away @ np.linalg.solve(np.cov(shots[:-1].T), away))
        held += squared <= factor
        held_by_chi_square += squared <= stats.chi2.ppf(0.9, 2)
    error = math.sqrt(0.9 * 0.1 / seasons)
    assert held / seasons == pytest.approx(0.9, abs=3 * error)
    if n == 10:  # the wrong formula is found out
        assert held_by_chi_square / seasons < 0.9 - 3 * error


def test_the_factor_by_hand_and_its_limit() -> None:
    # n = 10: 2 * 9 * 11 / (10 * 8) = 2.475, and F(0.9; 2, 8) = 3.113 to the three decimals of the printed tables
    assert next_shot_factor(10, 0.9) == pytest.approx(2.475 * 3.113, abs=2.475 * 0.0005)
    assert next_shot_factor(10**7, 0.9) == pytest.approx(-2 * math.log(0.1), rel=1e-5)
    assert next_shot_ellipse(np.zeros((2, 2)), 0.9) is None
    with pytest.raises(ValueError, match="2 shots"):
        next_shot_factor(2, 0.9)


def test_the_axes_are_those_of_numpys_covariance() -> None:
    shots = sample(np.random.default_rng(1), 40)
    found = next_shot_ellipse(shots, 0.9)
    assert found is not None
    covariance = np.cov(shots, rowvar=False)
    small, large = np.linalg.eigvalsh(covariance)
    factor = next_shot_factor(40, 0.9)
    assert (found.half_long_yd, found.half_short_yd) == pytest.approx(np.sqrt([large * factor, small * factor]))
    assert (found.right_yd, found.long_yd) == pytest.approx(shots.mean(axis=0))
    turned = math.radians(found.turned_deg)
    along = np.array([math.sin(turned), math.cos(turned)])
    assert covariance @ along == pytest.approx(large * along)


@pytest.mark.parametrize(
    ("covariance", "turned"),
    [
        ([[1, 0], [0, 4]], 0.0),
        ([[4, 0], [0, 1]], 90.0),
        ([[2.5, 1.5], [1.5, 2.5]], 45.0),
        ([[2.5, -1.5], [-1.5, 2.5]], -45.0),
    ],
)
def test_the_long_axis_is_measured_from_straight_ahead_right_positive(
    covariance: list[list[float]], turned: float
) -> None:
    found = ellipse(np.zeros(2), np.array(covariance, dtype=float), 1.0)
    assert found.turned_deg == pytest.approx(turned)
    assert (found.half_long_yd, found.half_short_yd) == pytest.approx((2.0, 1.0))


def test_a_circle_holds_its_share_of_simulated_shots() -> None:
    """200,000 shots: the standard error of a share of one half is 0.0011; four of them are allowed."""
    rng = np.random.default_rng(2)
    away = np.hypot(rng.normal(0, 14, 200_000), rng.normal(0, 9, 200_000))
    assert np.mean(away <= circular_error(14, 9, 0.5)) == pytest.approx(0.5, abs=0.0045)
    assert circular_error(9, 14, 0.5) == circular_error(14, 9, 0.5)
    assert circular_error(0, 0, 0.5) == 0


@pytest.mark.parametrize("n", [12, 40, 200])
def test_the_robust_fit_is_that_of_scikit_learn(n: int) -> None:
    """Same reweighted centre as MinCovDet; the covariance is the same but for one factor: ours makes up for the cut
    at 97.5 %."""
    rng = np.random.default_rng(n)
    shots = sample(rng, n)
    shots[: n // 8] += [60.0, -90.0]
    ours = robust_fit(shots)
    theirs = MinCovDet(random_state=0, support_fraction=((n + 3) // 2) / n).fit(shots)
    assert ours is not None
    assert ours.centre == pytest.approx(theirs.location_, abs=1e-6)
    ratio = ours.covariance / theirs.covariance_
    assert ratio == pytest.approx(np.full((2, 2), ratio[0, 0]), rel=1e-6)
    assert 1.0 <= ratio[0, 0] * (1 + 1e-9) < 1.2


def test_one_shank_moves_the_plain_figures_and_not_the_robust_ones() -> None:
    shots = sample(np.random.default_rng(5), 24)
    shanked = np.vstack([shots, [110.0, -60.0]])
    before, after = robust_fit(shots), robust_fit(shanked)
    assert before is not None
    assert after is not None
    assert np.abs(shanked.mean(axis=0) - shots.mean(axis=0)).max() > 3
    assert np.cov(shanked.T)[0, 0] > 3 * np.cov(shots.T)[0, 0]
    assert after.centre == pytest.approx(before.centre, abs=1.5)
    assert after.covariance[0, 0] == pytest.approx(before.covariance[0, 0], rel=0.3)
    assert after.aside[-1]
    assert after.aside[:-1].sum() <= 1


@pytest.mark.simulation
@pytest.mark.parametrize(("n", "most"), some([(12, 0.01), (40, 0.003), (150, 0.003)], 1))
def test_normal_shots_are_seldom_set_aside(n: int, most: float) -> None:
    """A next shot lies outside with 0.001; of 2,400 shots 7 at most are three errors above. Of twelve shots the half
    that the fit starts from tells less: a tenth of a shot a season may be lost."""
    rng = np.random.default_rng(n)
    aside = 0
    for _ in range(60):
        fit = robust_fit(sample(rng, n))
        assert fit is not None
        aside += int(fit.aside.sum())
    assert aside / (60 * n) <= most


def test_robust_fits_of_too_few_or_equal_shots_say_nothing() -> None:
    assert robust_fit(sample(np.random.default_rng(0), 9)) is None
    assert robust_fit(np.zeros((30, 2))) is None
    assert robust_fit(np.column_stack([np.zeros(30), np.arange(30.0)])) is None
