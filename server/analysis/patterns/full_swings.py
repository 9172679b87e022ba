"""How far a club goes: one rule for the ladder, the plan, the bag and the phone's guess.

Twin: web/js/game/distances.js.

A club's distance is the median length of its full swings from tee, fairway and fringe. The length of a swing is

- the tapped finish along the line, target + long; else
- what the distances before and after give, where the ball was meant to stop at least 80 yd short of the hole and came
  to rest without a penalty (see `finishes`).

A shot played at the green never shows a length by its distances: whichever side of the hole it ends on, what is left
is taken off, so that the middle of such shots lies below what the club goes. Whether a shot was meant to stop short is
judged by the club's usual target from that lie, the median of three or more tapped full swings; without them by its
reach, the upper quartile of what three or more full swings from there went. Both are of all the swings together, so
that no shot is chosen by its own end.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.analysis.patterns.finishes import (
    FROM_DISTANCES,
    FULL,
    GOOD_LIES,
    LEAVES_AT_LEAST_YD,
    TAPPED,
    default_target,
    swing_of,
)

FEWEST_SWINGS: Final = 3
"""Swings from which on a usual target, or a reach, is known. A stated choice of this tool."""
REACH: Final = 0.75
"""The share of full swings that go no farther than a club's reach. A stated choice of this tool."""


def full_swings(valued: pd.DataFrame) -> pd.DataFrame:
    """One row a full swing from a good lie whose length is known: round_id, club, lie, along_yd, source; same index.

    `valued`: as `finishes.finishes` takes it. Extra balls count, putters do not.

    >>> rows = [("driver", 400, 150, "fairway"), ("driver", 420, 180, "fairway"), ("driver", 390, 130, "fairway")]
    >>> frame = pd.DataFrame(rows, columns=["club", "distance_yd", "end_distance_yd", "end_lie"])
    >>> frame = frame.assign(round_id="r", lie="tee", sort="driver", swing="full", holed=False, penalty_strokes=0)
    >>> full_swings(frame.assign(target_yd=np.nan, right_yd=np.nan, long_yd=np.nan))["along_yd"].median()
    250.0
    """
    good = valued["lie"].astype("object").isin(GOOD_LIES) & valued["sort"].astype("object").ne("putter")
    shots = valued[good.to_numpy(dtype=bool)]
    shots = shots[swing_of(shots).eq(FULL).to_numpy(dtype=bool)]
    names = ("target_yd", "right_yd", "long_yd", "distance_yd", "end_distance_yd")
    target, right, long, before, after = (shots[name].to_numpy(dtype=np.float64) for name in names)
    tapped = np.isfinite(target) & np.isfinite(right) & np.isfinite(long)
    clean = ~shots["holed"].to_numpy(dtype=bool) & (shots["penalty_strokes"].to_numpy() == 0) & (after < before)
    gone = np.where(clean, before - after, np.nan)
    where = [shots["club"].astype("object"), shots["lie"].astype("object")]
    usual = default_target(where, pd.Series(np.where(tapped, target, np.nan), index=shots.index))
    far = pd.Series(np.where(before > LEAVES_AT_LEAST_YD, gone, np.nan), index=shots.index).groupby(where, sort=False)
    reach = far.transform(lambda part: part.quantile(REACH)).where(far.transform("count") >= FEWEST_SWINGS)
    meant = usual.where(usual.notna(), reach).to_numpy(dtype=np.float64)
    reported = ~tapped & clean & (before - meant >= LEAVES_AT_LEAST_YD)
    frame = shots[["round_id", "club", "lie"]].assign(
        along_yd=np.where(tapped, target + long, gone), source=np.where(tapped, TAPPED, FROM_DISTANCES)
    )
    return frame[tapped | reported]


def club_distances(swings: pd.DataFrame) -> dict[str, float]:
    """Club -> yards, the median length of the swings that `full_swings` returned."""
    medians = swings["along_yd"].groupby(swings["club"].astype("object")).median()
    return {str(club): float(yards) for club, yards in medians.items()}
