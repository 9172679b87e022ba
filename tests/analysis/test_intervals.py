"""Intervals by hand, and where nothing can be said."""

from __future__ import annotations

from functools import reduce
from operator import add

import numpy as np
import pytest
from scipy import stats

from server.analysis.evidence.intervals import (
    ALIKE,
    BOOTSTRAP_T,
    METHODS,
    TOO_FEW,
    RoundSums,
    across,
    checked_level,
    per_round,
    per_shot,
    ratio_intervals,
    reasons,
    resampled,
    resampling_weights,
    round_sums,
)

EXACT = 1e-9
T1, T2 = 6.313751514675043, 2.919985580355516
"""95 % quantiles of Student's t with 1 and 2 degrees of freedom, any table."""

T15 = stats.t.ppf(0.95, 1.5)
"""With two rounds that hold the club and one that does not: (3 + 2)/2 - 1 degrees of freedom."""


def one_group(*rounds: list[float]) -> RoundSums:
    """Sums of one group from its shots, round by round."""
    round_ = np.repeat(np.arange(len(rounds)), [len(shots) for shots in rounds])
    values = np.array([value for shots in rounds for value in shots])
    return round_sums(np.zeros(round_.size, dtype=int), round_, values, 1, len(rounds))


def test_sums_by_group_and_round() -> None:
    found = round_sums(np.array([0, 1, 0, 1, 1]), np.array([0, 0, 2, 2, 2]), np.array([0.1, 0.2, 0.4, 0.8, 1.6]), 2, 3)
    assert found.shots.tolist() == [[1, 0, 1], [1, 0, 2]]
    assert found.strokes == pytest.approx(np.array([[0.1, 0, 0.4], [0.2, 0, 2.4]]))


@pytest.mark.parametrize(
    ("groups", "rounds"), [(1, 300), (2, 300), (90, 280), (700, 60), (3, 1), (3, 0), (1, 0), (0, 4)]
)
def test_rows_are_added_from_left_to_right_whatever_stands_beside_them(groups: int, rounds: int) -> None:
    """To the bit: a sum in pairs, or one that rounds of nothing behind it move, would tell a player other figures."""
    figures = np.random.default_rng(groups).normal(0, 1, (groups, rounds))
    expected = [reduce(add, row.tolist(), 0.0) for row in figures]
    assert across(figures).tolist() == expected
    assert across(np.asfortranarray(figures)).tolist() == expected
    assert across(np.hstack([figures, np.zeros((groups, 37))])).tolist() == expected
    assert across(np.vstack([figures, np.ones((5, rounds))])).tolist()[:groups] == expected


def test_two_rounds_by_hand() -> None:
    """0.3 in 3 shots and -0.1 in 2: mean 0.04 a shot, 0.1 and -0.05 without either; 0.1 a round +- T1 * 0.2."""
    made = one_group([0.1, 0.1, 0.1], [-0.2, 0.1])
    error = np.sqrt(0.5 * ((0.1 - 0.04) ** 2 + (-0.05 - 0.04) ** 2))
    found = per_shot(made, 0.9)
    assert (found.mean[0], found.standard_error[0], found.clusters[0]) == pytest.approx((0.04, error, 2), abs=EXACT)
    assert (found.low[0], found.high[0]) == pytest.approx((0.04 - T1 * error, 0.04 + T1 * error), abs=EXACT)
    round_ = per_round(made, 0.9)
    assert (round_.mean[0], round_.low[0], round_.high[0]) == pytest.approx((0.1, 0.1 - T1 * 0.2, 0.1 + T1 * 0.2))


def test_a_round_without_the_club_counts_0_a_round_and_nothing_a_shot() -> None:
    made = one_group([0.1, 0.1, 0.1], [], [-0.2, 0.1])
    assert per_shot(made).mean[0] == pytest.approx(0.04)
    assert per_shot(made).clusters[0] == 2
    every = per_round(made)
    assert (every.mean[0], every.clusters[0]) == (pytest.approx(0.2 / 3), 3)
    assert every.high[0] - every.mean[0] == pytest.approx(T15 * np.std([0.3, 0, -0.1], ddof=1) / np.sqrt(3))
    full = one_group([0.1, 0.1, 0.1], [0.0], [-0.2, 0.1])
    every = per_round(full)
    assert every.high[0] - every.mean[0] == pytest.approx(T2 * np.std([0.3, 0, -0.1], ddof=1) / np.sqrt(3))
    own = per_round(made, counted=made.shots > 0)
    assert (own.mean[0], own.clusters[0]) == (pytest.approx(0.1), 2)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(
    ("rounds", "reason"),
    [
        ([[0.1]], TOO_FEW),
        ([[0.1, 0.2, 0.3, -0.4, 0.5, 0.6]], TOO_FEW),
        ([[0.1, 0.2], [0.3, -0.4]], TOO_FEW),
        ([[0.1, 0.2, 0.3, 0.1, 0.5, -0.6], []], TOO_FEW),
        ([[0.1] * 4, [0.1] * 2], ALIKE),
        ([[0.0] * 3, [0.0] * 3, [0.0] * 3], ALIKE),
    ],
)
def test_without_an_interval_there_is_a_mean_and_a_reason(rounds: list[list[float]], reason: str, method: str) -> None:
    made = one_group(*rounds)
    found = per_shot(made, method=method)
    assert found.mean[0] == pytest.approx(made.strokes.sum() / made.shots.sum())
    assert np.isnan([found.low[0], found.high[0], found.standard_error[0]]).all()
    assert reasons(made, found) == [reason]
    if reason == TOO_FEW:
        assert np.isnan(per_round(made, method=method).low[0])


