"""Shrunk means: by hand, at the edges, and over simulated bags."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.intervals import RoundSums, round_sums
from server.analysis.evidence.shrinkage import (
    DERSIMONIAN_LAIRD,
    LEAST_MEANS,
    METHODS,
    PAULE_MANDEL,
    between_variance,
    like_starts,
    sampling_variances,
    shrink,
    variance_freedom,
)
from tests.analysis.simulated_seasons import MEAN_MISHIT, shot_values
from tests.tiers import count, some

EXACT = 1e-9


def test_given_centres_by_hand() -> None:
    """Deviations 2, -2, 2, -2 of variance 1: Q = 16 on 4, tau^2 = (16 - 4)/4 = 3, B = (4 - 2)/4 * 1/4 = 1/8."""
    centre = np.array([1.0, 2.0, 3.0, 4.0])
    means = centre + np.array([2.0, -2.0, 2.0, -2.0])
    for method in METHODS:
        found = shrink(means, np.ones(4), centre, method=method)
        assert found.between_sd**2 == pytest.approx(3, abs=EXACT)
        assert found.own == pytest.approx(np.full(4, 7 / 8), abs=EXACT)
        assert found.shrunk == pytest.approx(centre + np.array([1.75, -1.75, 1.75, -1.75]), abs=EXACT)


def test_paule_mandel_makes_the_weighted_squares_what_they_should_be() -> None:
    draw = np.random.default_rng(1)
    variances = draw.uniform(0.1, 2, 12)
    means = draw.normal(0, 2, 12)
    tau2 = between_variance(means, variances, method=PAULE_MANDEL)
    weight = 1 / (variances + tau2)
    middle = (weight * means).sum() / weight.sum()
    assert (weight * (means - middle) ** 2).sum() == pytest.approx(11, abs=EXACT)


@pytest.mark.parametrize("method", METHODS)
def test_less_is_known_more_is_shrunk_and_never_past_the_centre(method: str) -> None:
    variances = np.array([0.01, 0.05, 0.2, 1.0, 5.0])
    means = np.array([0.5, -0.4, 0.6, -1.2, 3.0])
    found = shrink(means, variances, np.zeros(5), method=method)
    assert (np.diff(found.own) < 0).all()
    assert ((found.own > 0) & (found.own < 1)).all()
    assert (np.abs(found.shrunk) < np.abs(means)).all()
    assert (np.sign(found.shrunk) == np.sign(means)).all()


@pytest.mark.parametrize("method", METHODS)
def test_means_that_differ_less_than_by_chance_have_no_spread(method: str) -> None:
    assert between_variance(np.array([0.1, 0.11, 0.09, 0.1]), np.ones(4), method=method) == 0


def test_too_few_means_are_left_alone() -> None:
    for few in range(LEAST_MEANS):
        means = np.arange(few, dtype=float)
        found = shrink(means, np.ones(few), np.zeros(few))
        assert found.shrunk.tolist() == means.tolist()
        assert found.own.tolist() == [1.0] * few


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="sampling variance must be above 0"):
        shrink(np.ones(4), np.array([1.0, 1.0, 0.0, 1.0]))
    with pytest.raises(ValueError, match="sampling variance must be above 0"):
        shrink(np.ones(4), np.array([1.0, 1.0, np.nan, 1.0]))
    with pytest.raises(ValueError, match=f"'guess' is not one of {PAULE_MANDEL}, {DERSIMONIAN_LAIRD}"):
        between_variance(np.ones(4), np.ones(4), method="guess")


def test_sampling_variances_pool_what_a_few_rounds_say() -> None:
    """Two clubs in 2 rounds each, jackknife variances a shot 0.5 and 0, pooled 0.25: (1 * own + 4 * 0.25)/5 over n."""
    made = RoundSums(np.array([[1.0, 1.0], [2.0, 2.0], [3.0, 0.0]]), np.array([[0.5, -0.5], [0.4, 0.4], [0.9, 0.0]]))
    # first club: mean 0, without either round -0.5 and 0.5: error^2 = 1/2 * 0.5 = 0.25, a shot 0.5
    wanted = [(0.5 + 4 * 0.25) / 5 / 2, (0 + 4 * 0.25) / 5 / 4, 0.25 / 3]
    assert sampling_variances(made) == pytest.approx(np.array(wanted), abs=EXACT)
    alone = RoundSums(np.array([[3.0]]), np.array([[0.9]]))
    assert np.isnan(sampling_variances(alone)[0])


def test_like_starts_take_the_stratum_where_others_share_it_else_the_lie_else_all() -> None:
    """Clubs 0, 1 share (0, 0); club 0 alone hits from (0, 1), whose lie club 1 shares; club 2 has lie 1 to itself."""
    group = np.array([0] * 5 + [1] * 5 + [0] * 2 + [2] * 4)
    lie = np.array([0] * 12 + [1] * 4)
    band = np.array([0] * 10 + [1] * 2 + [0] * 4)
    values = np.r_[np.full(5, 0.1), np.full(5, 0.3), np.full(2, 0.8), np.full(4, -1.0)]
    stratum, of_lie, everything = 0.2, (0.5 + 1.5 + 1.6) / 12, (0.5 + 1.5 + 1.6 - 4) / 16
    found, borrowed = like_starts(group, lie, band, values, 4)
    assert found[:3] == pytest.approx([(5 * stratum + 2 * of_lie) / 7, stratum, everything], abs=EXACT)
    assert np.isnan(found[3])
    # the five shots of club 0 that share a stratum lean on both clubs alike, the other two on the 12 shots of the lie
    assert borrowed[0] == pytest.approx([(5 * 0.5 + 2 * 7 / 12) / 7, (5 * 0.5 + 2 * 5 / 12) / 7, 0, 0], abs=EXACT)
    assert borrowed[2] == pytest.approx([7 / 16, 5 / 16, 4 / 16, 0], abs=EXACT)
    assert np.isnan(like_starts(group[:0], lie[:0], band[:0], values[:0], 2).centre).all()


def test_errors_by_hand() -> None:
    """Deviations 2, -2, 2, -2 of variance 1 (tau^2 = 3, B = 1/8) around given centres: s^2 = 7/8 + 2/(4 - 2) (1/8)^2 4
    = 0.9375; with centres that lean on all four alike, u = (1 + 3)/4 = 1, B v u/(v + tau^2) = 1/32 comes on top."""
    centre = np.array([1.0, 2.0, 3.0, 4.0])
    means = centre + np.array([2.0, -2.0, 2.0, -2.0])
    found = shrink(means, np.ones(4), centre)
    assert found.error**2 == pytest.approx(np.full(4, 0.9375), abs=EXACT)
    leaning = shrink(means, np.ones(4), centre, borrowed=np.full((4, 4), 0.25))
    assert leaning.error**2 == pytest.approx(np.full(4, 0.9375 + 1 / 32), abs=EXACT)
    assert leaning.shrunk == pytest.approx(found.shrunk, abs=EXACT)
    low, high = found.interval(0.9)
    assert (high - low) / 2 == pytest.approx(1.6448536 * 0.9375**0.5 * np.ones(4), abs=1e-6)
    wider = found.interval(0.9, np.full(4, 4.0))
    assert (wider[1] - wider[0]) / 2 == pytest.approx(2.1318468 * 0.9375**0.5 * np.ones(4), abs=1e-6)


def test_one_estimated_centre_is_as_sure_as_its_weights() -> None:
    """Equal variances: s^2 = v (1 - (k - 1)/k B) + 2 B^2/(k - 3) (y - mean)^2, Morris (1983) for equal variances."""
    means = np.array([-3.0, -1.0, 0.0, 1.0, 1.5, 2.5])
    found = shrink(means, np.ones(6))
    b = 1 - found.own
    assert found.error**2 == pytest.approx(1 - 5 / 6 * b + 2 * b**2 / 3 * (means - means.mean()) ** 2, abs=EXACT)


def test_what_is_not_shrunk_keeps_its_own_error() -> None:
    assert shrink(np.array([0.1, 0.4]), np.array([0.04, 0.09])).error == pytest.approx([0.2, 0.3], abs=EXACT)


def bag(draw: np.random.Generator, tau: float) -> tuple[Any, Any, Any, Any, Any, Any]:
    """A season of 13 clubs over 12 rounds: group, round, lie, band, strokes gained of every shot; true means by club.

    Clubs are used half a time to six times a round, from places whose values differ, and are truly better or worse
    than the player is from like places by a normal deviation of spread `tau`."""
    usual, of_place = draw.uniform(0.5, 6, 13), draw.normal(0, 0.08, (2, 6))
    own = draw.normal(0, tau, 13)
    shots = draw.poisson(usual[:, None], (13, 12))
    group = np.repeat(np.arange(13), shots.sum(axis=1))
    round_ = np.concatenate([np.repeat(np.arange(12), row) for row in shots])
    lie = draw.integers(0, 2, group.size)
    band = np.clip(draw.integers(0, 4, group.size) + group // 5, 0, 5)
    like = of_place[lie, band]
    values = shot_values(draw, group.size) + own[group] + like + draw.normal(0, 0.04, 12)[round_]
    truth = MEAN_MISHIT + own + np.bincount(group, weights=like, minlength=13) / np.maximum(shots.sum(axis=1), 1)
    return group, round_, lie, band, values, truth


@pytest.mark.simulation
@pytest.mark.parametrize("tau", some([0.0, 0.04, 0.08, 0.2], 2))
def test_shrinking_lowers_squared_error_over_200_bags(tau: float) -> None:
    """From clubs that are all alike to clubs that differ more than any bag's should."""
    draw = np.random.default_rng(1961)
    raw_error = shrunk_error = 0.0
    for _ in range(200):
        group, round_, lie, band, values, truth = bag(draw, tau)
        made = round_sums(group, round_, values, 13, 12)
        known = made.shots.sum(axis=1) >= 5
        made = RoundSums(made.shots[known], made.strokes[known])
        raw = made.strokes.sum(axis=1) / made.shots.sum(axis=1)
        found = shrink(raw, sampling_variances(made), like_starts(group, lie, band, values, 13).centre[known])
        raw_error += float(((raw - truth[known]) ** 2).sum())
        shrunk_error += float(((found.shrunk - truth[known]) ** 2).sum())
    assert shrunk_error < raw_error


