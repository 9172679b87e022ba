"""The latest rounds in a line, and whether their second half differs from the first beyond chance and courses."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.special import ndtri

from server.analysis.evidence.course_allowance import NOTHING, Allowance
from server.analysis.evidence.intervals import DEFAULT_LEVEL, Floats, freedom_per_shot, ratio_intervals
from server.analysis.evidence.round_lengths import FULL_ROUND
from server.analysis.evidence.rows import Trend
from server.analysis.evidence.two_spans import welch

LEAST_ROUNDS: Final = 3
"""Rounds in each half below which nothing is stated of a trend: a stated choice."""


def weights_of_halves(holes: Floats) -> Floats:
    """How each of the rounds weighs in the difference of the halves, later less earlier. Shape (rounds,)."""
    later = np.arange(holes.size) >= _cut(holes.size)
    weights = np.zeros(holes.size)
    for half, sign in ((later, 1.0), (~later, -1.0)):
        weights[half] = sign * holes[half] / holes[half].sum()
    return weights


def _cut(count: int) -> int:
    return (count + 1) // 2


def recent_trend(strokes: Floats, holes: Floats, level: float = DEFAULT_LEVEL, courses: Allowance = NOTHING) -> Trend:
    """The later half of some rounds against the earlier half, by Welch's interval of `two_spans`, widened by what
    courses may add.

    `strokes`: strokes gained of the ball of record in each round, earliest first, shape (rounds,), no NaN; `holes`: how
    many holes they come from, same shape, at least 1. Everything is a round of 18 holes (`round_lengths`): nine holes
    lose about half of what eighteen do, which is no change of the player. `courses`: what the courses played are likely
    to add to the difference (`weights_of_halves`), taken off it, and how sure that is.
    """
    count = strokes.size
    cut = _cut(count)
    parts = holes / FULL_ROUND
    row: Trend = {
        "rounds": int(count),
        "mean": float(strokes.sum() / parts.sum()) if count else None,
        "later": None,
        "earlier": None,
        "difference": None,
        "low": None,
        "high": None,
        "words": f"too few rounds for a trend: at least {2 * LEAST_ROUNDS} are needed",
    }
    if count - cut < LEAST_ROUNDS:
        return row
    halves = [(strokes[None, part], parts[None, part]) for part in (slice(cut, None), slice(cut))]
    means = [ratio_intervals(*half, level) for half in halves]
    found = welch(means, [freedom_per_shot(half[1]) for half in halves], level)
    low, high = (float(found[name][0]) for name in ("_low", "_high"))
    later, earlier = (float(mean.mean[0]) for mean in means)
    row = {**row, "later": later, "earlier": earlier, "difference": later - earlier - courses.mean}
    if np.isnan(low):
        return {**row, "words": "rounds all equal: no spread to judge by"}
    reach = float(np.hypot((high - low) / 2, ndtri((1 + level) / 2) * courses.sd))
    low, high = (later - earlier - courses.mean + end for end in (-reach, reach))
    words = "better of late" if low > 0 else "worse of late" if high < 0 else "no clear change"
    return {**row, "low": low, "high": high, "words": words}
