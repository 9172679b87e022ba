"""Putting: make-rate by length, strokes gained by length, first putts, three putts, and what missed putts leave.

Lengths are feet. A putt is a shot from the green; extra balls count for the make-rate and for what is left, as they do
for clubs, but not for first putts, three putts and strokes gained, which are about the score.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Final, cast

import numpy as np
import pandas as pd

from server.analysis.evidence.auxiliary import wilson
from server.analysis.evidence.intervals import DEFAULT_LEVEL, checked_level
from server.analysis.expected_strokes.curves import Floats
from server.analysis.lengths.heaping import heaping, lengths_entered, taken_of
from server.analysis.putting.make_rates import TOUR, make_rate
from server.analysis.putting.player_curve import make_rate_curve
from server.analysis.putting.rows import (
    FirstPuttBand,
    FirstPutts,
    Left,
    LeftBand,
    PuttBand,
    PuttingReport,
    PuttsGained,
    Speed,
    ThreePutts,
)
from server.analysis.strokes_gained.attribution import AFTER_THE_HOLE, BAD_DISTANCE, NUMBER_TWICE
from server.analysis.strokes_gained.rows import SummaryRow
from server.analysis.strokes_gained.scorecard import hole_scores
from server.analysis.strokes_gained.summaries import summarise
from server.game.lies import GREEN
from server.game.units import FEET_PER_YARD, FOOT

LEAST_HOLES: Final = 18
"""Below this many finished holes no share of three putts is shown. A stated choice of this tool."""
LEAST_MISSES: Final = 5

EDGES_FT: Final = (0, 3, 6, 10, 15, 20, 30, 40, 60, 150)
"""Bands of length; the upper end belongs to the band, as in the summary by distance."""
CLOSE_FT: Final = 3.0
"""A putt left within 3 ft counts as close: the tour holes 96 of 100 there (M. Broadie, Every Shot Counts, 2014)."""
FAR_FT: Final = 20.0

_NO_LENGTH: Final = (AFTER_THE_HOLE, BAD_DISTANCE, NUMBER_TWICE)


def putts_of(valued: pd.DataFrame, club: str | None = None) -> pd.DataFrame:
    """The putts whose outcome is known, with the same index: round_id, hole, ball, order, club, feet, holed, leave_ft
    (what is left after a miss; missing where unknown), lengths_taken, long_yd.

    `valued`: as `valued_shots` returns it. `club`: only putts with it. A putt after which the ball was picked up was
    missed; one without any word on its end is left out.
    """
    on_green = valued["lie"].eq(GREEN) & ~valued["basis"].isin(_NO_LENGTH)
    if club is not None:
        on_green &= valued["club"].astype("object").eq(club)
    shots = valued[on_green.to_numpy(dtype=bool)]
    holed = shots["holed"].to_numpy(dtype=bool)
    missed = ~holed & (shots["end_distance_yd"].notna() | shots["picked_up"].astype(bool)).to_numpy()
    clean = shots["penalty_strokes"].eq(0).to_numpy()
    left = np.where(missed & clean, shots["end_distance_yd"].to_numpy(dtype=np.float64) * FEET_PER_YARD, np.nan)
    frame = pd.DataFrame(
        {
            **{name: shots[name] for name in ("round_id", "hole", "ball", "order", "club", "long_yd")},
            "feet": shots["distance_yd"].to_numpy(dtype=np.float64) * FEET_PER_YARD,
            "holed": holed,
            "leave_ft": left,
            "lengths_taken": taken_of(shots),
        },
        index=shots.index,
    )
    return frame[holed | missed]


def putting_report(
    valued: pd.DataFrame,
    club: str | None = None,
    level: float = DEFAULT_LEVEL,
    *,
    practised: pd.DataFrame | None = None,
    practice_alone: bool = False,
) -> PuttingReport:
    """All about a player's putting, or that with one putter.

    `valued`: as `valued_shots` returns it. `practised`: practice putts, as `practice.balls.practice_putts` returns
    them: the curve leans on them, or with `practice_alone` (and `valued` without a row) is theirs, with what falls by
    band and what misses leave. ValueError for a level outside its range.
    """
    checked_level(level)
    putts = practised if practice_alone and practised is not None else putts_of(valued, club)
    leaning = None if practice_alone else practised
    firsts = _first_putts(valued, club)
    return {
        "putts": len(putts),
        "rounds": int(putts["round_id"].nunique()),
        "holed": int(putts["holed"].sum()),
        **make_rate_curve(
            putts,
            heaping(lengths_entered(valued, FOOT), FOOT, level),
            level,
            leaning,
            practice_alone=practice_alone,
        ),
        "bands": _bands(putts, level),
        "gained": _gained(valued, club, level),
        "first_putts": _first_putt_mix(firsts),
        "three_putts": _three_putts(valued, firsts, level),
        "speed": _speed(putts),
    }


def _band_of(feet: Floats) -> Any:
    names = [f"over {low} to {high} ft" for low, high in pairwise(EDGES_FT)]
    return pd.cut(feet, EDGES_FT, labels=names)


def _bands(putts: pd.DataFrame, level: float) -> list[PuttBand]:
    """What fell, by band."""
    feet = putts["feet"].to_numpy(dtype=np.float64)
    table = pd.DataFrame({"feet": feet, "holed": putts["holed"].to_numpy(), "band": _band_of(feet)})
    table["tour"] = make_rate(feet, *TOUR) if feet.size else np.empty(0)
    rows: list[PuttBand] = []
    for band, part in table.groupby("band", observed=True):
        holed, count = int(part["holed"].sum()), len(part)
        low, high = wilson(holed, count, level)
        rows.append(
            {
                "band": str(band),
                "feet": float(part["feet"].mean()),
                "putts": count,
                "holed": holed,
                "share": holed / count,
                "low": low,
                "high": high,
                "tour": float(part["tour"].mean()),
            }
        )
    return rows


def _gained(valued: pd.DataFrame, club: str | None, level: float) -> PuttsGained:
    """Strokes gained of the ball of record's putts: `rows` by length, nearest first, and `total`."""
    mine = valued["lie"].eq(GREEN).to_numpy(dtype=bool)
    if club is not None:
        mine = mine & valued["club"].astype("object").eq(club).to_numpy(dtype=bool)
    found = summarise(valued, "distance", level=level, only=pd.Series(mine, index=valued.index))
    names = [f"over {low} to {high} ft" for low, high in pairwise(EDGES_FT)]
    rows = [
        {str(name): None if pd.isna(cell) else cell for name, cell in row.items()}
        for row in found.rows.to_dict("records")
    ]
    rows.sort(key=lambda row: names.index(str(row["distance"])))
    reported = [row | {"distance": str(row["distance"])} for row in rows]
    return {"rows": cast(list[SummaryRow], reported), "total": found.total}


