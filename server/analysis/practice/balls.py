"""Practice balls in the frames that shots of rounds are analysed in; a session takes the place of a round.

A ball's length is its total; where only its finish against a target is known, target and long. A carry alone gives the
direction but not where the ball came to rest. A ball without `swing` counts as a full swing on the range and as a part
swing elsewhere (a choice of this tool).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.finishes import FULL, GOOD_LIES, PART, TAPPED, degrees_offline
from server.analysis.putting.make_rates import TOUR, make_rate
from server.game.practice import RANGE

MOST_OF_A_CLUB: Final = 2_000
"""Full or part swings of a club that count, the latest: two clubs are compared ball by ball. A choice of this tool."""
LEAST_CELLS: Final = 5
"""Degrees of freedom among cells of session and length from which on their dispersion counts."""


def swings_of(balls: pd.DataFrame) -> pd.DataFrame:
    """The balls that are no putts, of each club and swing the latest `MOST_OF_A_CLUB`, with `swing` (full or part),
    `along_yd` (where it came to rest) and `long_yd` (against the target), NaN where not known. `balls`: as
    `practice_frame` returns it. The same index."""
    swings = balls[(balls["length_ft"].isna() & balls["sort"].astype("object").ne("putter")).to_numpy(dtype=bool)]
    stated = swings["swing"].astype("object")
    guessed = pd.Series(np.where(swings["place"].eq(RANGE), FULL, PART), index=swings.index, dtype="object")
    swings = swings.assign(swing=stated.where(stated.notna(), guessed))
    latest = swings.sort_values("played_on", kind="stable").groupby(["club", "swing"], observed=True)
    swings = swings[swings.index.isin(latest.tail(MOST_OF_A_CLUB).index)]
    target, long, total = (swings[name].to_numpy(dtype=np.float64) for name in ("target_yd", "long_yd", "total_yd"))
    along = np.where(np.isfinite(total), total, target + long)
    return swings.assign(
        along_yd=along,
        long_yd=np.where(np.isfinite(long), long, along - target),
    )


def practice_finishes(balls: pd.DataFrame) -> pd.DataFrame:
    """What `finishes.finishes` returns of shots, of practice balls with a known side or length: the same columns.

    `source` is "tapped" where the side is known; without a target the length against it is missing. What is playable
    and strokes gained are never known.
    """
    swings = swings_of(balls)
    along = swings["along_yd"].to_numpy(dtype=np.float64)
    flown = np.where(np.isfinite(along), along, swings["carry_yd"].to_numpy(dtype=np.float64))
    right = swings["right_yd"].to_numpy(dtype=np.float64)
    frame = swings[
        [
            "round_id", "played_on", "club", "sort", "setup", "lie", "planned_shape", "actual_shape", "swing",
            "target_yd", "right_yd", "long_yd", "along_yd",
        ]
    ].assign(
        offline_deg=np.where(flown > 0, degrees_offline(right, flown), np.nan),
        playable=np.nan,
        strokes_gained=np.nan,
        source=np.where(np.isfinite(right), TAPPED, "length alone"),
    )  # fmt: skip
    return frame[np.isfinite(right) | np.isfinite(frame["long_yd"].to_numpy(dtype=np.float64))]


def practice_full_swings(balls: pd.DataFrame) -> pd.DataFrame:
    """What `full_swings.full_swings` returns of shots, of practice balls: round_id, club, lie, along_yd, source."""
    swings = swings_of(balls)
    good = swings["lie"].astype("object").isin(GOOD_LIES) & swings["swing"].eq(FULL) & swings["along_yd"].gt(0)
    frame = swings.loc[good.to_numpy(dtype=bool), ["round_id", "club", "lie", "along_yd"]]
    return frame.assign(source=TAPPED)


def practice_part_swings(balls: pd.DataFrame, club: str | None = None) -> pd.DataFrame:
    """Part swings with a target: round_id, club, target, error (yards long of it, NaN where not known)."""
    swings = swings_of(balls)
    mine = swings["swing"].eq(PART) & swings["target_yd"].gt(0)
    if club is not None:
        mine &= swings["club"].astype("object").eq(club)
    part = swings[mine.to_numpy(dtype=bool)]
    return pd.DataFrame(
        {
            "round_id": part["round_id"].astype("object"),
            "club": part["club"].astype("object"),
            "target": part["target_yd"],
            "error": part["long_yd"],
        }
    )


def practice_putts(balls: pd.DataFrame, club: str | None = None) -> pd.DataFrame:
    """What `putts.putts_of` returns of shots, of practice putts, and `worth`: how many putts of chance alone one of
    them is worth (`putts_worth`)."""
    putts = balls[balls["length_ft"].notna().to_numpy()]
    if club is not None:
        putts = putts[putts["club"].astype("object").eq(club).to_numpy()]
    nothing = pd.Series(np.nan, index=putts.index)
    frame = pd.DataFrame(
        {
            "round_id": putts["round_id"],
            "hole": putts["order"],
            "ball": 1,
            "order": 1,
            "club": putts["club"],
            "long_yd": nothing,
            "feet": putts["length_ft"],
            "holed": putts["holed"].astype("bool"),
            "leave_ft": putts["left_ft"].where(~putts["holed"].astype("bool")),
            "lengths_taken": pd.Series(None, index=putts.index, dtype="object"),
        }
    )
    return frame.assign(worth=putts_worth(frame))


def putts_worth(putts: pd.DataFrame) -> float:
    """1 over the dispersion of make-rates between sessions, between 0 and 1: putts of one session are alike.

    The dispersion is the larger of two, at least 1: Pearson's chi-squared over its degrees of freedom in cells of
    session and length, and by session, for a green of one day moves all lengths (quasi-likelihood: P. McCullagh
    and J. A. Nelder, Generalized Linear Models, 2nd edition, 1989, section 4.5). What is expected is the make-rate of
    all sessions from a length, shrunk to the tour's by one putt, so that no cell expects nothing. 1 for one session.
    """
    if putts["round_id"].nunique() < 2:
        return 1.0
    feet = putts["feet"].round().clip(lower=1)
    table = putts.assign(feet=feet).groupby(["round_id", "feet"], observed=True)["holed"]
    cells = table.agg(["sum", "size"]).reset_index()
    lengths = cells.groupby("feet")[["sum", "size"]].transform("sum")
    tour = make_rate(cells["feet"].to_numpy(dtype=np.float64), *TOUR)
    rate = (lengths["sum"].to_numpy() + tour) / (lengths["size"].to_numpy() + 1)
    tried: Floats = cells["size"].to_numpy(dtype=np.float64)
    away, chance = cells["sum"].to_numpy() - tried * rate, tried * rate * (1 - rate)
    codes, sessions = pd.factorize(cells["round_id"])
    by_session = np.bincount(codes, weights=away) ** 2 / np.bincount(codes, weights=chance)
    dispersions = [1.0, float(by_session.sum()) / (len(sessions) - 1)]
    degrees = len(cells) - cells["feet"].nunique()
    if degrees >= LEAST_CELLS:
        dispersions.append(float((away**2 / chance).sum()) / degrees)
    return 1 / max(dispersions)
