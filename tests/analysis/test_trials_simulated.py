"""Trials of two equal clubs say "better" in at most 5 % each way; a true difference is found with shots enough."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.matched import Matched, compare_matched
from tests.analysis.simulated_seasons import shot_values

pytestmark = pytest.mark.simulation

TRIALS = 2000
PLACES_A = np.array([0.35, 0.25, 0.20, 0.10, 0.07, 0.03])
PLACES_B = np.array([0.10, 0.20, 0.25, 0.20, 0.15, 0.10])
"""From where the two clubs are used: not alike, so that a plain difference of means would be wrong."""

OF_A_PLACE = np.linspace(-0.15, 0.15, 6)


def trial(draw: np.random.Generator, rounds: int, a_round: tuple[float, float], gain: float, split: bool) -> Matched:
    """One season of two clubs. `split`: A in the later half of the rounds, B in the earlier, as two setups are."""
    shots = [draw.poisson(usual, rounds) for usual in a_round]
    if split:
        shots[0][: rounds // 2] = shots[1][rounds // 2 :] = 0
    round_ = np.concatenate([np.repeat(np.arange(rounds), number) for number in shots])
    a = np.repeat([True, False], [number.sum() for number in shots])
    place = np.concatenate(
        [draw.choice(6, number.sum(), p=share) for number, share in zip(shots, (PLACES_A, PLACES_B), strict=True)]
    )
    common: Any = draw.normal(0, 0.05, rounds)
    values = shot_values(draw, a.size) + OF_A_PLACE[place] + common[round_] + gain * a
    return compare_matched(a, place, round_, values, 0.9)


@pytest.mark.parametrize("split", [False, True])
@pytest.mark.parametrize("rounds", [6, 12, 40])
def test_two_equal_clubs(rounds: int, split: bool) -> None:
    draw = np.random.default_rng([rounds, split])
    found = [trial(draw, rounds, (4.0, 3.0), 0.0, split) for _ in range(TRIALS)]
    said = [one for one in found if one.low is not None and one.high is not None]
    assert len(said) > TRIALS / 2
    assert sum(one.low > 0 for one in said) <= 0.05 * len(said)
    assert sum(one.high < 0 for one in said) <= 0.05 * len(said)


def test_a_plain_difference_of_means_would_mislead_here() -> None:
    """Shots from hard places are A's: the simulation would catch a method that forgets the strata."""
    assert (PLACES_A - PLACES_B) @ OF_A_PLACE < -0.05


@pytest.mark.parametrize(("rounds", "gain", "least"), [(40, 0.2, 0.9), (40, -0.2, 0.9), (12, 0.4, 0.9)])
def test_a_true_difference_is_found(rounds: int, gain: float, least: float) -> None:
    draw = np.random.default_rng([rounds, 7])
    found = [trial(draw, rounds, (6.0, 6.0), gain, False) for _ in range(200)]
    rightly = [one for one in found if one.low is not None and one.high is not None]
    assert np.mean([one.low > 0 if gain > 0 else one.high < 0 for one in rightly]) >= least
    assert np.mean([one.difference for one in rightly]) == pytest.approx(gain, abs=0.02)