def _first_putts(valued: pd.DataFrame, club: str | None) -> pd.DataFrame:
    """The ball of record's first shot from each green, with that club where one is named: round_id, hole, feet."""
    putts = valued[(valued["ball"].eq(1) & valued["lie"].eq(GREEN) & ~valued["basis"].isin(_NO_LENGTH)).to_numpy()]
    first = putts.sort_values("order", kind="stable").drop_duplicates(["round_id", "hole"])
    if club is not None:
        first = first[first["club"].astype("object").eq(club)]
    ids = first[["round_id", "hole"]].astype({"round_id": "object"})
    return ids.assign(feet=first["distance_yd"].to_numpy(dtype=np.float64) * FEET_PER_YARD)


def _first_putt_mix(firsts: pd.DataFrame) -> FirstPutts:
    """The mix of first putts."""
    feet = firsts["feet"].to_numpy()
    counts = pd.Series(_band_of(feet)).value_counts(sort=False)
    bands: list[FirstPuttBand] = [
        {"band": str(band), "putts": int(count), "share": int(count) / feet.size}
        for band, count in counts.items()
        if count
    ]
    return {"holes": int(feet.size), "median_ft": float(np.median(feet)) if feet.size else None, "bands": bands}


def _three_putts(valued: pd.DataFrame, firsts: pd.DataFrame, level: float) -> ThreePutts:
    """Holes with three putts or more, of the finished holes on whose green the ball of record was putted. Wilson
    interval: holes are taken as independent (a stated simplification)."""
    scores = hole_scores(valued)
    keys = pd.MultiIndex.from_frame(firsts[["round_id", "hole"]])
    finished = scores[scores["complete"] & scores.index.isin(keys)]
    holes, three = len(finished), int(finished["putts"].ge(3).sum())
    if holes < LEAST_HOLES:
        few = "No hole" if not holes else f"{holes} hole{'s' if holes > 1 else ''}"
        lacking = f"{few} finished on the green: not enough data, {LEAST_HOLES} at least are needed."
        return {"holes": holes, "three_putts": three, "share": None, "low": None, "high": None, "lacking": lacking}
    low, high = wilson(three, holes, level)
    return {"holes": holes, "three_putts": three, "share": three / holes, "low": low, "high": high, "lacking": None}


def _speed(putts: pd.DataFrame) -> Speed:
    """What missed putts leave."""
    missed = putts[putts["leave_ft"].notna()]
    band = pd.Series(_band_of(missed["feet"].to_numpy()), index=missed.index)
    rows: list[LeftBand] = [
        {"band": str(name), **_left(part["leave_ft"].to_numpy())} for name, part in missed.groupby(band, observed=True)
    ]
    reported = missed[missed["long_yd"].notna()]
    return {
        "misses": len(missed),
        "bands": rows,
        "far": _left(missed.loc[missed["feet"] >= FAR_FT, "leave_ft"].to_numpy()),
        "told": len(reported),
        "short": int(reported["long_yd"].lt(0).sum()),
    }


def _left(feet: Floats) -> Left:
    enough = feet.size >= LEAST_MISSES
    return {
        "misses": int(feet.size),
        "median_ft": float(np.median(feet)) if enough else None,
        "close": float((feet <= CLOSE_FT).mean()) if enough else None,
    }
