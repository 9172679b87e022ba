"""What putting as the baseline's golfers do is worth beside the player's own, from the player's own first putts."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.expected_strokes.fit import own_curves, strokes_to_hole_out
from server.game.lies import GREEN

REDRAWN: Final = 60
"""Samples of rounds, for the interval."""


def first_putts(valued: pd.DataFrame) -> tuple[Floats, Floats]:
    """Yards of every first putt of the ball of record, and yards of the shot before it (n,) each. `valued`: as
    `valued_shots` returns it."""
    ball = valued[valued["ball"].eq(1)].sort_values("order", kind="stable")
    keys = [ball["round_id"].astype("object"), ball["hole"]]
    green = ball["lie"].astype("object").eq(GREEN).to_numpy(dtype=np.bool_)
    before = ball["distance_yd"].groupby(keys, sort=False).shift(1).to_numpy(dtype=np.float64)
    was_green = pd.Series(green, index=ball.index).groupby(keys, sort=False).shift(1)
    first = green & was_green.eq(False).to_numpy(dtype=np.bool_) & np.isfinite(before)
    yards = ball["distance_yd"].to_numpy(dtype=np.float64)
    sound = first & np.isfinite(yards) & (yards > 0)
    return yards[sound], before[sound]


def better_putting(yards: Floats, own: Baseline, other: Baseline) -> float:
    """Strokes a hole that first putts of these lengths cost more by the own curve than by the other one, on average;
    0 for none."""
    if not yards.size:
        return 0.0
    return float(np.mean(own.expected(GREEN, yards) - other.expected(GREEN, yards)))


def off_green(valued: pd.DataFrame, own: Baseline, other: Baseline, near_yd: float) -> float:
    """What the other putting is worth where a shot is played from off the green within `near_yd` yards: less than 0
    where it is better."""
    yards, before = first_putts(valued)
    return -better_putting(yards[before < near_yd], own, other)


def redrawn(valued: pd.DataFrame, own: Baseline, other: Baseline) -> Floats:
    """How much more or less than in the rounds as they were played the other putting saves a hole when the same number
    of rounds is drawn anew from them (`REDRAWN`,): the bootstrap over rounds."""
    starts = strokes_to_hole_out(valued)
    yards, _ = first_putts(valued)
    known = better_putting(yards, own, other)
    parts = [part for _, part in starts.groupby("round_id", sort=False)]
    rng = np.random.default_rng(12)
    found = np.zeros(REDRAWN)
    for place in range(REDRAWN):
        picked = [
            parts[number].assign(round_id=f"{count}")
            for count, number in enumerate(rng.integers(0, len(parts), len(parts)))
        ]
        found[place] = better_putting(yards, own_curves(pd.concat(picked), other), other) - known
    return found
