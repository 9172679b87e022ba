"""Finishes against the target, out of valued shots: what was tapped, and the length alone where distances give it.

A tapped finish is `right_yd`, `long_yd` against `target_yd`. Where it was not tapped, the length of a shot follows
from the distances before and after it when the ball was meant to stop well short of the hole: played towards the
hole, a ball that ends r yards aside with R yards left has come r^2 / (2 R) yards less along the line than the
distances show, 2 yd for r = 18 and R = 80. So only a full swing without a penalty counts whose target (the club's
usual one from that lie) leaves at least 80 yd. A shot at the green is left out: its end does not show whether it was
long or short.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.game.lies import FAIRWAY, FRINGE, GREEN, RECOVERY, TEE

GOOD_LIES: Final = (TEE, FAIRWAY, FRINGE)
"""Lies whose full swings count for one distance."""

LEAVES_AT_LEAST_YD: Final = 80.0
TAPPED: Final = "tapped"
FROM_DISTANCES: Final = "from distances"
FULL: Final = "full"
PART: Final = "part"


def finishes(valued: pd.DataFrame) -> pd.DataFrame:
    """One row a shot off the green whose finish, or at least its length, is known.

    `valued`: as `attribute` returns it, with `club`, `swing`, `target_yd`, `right_yd`, `long_yd` and, where there are,
    `setup`, `planned_shape`, `actual_shape`. A shot without `swing` counts as a full swing when its distance to the
    hole is not shorter than its target; else as a part swing. Extra balls count, putters and shots from the green do
    not.

    Returns the same index with `round_id`, `played_on`, `club`, `sort`, `setup`, `lie`, `swing`, `planned_shape`,
    `actual_shape`, `target_yd`, `right_yd`, `long_yd` (yards; right missing where the finish was not tapped),
    `along_yd` (target + long), `offline_deg`, `playable` (1, 0 or missing), `strokes_gained`, `source`.
    """
    off_green = valued["lie"].astype("object").ne(GREEN) & valued["sort"].astype("object").ne("putter")
    shots = valued[off_green.to_numpy()]
    frame = pd.DataFrame(
        {
            name: shots[name]
            for name in ("round_id", "played_on", "club", "sort", "setup", "lie")
            if name in shots.columns
        },
        index=shots.index,
    )
    for name in ("planned_shape", "actual_shape"):
        frame[name] = shots[name].astype("object") if name in shots.columns else None
    frame["swing"] = swing_of(shots)
    target = shots["target_yd"].to_numpy(dtype=np.float64)
    right = shots["right_yd"].to_numpy(dtype=np.float64)
    long = shots["long_yd"].to_numpy(dtype=np.float64)
    tapped = np.isfinite(target) & np.isfinite(right) & np.isfinite(long)
    full = frame["swing"].eq(FULL).to_numpy(dtype=bool)
    keys = [frame["club"].astype("object"), frame["lie"].astype("object")]
    stated = default_target(keys, pd.Series(np.where(tapped & full, target, np.nan), index=frame.index))
    usual = np.where(full, stated.to_numpy(dtype=np.float64), np.nan)
    reported = _length_from_distances(shots, frame, usual) & ~tapped
    come = shots["distance_yd"].to_numpy(dtype=np.float64) - shots["end_distance_yd"].to_numpy(dtype=np.float64)
    frame["target_yd"] = np.where(tapped, target, usual)
    frame["right_yd"] = np.where(tapped, right, np.nan)
    frame["long_yd"] = np.where(tapped, long, come - usual)
    frame["along_yd"] = frame["target_yd"] + frame["long_yd"]
    frame["offline_deg"] = degrees_offline(frame["right_yd"].to_numpy(), frame["along_yd"].to_numpy())
    frame["playable"] = playable(shots)
    frame["strokes_gained"] = shots["strokes_gained"]
    frame["source"] = np.where(tapped, TAPPED, FROM_DISTANCES)
    return frame[tapped | reported]


def degrees_offline(right_yd: np.ndarray, along_yd: np.ndarray) -> np.ndarray:
    """atan2(right, along) in degrees: the direction of the finish from the line, right positive.

    >>> round(300 * float(np.tan(np.radians(4))), 2)
    20.98
    """
    return np.asarray(np.degrees(np.arctan2(right_yd, along_yd)))


def playable(shots: pd.DataFrame) -> np.ndarray:
    """1 for a shot without penalty that did not end in a recovery lie, 0 for the others, NaN where the end is not
    known."""
    end = shots["end_lie"].astype("object")
    holed = shots["holed"].to_numpy(dtype=bool)
    penalty = shots["penalty_strokes"].to_numpy(dtype=np.float64) > 0
    good = ~penalty & (holed | end.ne(RECOVERY).to_numpy())
    known = penalty | holed | end.notna().to_numpy()
    return np.where(known, good.astype(np.float64), np.nan)


def swing_of(shots: pd.DataFrame) -> pd.Series:
    """Full or part of each shot, guessed where it was not recorded (see `finishes`)."""
    stated = shots["swing"].astype("object")
    target = shots["target_yd"]
    short = target.notna() & (target < shots["distance_yd"])
    guessed = pd.Series(np.where(short | target.isna(), FULL, PART), index=shots.index, dtype="object")
    return stated.where(stated.notna(), guessed)


def default_target(where: list[pd.Series], target: pd.Series) -> pd.Series:
    """The median target of the tapped full swings of a club from a lie; NaN where there are fewer than three.

    `where`: club and lie of each shot; `target`: yards, NaN for other shots than tapped full swings; the same index.
    """
    groups = target.groupby(where, sort=False)
    return groups.transform("median").where(groups.transform("count") >= 3)


def _length_from_distances(shots: pd.DataFrame, frame: pd.DataFrame, usual: np.ndarray) -> np.ndarray:
    """True where the distances before and after give the length of a full swing (top of this module)."""
    before = shots["distance_yd"].to_numpy(dtype=np.float64)
    after = shots["end_distance_yd"].to_numpy(dtype=np.float64)
    clean = ~shots["holed"].to_numpy(dtype=bool) & (shots["penalty_strokes"].to_numpy() == 0) & np.isfinite(after)
    full = (frame["swing"] == FULL).to_numpy()
    return np.asarray(clean & full & np.isfinite(usual) & (before - usual >= LEAVES_AT_LEAST_YD) & (after < before))
