"""The latest rounds in a line, and whether their second half differs from the first beyond chance."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from server.analysis.intervals import USUAL_LEVEL, Floats, ratio_intervals
from server.analysis.two_spans import welch

LEAST_ROUNDS: Final = 3
"""Rounds in each half below which nothing is said of a trend: a stated choice."""


def recent_trend(strokes: Floats, level: float = USUAL_LEVEL) -> dict[str, Any]:
    """The later half of some rounds against the earlier half, by Welch's interval of `two_spans`.

    `strokes`: strokes gained in each round, earliest first, shape (rounds,), no NaN; of an odd number the earlier half
    has one more. Returns rounds, mean, later and earlier (means), difference, low, high (None where too little is
    known) and words.
    """
    count = strokes.size
    cut = (count + 1) // 2
    row: dict[str, Any] = {"rounds": int(count), "mean": float(strokes.mean()) if count else None}
    lacking = dict.fromkeys(("later", "earlier", "difference", "low", "high"))
    if count - cut < LEAST_ROUNDS:
        return row | lacking | {"words": f"too few rounds for a trend: {2 * LEAST_ROUNDS} are the least"}
    halves = [strokes[None, cut:], strokes[None, :cut]]
    means = [ratio_intervals(half, np.ones_like(half), level) for half in halves]
    found = welch(means, [np.array([half.size - 1.0]) for half in halves], level)
    low, high = (float(found[name][0]) for name in ("_low", "_high"))
    said = {"later": float(strokes[cut:].mean()), "earlier": float(strokes[:cut].mean())}
    row |= said | {"difference": said["later"] - said["earlier"]}
    if np.isnan(low):
        return row | {"low": None, "high": None, "words": "rounds all alike: no spread to judge by"}
    words = "better of late" if low > 0 else "worse of late" if high < 0 else "no clear change"
    return row | {"low": low, "high": high, "words": words}
