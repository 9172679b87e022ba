"""90 % intervals hold the truth in 87 to 93 % of seasons, at 6, 12 and 40 rounds."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.intervals import Intervals, RoundSums, per_round, per_shot
from tests.analysis.simulated_seasons import MEAN_MISHIT, seasons
from tests.tiers import some

pytestmark = pytest.mark.simulation

BAND = (0.87, 0.93)
SEASONS = 1000
KINDS = {
    "a long iron": (5.0, 0.05),
    "a driver": (13.0, 0.03),
    "the whole bag": (75.0, 0.02),
}
"""Shots a round, and the spread of what the shots of one round have in common."""


def held(found: Intervals, truth: float) -> float:
    """Share of the seasons with an interval whose interval holds the truth."""
    said = ~np.isnan(found.low)
    assert said.mean() > 0.7
    return float(((found.low <= truth) & (truth <= found.high))[said].mean())


@pytest.mark.parametrize("rounds", some([6, 12, 40], 1))
@pytest.mark.parametrize("kind", KINDS)
def test_a_shot_and_a_round(kind: str, rounds: int) -> None:
    a_round, round_sd = KINDS[kind]
    made = seasons(rounds, SEASONS, rounds, a_round, round_sd)
    assert BAND[0] <= held(per_shot(made), MEAN_MISHIT) <= BAND[1]
    assert BAND[0] <= held(per_round(made), a_round * MEAN_MISHIT) <= BAND[1]


@pytest.mark.parametrize("rounds", some([6, 12, 40], 0))
def test_a_club_used_about_once_a_round(rounds: int) -> None:
    """The hardest case lies nearest to the band's edges, so that more seasons are simulated to place it."""
    made = seasons(100 + rounds, 4 * SEASONS, rounds, 1.2, 0.05)
    assert BAND[0] <= held(per_shot(made), MEAN_MISHIT) <= BAND[1]
    assert BAND[0] <= held(per_round(made), 1.2 * MEAN_MISHIT) <= BAND[1]


def test_the_check_can_fail_shots_taken_as_independent_are_too_sure() -> None:
    """With a strong common effect a round, every shot as a cluster of its own holds the truth far too seldom."""
    made = seasons(1, SEASONS, 12, 13.0, 0.2)
    assert BAND[0] <= held(per_shot(made), MEAN_MISHIT) <= BAND[1]
    assert held(as_if_independent(made), MEAN_MISHIT) < BAND[0]


def as_if_independent(made: RoundSums) -> Intervals:
    """Each round's shots spread evenly around the known spread of one shot: the usual error s / sqrt(n)."""
    shots = made.shots.sum(axis=1)
    mean: Any = made.strokes.sum(axis=1) / shots
    error = np.sqrt(0.3**2 + 0.1 * (0.3**2 + 2 * 0.3 * 0.5 + 2 * 0.5**2) - MEAN_MISHIT**2 + 0.2**2) / np.sqrt(shots)
    return Intervals(mean, mean - 1.645 * error, mean + 1.645 * error, error, shots)
