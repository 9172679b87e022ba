"""How much of a club's length is carry, from the carries that the player recorded beside the stated default.

Of each full swing from a good lie whose carry C and total length T are known, the share that it would have been on
medium ground,

    s = 1 / (1 + (T / C - 1) / run),

where `run` is how far a ball runs on the day's ground beside medium ground (`flight.RUN`); a ball that came back by
backspin (T < C) is left as it is. log s is normal around the club's own, log S, and log S normal around the stated
default's: so the default is worth `PRIOR_SHOTS` shots, and with n of one's own

    log S = (PRIOR_SHOTS log default + sum log s) / (PRIOR_SHOTS + n).

A swing farther than `FARTHEST_OFF` standard deviations from S counts as one that far off (Huber, Annals of Mathematical
Statistics 35 (1964) 73-101), so that one wrong record moves little. The plan takes S as known. The spreads are choices
of this tool.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import MEDIUM, RUN, Flight
from server.game.ranges import CARRY_BEYOND_YD

SHOT_SPREAD: Final = 0.06
"""How far the share of one shot lies from the club's own, in its logarithm: slopes, bounces, and carries that are
judged by eye. About 14 yd of 240."""
CLUB_SPREAD: Final = 0.03
"""How far the shares of players' clubs of one type lie from the stated default, in the logarithm."""
PRIOR_SHOTS: Final = (SHOT_SPREAD / CLUB_SPREAD) ** 2
"""What the stated default is worth: 4 shots."""
FARTHEST_OFF: Final = 3.0
LEAST_SHARE: Final = 0.5
"""A ball that flew less than this share of its way was topped, or is a wrong record: it shows nothing of the flight."""
_STEPS: Final = 100

Carries = Mapping[str, Floats]
"""Club -> carry as a share of the total length on medium ground, one for each swing that records it."""


def own_carries(valued: pd.DataFrame, swings: pd.DataFrame) -> dict[str, Floats]:
    """The carry shares of each club, medium ground. `valued`: as `valued_shots` returns them; `swings`: what
    `full_swings` made of them. Shots after which there was a penalty do not count."""
    if "carry_yd" not in valued.columns:
        return {}
    shots = valued.loc[swings.index]
    carry, right, penalty = (
        shots[name].to_numpy(dtype=np.float64) for name in ("carry_yd", "right_yd", "penalty_strokes")
    )
    along = swings["along_yd"].to_numpy(dtype=np.float64)
    total = np.hypot(along, np.nan_to_num(right))
    known = np.isfinite(carry) & (along > 0) & (penalty == 0)
    known &= (carry <= total + CARRY_BEYOND_YD) & (carry >= LEAST_SHARE * total)
    ground = shots["firmness"].astype("object") if "firmness" in shots.columns else pd.Series(None, shots.index)
    run = ground.map(RUN).fillna(RUN[MEDIUM]).to_numpy(dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        ran = total / carry - 1
    share = 1 / (1 + np.where(ran > 0, ran / run, ran))
    club = swings["club"].astype("object").to_numpy()
    return {str(label): share[known & (club == label)] for label in pd.unique(club[known])}


def own_flight(stated: Flight, shares: Floats | None) -> Flight:
    """The flight of a club with its own carry share: the stated one, unchanged, where no swing records it. `shares`:
    those of the club, as `own_carries` returns them.

    >>> own_flight(Flight(0.93, 38.0), np.full(12, 0.90)).carry_share
    0.9074...
    """
    if shares is None or not len(shares):
        return stated
    return replace(stated, carry_share=pooled(stated.carry_share, shares), own_shots=len(shares))


def pooled(default: float, shares: Floats) -> float:
    """The carry share that the stated default and own ones (n,) make likely, at most 1."""
    off = np.log(shares) - math.log(default)
    middle, limit = 0.0, FARTHEST_OFF * SHOT_SPREAD
    for _ in range(_STEPS):
        counted = np.clip(off, middle - limit, middle + limit)
        middle = float(counted.sum()) / (PRIOR_SHOTS + off.size)
    return min(1.0, default * math.exp(middle))


def carry_words(flight: Flight) -> list[str]:
    """Where the carry of a plan comes from; nothing for the stated default.

    >>> carry_words(Flight(0.91, 38.0, own_shots=12))
    ['carry from 12 of your own shots']
    """
    return [f"carry from {flight.own_shots} of your own shots"] if flight.own_shots else []
