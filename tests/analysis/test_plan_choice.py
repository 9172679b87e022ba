"""The choice between options, made again in every draw."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from server.analysis.plan.choice import (
    NO_DIFFERENCE,
    NO_SHAPE,
    Candidate,
    chances_best,
    choice,
    difference,
    paired,
    shape_rows,
)


def candidate(name: str, mean: float, sd: float, seed: int, shape: str | None = None) -> Candidate:
    drawn = np.random.default_rng(seed).normal(mean, sd, 4000)
    return Candidate(name, 0.0, mean, drawn, "driver", shape)


def test_the_chance_to_be_the_best_is_the_normal_integral_and_sums_to_one() -> None:
    options = [candidate("a", 4.0, 0.1, 1), candidate("b", 4.1, 0.1, 2)]
    chances = chances_best(paired([one.drawn for one in options]))
    assert chances.sum() == pytest.approx(1.0)
    assert chances[0] == pytest.approx(stats.norm.cdf(0.1 / np.hypot(0.1, 0.1)), abs=0.03)


def test_a_known_pattern_is_planned_beside_drawn_ones_and_without_options_there_is_nothing() -> None:
    drawn = paired([np.array([4.0]), np.array([3.9, 4.1, 4.2, 3.8])])
    assert drawn.shape == (4, 2)
    assert chances_best(drawn).tolist() == [0.5, 0.5]
    assert paired([]).shape == (0, 0)
    assert choice([], paired([]))["best"] is None


def test_the_same_draws_are_not_paired_with_themselves() -> None:
    """Two clubs with the same shots have the same draws: paired as they came, one could never be told better, and
    the interval would be a point."""
    one = candidate("a", 4.0, 0.1, 1)
    found = difference(one, one, paired([one.drawn, one.drawn]))
    assert found.chance == pytest.approx(0.5, abs=0.05)
    assert found.high - found.low == pytest.approx(2 * 1.645 * 0.1 * np.sqrt(2), rel=0.1)


@pytest.mark.parametrize(
    ("costs", "sd", "said"),
    [(0.2, 0.02, True), (0.04, 0.002, False), (0.2, 0.15, False)],
    ids=["clear", "sure but small", "large but unsure"],
)
def test_better_is_reported_only_of_a_difference_that_is_sure_and_large_enough(
    costs: float, sd: float, said: bool
) -> None:
    options = [candidate("a", 4.0, sd, 1), candidate("b", 4.0 + costs, sd, 2)]
    made = choice(options, paired([one.drawn for one in options]))
    assert made["verdict"] == ("a is better" if said else NO_DIFFERENCE)
    assert made["second"] is not None
    assert made["second"]["costs"] == pytest.approx(costs)


def test_the_shape_that_suits_is_named_under_the_same_rule() -> None:
    fade, draw = candidate("driver, fade", 4.0, 0.02, 1, "fade"), candidate("driver, draw", 4.2, 0.02, 2, "draw")
    iron = candidate("iron", 4.1, 0.02, 3)
    drawn = paired([one.drawn for one in (fade, iron, draw)])
    (row,) = shape_rows([fade, iron, draw], drawn)
    assert (row["club"], row["shape"], row["against"], row["verdict"]) == ("driver", "fade", "draw", "suits a fade")
    assert row["costs"] == pytest.approx(0.2)
    assert row["chance"] > 0.99
    close = candidate("driver, draw", 4.03, 0.02, 2, "draw")
    (row,) = shape_rows([fade, close], paired([fade.drawn, close.drawn]))
    assert row["verdict"] == NO_SHAPE
    assert shape_rows([fade, iron], drawn[:, :2]) == []


def test_nearly_every_ball_out_of_bounds_is_a_difference_without_bound() -> None:
    one, other = candidate("a", 4.0, 0.1, 1), Candidate("b", 0.0, 9.0, np.full(4000, np.inf))
    found = difference(one, other, paired([one.drawn, other.drawn]))
    assert (found.low, found.high, found.chance) == (10.0, 10.0, 1.0)