@pytest.mark.simulation
@pytest.mark.parametrize("given", some([True, False], 0))
def test_intervals_of_known_variances_hold_the_truth(given: bool) -> None:
    """Normal means with known, unequal variances. Measured with 20,000 bags each, 90 % intervals hold 97.5 to 99.6 % of
    means that do not differ (94.3 to 99.0 around one estimated centre), 90.3 to 93.8 % where they differ by about their
    error, and 89.9 to 90.2 % where they differ far more (each +- 0.1)."""
    draw = np.random.default_rng(1983)
    bags = count(150, 20_000)
    for k in (4, 8, 13):
        for tau in (0.0, 0.5, 1.0, 3.0):
            held = []
            for _ in range(bags):
                variances, true = draw.uniform(0.2, 3, k), draw.normal(0, tau, k)
                raw = true + draw.normal(size=k) * np.sqrt(variances)
                low, high = shrink(raw, variances, np.zeros(k) if given else None).interval(0.9)
                held.append(np.mean((low <= true) & (true <= high)))
            error = float(np.std(held, ddof=1)) / bags**0.5
            assert np.mean(held) > 0.895 - 3 * error, (k, tau, np.mean(held), error)


@pytest.mark.simulation
@pytest.mark.parametrize("tau", some([0.0, 0.04, 0.08, 0.2], 2))
def test_intervals_of_bags_hold_the_truth(tau: float) -> None:
    """90 % intervals of a season's clubs, variances and centres estimated. Measured with 700 bags each:
    97.9, 92.8, 90.0 and 91.4 % (+- 0.3 or 0.4) for clubs that differ by 0, 0.04, 0.08 and 0.2 strokes."""
    draw = np.random.default_rng(1983)
    held = []
    for _ in range(count(30, 700)):
        group, round_, lie, band, values, truth = bag(draw, tau)
        made = round_sums(group, round_, values, 13, 12)
        known = made.shots.sum(axis=1) >= 5
        made = RoundSums(made.shots[known], made.strokes[known])
        raw = made.strokes.sum(axis=1) / made.shots.sum(axis=1)
        like = like_starts(group, lie, band, values, 13)
        borrowed = like.borrowed[np.ix_(known, known)]
        found = shrink(raw, sampling_variances(made), like.centre[known], borrowed=borrowed)
        low, high = found.interval(0.9, variance_freedom(made))
        held.append(np.mean((low <= truth[known]) & (truth[known] <= high)))
    error = float(np.std(held, ddof=1)) / len(held) ** 0.5
    assert np.mean(held) > 0.9 - 3 * error, (np.mean(held), error)
