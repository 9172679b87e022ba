"""Part swings: does the ball go as far as intended when something is taken off?

A part swing's error is its finish in length against the target it was tapped for, long positive. Where the finish was
not tapped it is what the distances to the hole show, start less end less target, but only when the ball was meant
to stop well short of the hole: the end of a shot at the hole does not show whether it was long or short. What was
taken off is 1 - target / full, with full the median of the club's full swings from good lies.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import (
    DEFAULT_LEVEL,
    LEAST_ROUNDS,
    LEAST_SHOTS,
    checked_level,
    per_shot,
    round_sums,
)
from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.finishes import FULL, GOOD_LIES, LEAVES_AT_LEAST_YD, PART, finishes
from server.analysis.patterns.rows import PartSwingRow, PartSwings
from server.game.lies import GREEN
from server.game.numbers import signed

EDGES: Final = (-np.inf, 0.10, 0.20, 0.35, 0.50, np.inf)
BANDS: Final = ("up to 10 %", "over 10 to 20 %", "over 20 to 35 %", "over 35 to 50 %", "over half")
"""Shares of the full distance taken off; a stated choice of this tool. Elite players take 10 to 15 yd off a full iron
(common practice, no source); over half is the short game."""
UNKNOWN: Final = "full distance not known"
LEAST_FULL: Final = 3
"""Full swings from good lies that a club's full distance needs."""


def part_swings(valued: pd.DataFrame, club: str | None = None, level: float = DEFAULT_LEVEL) -> PartSwings:
    """Part swings of a player or of one club, by the share taken off and by club.

    `valued`: as `valued_shots` returns it. ValueError for a level outside its range.
    """
    checked_level(level)
    meant = _part(valued, club)
    frame = pd.DataFrame(
        {
            "round_id": meant["round_id"].astype("object"),
            "club": meant["club"].astype("object"),
            "target": meant["target_yd"],
            "error": _errors(meant),
        }
    )
    return part_swings_of(frame, full_distances(valued), level)


def part_swings_of(meant: pd.DataFrame, full: Mapping[str, float], level: float = DEFAULT_LEVEL) -> PartSwings:
    """The same of a frame of part swings: round_id, club, target, error (yards, NaN where not known). `full`: how far
    the full swing of each club goes, yards."""
    frame = meant[meant["error"].notna().to_numpy()]
    off = 1 - frame["target"] / frame["club"].map(full).astype("float64")
    bands_of = pd.cut(off, list(EDGES), labels=list(BANDS)).astype("object").where(off.notna(), UNKNOWN)
    frame = frame.assign(band=bands_of)
    bands = [(name, frame[frame["band"].eq(name)]) for name in (*BANDS, UNKNOWN)]
    clubs = sorted(frame["club"].unique(), key=lambda name: (-full.get(name, 0.0), str(name)))
    return {
        "shots": len(meant),
        "measured": len(frame),
        "not_measured": len(meant) - len(frame),
        "total": _row(frame, level),
        "bands": [{"taken_off": name, **_row(part, level)} for name, part in bands if len(part)],
        "clubs": [
            {"club": str(name), "full_yd": full.get(name), **_row(frame[frame["club"].eq(name)], level)}
            for name in clubs
        ],
    }


def _part(valued: pd.DataFrame, club: str | None) -> pd.DataFrame:
    """Shots off the green that were tapped as part swings with a target."""
    mine = (
        valued["swing"].astype("object").eq(PART) & valued["target_yd"].gt(0) & valued["lie"].astype("object").ne(GREEN)
    )
    if club is not None:
        mine &= valued["club"].astype("object").eq(club)
    return valued[mine.to_numpy(dtype=bool)]


def _errors(shots: pd.DataFrame) -> Floats:
    """Yards long (+) or short (-) of the target, shape (n,); NaN where neither the finish nor the distances show it."""
    tapped = shots["long_yd"].to_numpy(dtype=np.float64)
    before = shots["distance_yd"].to_numpy(dtype=np.float64)
    after = shots["end_distance_yd"].to_numpy(dtype=np.float64)
    target = shots["target_yd"].to_numpy(dtype=np.float64)
    clean = ~shots["holed"].to_numpy(dtype=bool) & shots["penalty_strokes"].eq(0).to_numpy()
    reported = clean & (before - target >= LEAVES_AT_LEAST_YD) & (after < before)
    return np.where(np.isfinite(tapped), tapped, np.where(reported, before - after - target, np.nan))


def full_distances(valued: pd.DataFrame) -> dict[str, float]:
    """Club -> median yards of its full swings from good lies, where there are enough."""
    known = finishes(valued)
    good = known[known["swing"].eq(FULL) & known["lie"].astype("object").isin(GOOD_LIES)]
    groups = good.groupby(good["club"].astype("object"))["along_yd"]
    return {str(name): float(along.median()) for name, along in groups if len(along) >= LEAST_FULL}


def _row(part: pd.DataFrame, level: float) -> PartSwingRow:
    """The figures of some part swings."""
    shots, rounds = len(part), int(part["round_id"].nunique())
    if shots < LEAST_SHOTS or rounds < LEAST_ROUNDS:
        lacking = (
            f"Not enough data: {shots} part swing{'' if shots == 1 else 's'} with a known finish in {rounds} "
            f"round{'' if rounds == 1 else 's'}; at least {LEAST_SHOTS} in {LEAST_ROUNDS} are needed."
        )
        return {
            "shots": shots,
            "rounds": rounds,
            "target_yd": None,
            "bias_yd": None,
            "low": None,
            "high": None,
            "bias_pct": None,
            "spread_yd": None,
            "half_within_yd": None,
            "half_within_pct": None,
            "lacking": lacking,
            "words": lacking,
        }
    error, target = part["error"].to_numpy(), part["target"].to_numpy()
    codes, names = pd.factorize(part["round_id"])
    interval = per_shot(round_sums(np.zeros(shots, dtype=np.intp), codes, error, 1, len(names)), level)
    low, high = float(interval.low[0]), float(interval.high[0])
    bias, half = float(error.mean()), float(np.median(np.abs(error)))
    return {
        "shots": shots,
        "rounds": rounds,
        "target_yd": float(np.median(target)),
        "bias_yd": bias,
        "low": None if np.isnan(low) else low,
        "high": None if np.isnan(high) else high,
        "bias_pct": float(100 * error.sum() / target.sum()),
        "spread_yd": float(error.std(ddof=1)),
        "half_within_yd": half,
        "half_within_pct": float(100 * np.median(np.abs(error) / target)),
        "lacking": None,
        "words": _words(bias, low, high, half, level),
    }


def bias_words(bias: float, low: float, high: float, level: float) -> str:
    """A mean error with its interval in a sentence; yards."""
    return _words(bias, low, high, None, level)


def _words(bias: float, low: float, high: float, half: float | None, level: float) -> str:
    side = "long" if bias > 0 else "short"
    size = f"{abs(bias):.1f} yd {side}"
    within = "" if half is None else f"; half of the balls end within {half:.0f} yd in length"
    if np.isnan(low):
        return f"On average {size}, every ball the same{within}."
    interval = f"{100 * level:g} % interval {signed(low, 1)} to {signed(high, 1)}"
    if low > 0 or high < 0:
        return f"They go {side} of what is intended, on average {size} ({interval}){within}."
    return f"No clear bias long or short, on average {size} ({interval}){within}."
