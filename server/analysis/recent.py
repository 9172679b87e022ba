"""The latest rounds in a line, and whether their second half differs from the first beyond chance."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from server.analysis.intervals import USUAL_LEVEL, Floats, freedom_per_shot, ratio_intervals
from server.analysis.two_spans import welch

LEAST_ROUNDS: Final = 3
"""Rounds in each half below which nothing is said of a trend: a stated choice."""


WHOLE_ROUND: Final = 18.0
BY_18: Final = " (strokes for 18 holes)"


def recent_trend(strokes: Floats, holes: Floats | None = None, level: float = USUAL_LEVEL) -> dict[str, Any]:
    """The later half of some rounds against the earlier half, by Welch's interval of `two_spans`.

    `strokes`: strokes gained in each round, earliest first, shape (rounds,), no NaN; of an odd number the earlier half
    has one more. `holes`: how many holes they come from, same shape, at least 1; None: equally many. Rounds of unequal
    length are compared by strokes for 18 holes, and the words say so: nine holes lose about half of what eighteen do,
    which is no change of the player. Returns rounds, mean (a round, whatever its length), later and earlier (means),
    difference, low, high (None where too little is known) and words.
    """
    count = strokes.size
    cut = (count + 1) // 2
    row: dict[str, Any] = {"rounds": int(count), "mean": float(strokes.mean()) if count else None}
    lacking = dict.fromkeys(("later", "earlier", "difference", "low", "high"))
    if count - cut < LEAST_ROUNDS:
        return row | lacking | {"words": f"too few rounds for a trend: {2 * LEAST_ROUNDS} are the least"}
    unequal = holes is not None and np.ptp(holes) > 0
    lengths = np.ones_like(strokes) if holes is None or not unequal else holes / WHOLE_ROUND
    halves = [(strokes[None, part], lengths[None, part]) for part in (slice(cut, None), slice(cut))]
    means = [ratio_intervals(*half, level) for half in halves]
    found = welch(means, [freedom_per_shot(half[1]) for half in halves], level)
    low, high = (float(found[name][0]) for name in ("_low", "_high"))
    said = {name: float(mean.mean[0]) for name, mean in zip(("later", "earlier"), means, strict=True)}
    row |= said | {"difference": said["later"] - said["earlier"]}
    if np.isnan(low):
        return row | {"low": None, "high": None, "words": "rounds all alike: no spread to judge by"}
    words = "better of late" if low > 0 else "worse of late" if high < 0 else "no clear change"
    return row | {"low": low, "high": high, "words": words + BY_18 if unequal else words}
