"""Invented seasons with a known truth, many at once."""

from __future__ import annotations

from typing import Any

import numpy as np

from server.analysis.evidence.intervals import RoundSums

CLEAN_SD = 0.3
MISHIT_SHARE = 0.1
LEAST_LOSS, MORE_LOSS = 0.3, 0.5
"""Strokes gained of a shot: normal, and in a tenth of shots less by 0.3 and an exponential of mean 0.5: skewed, as
mishits and penalties are."""

MEAN_MISHIT = -MISHIT_SHARE * (LEAST_LOSS + MORE_LOSS)


def shot_values(draw: np.random.Generator, shape: Any) -> Any:
    """Strokes gained of shots with mean `MEAN_MISHIT`."""
    loss = LEAST_LOSS + draw.exponential(MORE_LOSS, shape)
    return draw.normal(0, CLEAN_SD, shape) - (draw.random(shape) < MISHIT_SHARE) * loss


def seasons(seed: int, count: int, rounds: int, a_round: float, round_sd: float) -> RoundSums:
    """`count` seasons of one club, used Poisson(`a_round`) times a round, with a common effect a round: each season is
    a group. True mean a shot: `MEAN_MISHIT`; a round: `a_round` times that."""
    draw = np.random.default_rng(seed)
    shots = draw.poisson(a_round, (count, rounds))
    values = shot_values(draw, (count, rounds, int(shots.max())))
    hit = np.arange(values.shape[2]) < shots[..., None]
    strokes = (values * hit).sum(axis=2) + shots * draw.normal(0, round_sd, (count, rounds))
    return RoundSums(shots.astype(np.float64), strokes)
