"""Intervals, spread and shares against scipy and statsmodels."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from server.analysis.evidence.auxiliary import brown_forsythe, newcombe, wilson
from server.analysis.evidence.intervals import RoundSums, per_round, per_shot, resampled, resampling_weights, round_sums
from server.analysis.evidence.matched import compare_matched

EXACT = 1e-9
RESAMPLES = 20_000


def shots(seed: int, rounds: int = 12, usual: float = 5.0) -> tuple[Any, Any]:
    """Rounds (codes) and strokes gained of one club's shots."""
    draw = np.random.default_rng(seed)
    round_ = np.repeat(np.arange(rounds), 1 + draw.poisson(usual, rounds))
    effect = draw.normal(0, 0.1, rounds)
    return round_, draw.normal(0, 0.3, round_.size) + effect[round_] - 0.4 * (draw.random(round_.size) < 0.1)


def sums(round_: Any, values: Any) -> RoundSums:
    return round_sums(np.zeros(round_.size, dtype=int), round_, values, 1, int(round_.max()) + 1)


@pytest.mark.parametrize("level", [0.5, 0.9, 0.99])
@pytest.mark.parametrize("seed", range(3))
def test_per_round_is_scipys_t_interval_of_round_totals(seed: int, level: float) -> None:
    made = sums(*shots(seed))
    totals = made.strokes[0]
    low, high = stats.t.interval(level, totals.size - 1, totals.mean(), stats.sem(totals))
    found = per_round(made, level)
    assert (found.mean[0], found.low[0], found.high[0]) == pytest.approx((totals.mean(), low, high), abs=EXACT)


@pytest.mark.parametrize("seed", range(3))
def test_linearised_error_is_statsmodels_cluster_robust_error(seed: int) -> None:
    """The error that studentises the bootstrap; the jackknife of the interval is the same to first order."""
    round_, values = shots(seed, rounds=40)
    fit = sm.OLS(values, np.ones(values.size)).fit(cov_type="cluster", cov_kwds={"groups": round_})
    made = sums(round_, values)
    ratio, error = resampled(made.strokes, made.shots, np.ones((1, 40)))
    assert (ratio[0, 0], error[0, 0]) == pytest.approx((fit.params[0], fit.bse[0]), abs=EXACT)
    assert per_shot(made).standard_error[0] == pytest.approx(fit.bse[0], rel=0.05)


def test_jackknife_is_the_textbook_one_round_at_a_time() -> None:
    round_, values = shots(7, rounds=6)
    without = np.array([values[round_ != left].mean() for left in range(6)])
    error = np.sqrt(5 / 6 * ((without - values.mean()) ** 2).sum())
    found = per_shot(sums(round_, values))
    assert found.standard_error[0] == pytest.approx(error, abs=EXACT)
    size = np.bincount(round_)
    freedom = size.sum() ** 2 / (size**2).sum() - 1
    assert 4 < freedom < 5
    assert found.high[0] - found.low[0] == pytest.approx(2 * stats.t.ppf(0.95, freedom) * error, abs=EXACT)


def test_resampled_means_spread_like_scipys_bootstrap() -> None:
    """Two runs of 20,000: standard errors agree within 4 times sqrt(2) / sqrt(2 * 20,000), quantiles accordingly."""
    made = sums(*shots(3, rounds=20))

    def ratio(strokes: Any, counts: Any, axis: int) -> Any:
        return strokes.sum(axis=axis) / counts.sum(axis=axis)

    theirs = stats.bootstrap((made.strokes[0], made.shots[0]), ratio, paired=True, vectorized=True,
        n_resamples=RESAMPLES, confidence_level=0.9, method="percentile", rng=np.random.default_rng(5))  # fmt: skip
    ours, _ = resampled(made.strokes, made.shots, resampling_weights(20, RESAMPLES, 6))
    error = theirs.standard_error
    assert ours.std(ddof=1) == pytest.approx(error, rel=4 / np.sqrt(RESAMPLES))
    quantile_error = np.sqrt(2 * 0.05 * 0.95 / RESAMPLES) / stats.norm.pdf(stats.norm.ppf(0.05)) * error
    ends = np.quantile(ours, [0.05, 0.95])
    assert ends == pytest.approx(np.array(theirs.confidence_interval), abs=4 * quantile_error)


def trial_shots(seed: int, rounds: int) -> tuple[Any, Any, Any, Any]:
    """Side, stratum, round and strokes gained of two clubs used unevenly over four strata."""
    draw = np.random.default_rng(seed)
    round_ = np.repeat(np.arange(rounds), 2 + draw.poisson(6, rounds))
    stratum = draw.integers(0, 4, round_.size)
    side = draw.random(round_.size) < 0.2 + 0.15 * stratum
    effect = draw.normal(0, 0.1, rounds)
    return side, stratum, round_, draw.normal(0, 0.3, round_.size) + effect[round_] + 0.1 * stratum + 0.05 * side


def fitted(side: Any, stratum: Any, round_: Any, values: Any) -> Any:
    """Regression on the side with one constant a stratum, errors clustered by round."""
    design = np.column_stack([side, *(stratum == one for one in np.unique(stratum))]).astype(float)
    return sm.OLS(values, design).fit(cov_type="cluster", cov_kwds={"groups": round_})


@pytest.mark.parametrize("seed", range(3))
def test_matched_difference_is_a_regression_with_a_constant_a_stratum(seed: int) -> None:
    made = trial_shots(seed, 30)
    found = compare_matched(*made, 0.9)
    fit = fitted(*made)
    assert found.difference == pytest.approx(fit.params[0], abs=EXACT)
    assert found.standard_error == pytest.approx(fit.bse[0], rel=0.1)
    without = [fitted(*(part[made[2] != left] for part in made)).params[0] for left in range(30)]
    jackknife = np.sqrt(29 / 30 * ((np.array(without) - fit.params[0]) ** 2).sum())
    assert found.standard_error == pytest.approx(jackknife, abs=EXACT)
    freedom = min(found.rounds_a, found.rounds_b) - 1
    assert found.chance == pytest.approx(stats.t.cdf(found.difference / jackknife, freedom), abs=EXACT)
    assert found.high - found.difference == pytest.approx(stats.t.ppf(0.95, freedom) * jackknife, abs=EXACT)


@pytest.mark.parametrize("seed", range(4))
def test_brown_forsythe_is_levene_about_the_median(seed: int) -> None:
    draw = np.random.default_rng(seed)
    a, b = draw.normal(0, 1, 5 + 7 * seed), draw.standard_t(4, 23) * (1 + seed / 2)
    found, wanted = brown_forsythe(a, b), stats.levene(a, b, center="median")
    assert found is not None
    assert (found.statistic, found.p) == pytest.approx((wanted.statistic, wanted.pvalue), abs=EXACT)


CELLS = [(12, 20, 18, 22), (56, 70, 48, 80), (0, 9, 4, 11), (9, 9, 5, 8), (0, 6, 0, 7), (7, 7, 6, 6), (1, 40, 39, 40)]


@pytest.mark.parametrize("cells", CELLS)
@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
def test_newcombe_and_wilson_are_statsmodels(cells: tuple[int, int, int, int], level: float) -> None:
    found = newcombe(*cells, level)
    wanted = confint_proportions_2indep(*cells, method="newcomb", alpha=1 - level)
    assert (found.low, found.high) == pytest.approx(wanted, abs=EXACT)
    one = proportion_confint(cells[0], cells[1], 1 - level, method="wilson")
    assert wilson(cells[0], cells[1], level) == pytest.approx(one, abs=EXACT)
