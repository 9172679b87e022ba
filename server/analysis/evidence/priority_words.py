"""What to log or practise next for a part of the game that costs strokes: one sentence out of the shots themselves.

It gives what the shots show and what measurement would show more. It is evidence to talk over, not a coach's advice;
the practices it names are common practice, no source.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from server.game.categories import OFF_THE_TEE, PUTTING
from server.game.numbers import plain
from server.game.units import FEET_PER_YARD

ENOUGH_TAPPED: Final = 0.5
"""Below this share of shots with a tapped finish the next step is to log it."""
LEAST_TAPPED: Final = 10
CLEAR: Final = 2.0
"""A lean counts when it is this many standard errors from 0."""
LEAST_SIDE: Final = 0.6
"""... and at least this share of the shots are on that side, so that a few mishits are not taken for a lean."""
SPREAD_PRACTICE: Final = (
    "hit ten balls from this distance at one target in a practice round, log them as extra balls, "
    "and see whether it narrows"
)
SHORT_PUTT_FT: Final = 15


def next_step(category: str, distance: str, shots: pd.DataFrame) -> str:
    """One sentence. `shots`: the cell's rows of a frame as `valued_shots` returns it."""
    if category == PUTTING:
        return _putts(distance, shots)
    right, long = (shots[name].to_numpy(dtype=np.float64) for name in ("right_yd", "long_yd"))
    tapped = np.isfinite(right) & np.isfinite(long)
    if tapped.sum() < max(LEAST_TAPPED, ENOUGH_TAPPED * len(shots)):
        return (
            f"Next: log the finish (right or left, long or short) of these shots; {int(tapped.sum())} of {len(shots)} "
            "have one, too few to separate length from direction."
        )
    lean = _lean(right[tapped], long[tapped])
    trouble = _trouble(shots) if category == OFF_THE_TEE or distance.startswith("par") else ""
    if lean:
        return f"Next: {trouble}{lean}"
    do = "compare the clubs used there in a trial" if trouble or category == OFF_THE_TEE else SPREAD_PRACTICE
    return f"Next: {trouble}the misses go both ways, long and short, left and right, so look at the spread first; {do}."


def _lean(right: Any, long: Any) -> str:
    """The clearest lean of the finishes, in words; empty where there is none."""
    leans = []
    for values, plus, minus, check in (
        (long, "long", "short", "check the distances that the clubs are chosen by"),
        (right, "right", "left", "check aim and planned shape"),
    ):
        error = values.std(ddof=1) / np.sqrt(values.size)
        if error > 0 and abs(values.mean()) > CLEAR * error:
            side, share = (plus, (values > 0).mean()) if values.mean() > 0 else (minus, (values < 0).mean())
            if share < LEAST_SIDE:
                continue
            size, often = plain(abs(values.mean()), 0), plain(100 * share, 0)
            where = f"they finish {size} yd {side} of the target on average ({often} of 100"
            leans.append((abs(values.mean()) / error, f"{where} {side}); {check} before the swing."))
    return max(leans)[1] if leans else ""


def _trouble(shots: pd.DataFrame) -> str:
    """Penalties and recovery lies after tee shots, in words."""
    penalties = int(shots["penalty_strokes"].gt(0).sum())
    recovery = int(shots["end_lie"].astype("object").eq("recovery").sum())
    if not penalties + recovery:
        return ""
    return f"{penalties} of {len(shots)} brought a penalty and {recovery} ended in a recovery lie; "


def _putts(distance: str, shots: pd.DataFrame) -> str:
    far = int(distance.split(" to ", maxsplit=1)[0]) >= SHORT_PUTT_FT
    missed = shots[~shots["holed"].to_numpy(dtype=bool) & shots["end_distance_yd"].notna().to_numpy()]
    leave = missed["end_distance_yd"].to_numpy(dtype=np.float64) * FEET_PER_YARD
    if far and leave.size >= LEAST_TAPPED:
        close = 100 * float((leave <= 3).mean())
        return (
            f"Next: {plain(close, 0)} of 100 misses stop within 3 ft (median {np.median(leave):.1f} ft); practise the "
            "pace of long putts, and log whether misses stop short or go past."
        )
    holed = 100 * float(shots["holed"].mean())
    return (
        f"Next: {plain(holed, 0)} of 100 holed; practise the start line from these lengths, and record on which side "
        "the misses pass."
    )