@pytest.mark.parametrize("method", METHODS)
def test_no_shots_and_no_groups(method: str) -> None:
    nothing = RoundSums(np.zeros((1, 3)), np.zeros((1, 3)))
    found = per_shot(nothing, method=method)
    assert np.isnan(found.mean[0])
    assert reasons(nothing, found) == [TOO_FEW]
    empty = RoundSums(np.zeros((0, 3)), np.zeros((0, 3)))
    assert per_shot(empty, method=method).low.shape == (0,)


def test_exactly_5_shots_in_2_rounds_are_enough() -> None:
    made = one_group([0.1, 0.2, 0.3], [0.1, 0.5])
    found = per_shot(made)
    assert not np.isnan(found.low[0])
    assert reasons(made, found) == [None]


@pytest.mark.parametrize("method", METHODS)
def test_groups_do_not_touch_each_other_and_higher_levels_are_wider(method: str) -> None:
    draw = np.random.default_rng(2)
    made = RoundSums(draw.poisson(4, (3, 15)).astype(float), draw.normal(0, 1, (3, 15)))
    made = made._replace(strokes=np.where(made.shots > 0, made.strokes, 0.0))
    found = per_shot(made, method=method)
    for group in range(3):
        alone = per_shot(RoundSums(made.shots[[group]], made.strokes[[group]]), method=method)
        assert (alone.low[0], alone.high[0]) == pytest.approx((found.low[group], found.high[group]), abs=EXACT)
    wide = per_shot(made, 0.99, method=method)
    assert (wide.low < found.low).all()
    assert (wide.high > found.high).all()
    assert ((found.low < found.mean) & (found.mean < found.high)).all()


def test_adding_a_constant_moves_the_interval_and_order_of_rounds_does_not_matter() -> None:
    made = one_group([0.1, -0.5, 0.2], [0.3, 0.2], [0.0, -0.1, 0.4, 0.3])
    found = per_shot(made)
    moved = per_shot(made._replace(strokes=made.strokes + 0.25 * made.shots))
    for before, after in zip(found[:3], moved[:3], strict=True):
        assert after[0] == pytest.approx(before[0] + 0.25, abs=EXACT)
    turned = per_shot(RoundSums(made.shots[:, ::-1], made.strokes[:, ::-1]))
    assert [part[0] for part in turned] == pytest.approx([part[0] for part in found], abs=EXACT)


def test_bootstrap_t_is_what_a_loop_over_whole_rounds_gives() -> None:
    """Resample by resample from the rounds themselves, with the same draws."""
    draw = np.random.default_rng(11)
    counts, strokes = 1.0 + draw.poisson(3, 9), draw.normal(0, 1, 9)
    weights = resampling_weights(9, 300, seed=4)
    mean = strokes.sum() / counts.sum()

    def error(chosen: np.ndarray, ratio: float) -> float:
        rest = strokes[chosen] - ratio * counts[chosen]
        return float(np.sqrt(9 / 8 * (rest**2).sum()) / counts[chosen].sum())

    studentised = []
    for times in weights:
        chosen = np.repeat(np.arange(9), times.astype(int))
        ratio = strokes[chosen].sum() / counts[chosen].sum()
        studentised.append((ratio - mean) / error(chosen, ratio))
    own = error(np.arange(9), mean)
    found = ratio_intervals(strokes[None], counts[None], 0.9, method=BOOTSTRAP_T, resamples=300, seed=4)
    wanted = [mean - np.quantile(studentised, part) * own for part in (0.95, 0.05)]
    assert (found.low[0], found.high[0]) == pytest.approx(wanted, abs=EXACT)


def test_resampling_weights_are_whole_rounds_and_repeat_with_the_seed() -> None:
    weights = resampling_weights(12, 500, seed=1)
    assert weights.shape == (500, 12)
    assert (weights.sum(axis=1) == 12).all()
    assert (weights == resampling_weights(12, 500, seed=1)).all()
    assert (weights != resampling_weights(12, 500, seed=2)).any()
    assert weights.mean(axis=0) == pytest.approx(np.ones(12), abs=4 * np.sqrt(1 / 500))


def test_a_resample_that_holds_a_club_in_one_round_alone_has_no_error() -> None:
    strokes, counts = np.array([[0.5, 0.0, -0.3]]), np.array([[2.0, 0.0, 1.0]])
    ratio, error = resampled(strokes, counts, np.array([[3.0, 0, 0], [1, 2, 0], [0, 3, 0], [1, 1, 1]]))
    assert ratio[:2, 0] == pytest.approx([0.25, 0.25])
    assert np.isnan(ratio[2, 0])
    assert error[0, 0] == pytest.approx(0)
    assert np.isnan(error[1:3, 0]).all()
    assert error[3, 0] > 0


def test_settings_outside_their_range_are_refused() -> None:
    for level in (0.0, 0.4, 0.999, 1.0, float("nan")):
        with pytest.raises(ValueError, match=r"level: .* is outside 0\.5 to 0\.99"):
            checked_level(level)
    with pytest.raises(ValueError, match="method: 'guess' is not one of t, bootstrap_t"):
        ratio_intervals(np.ones((1, 3)), np.ones((1, 3)), method="guess")
