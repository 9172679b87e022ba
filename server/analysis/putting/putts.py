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
from server.analysis.putting.make_rates import TOUR, Posterior, make_rate, posterior
from server.analysis.putting.rows import (
    CurveRow,
    FirstPuttBand,
    FirstPutts,
    Left,
    LeftBand,
    MakeRateCurve,
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
from server.game.units import FEET_PER_YARD

LEAST_PUTTS: Final = 20
"""Below this many putts no curve is shown. A stated choice of this tool."""
LEAST_HOLES: Final = 18
"""Below this many finished holes no share of three putts is shown. A stated choice of this tool."""
LEAST_MISSES: Final = 5

CURVE_FT: Final = (2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50, 60)
EDGES_FT: Final = (0, 3, 6, 10, 15, 20, 30, 40, 60, 150)
"""Bands of length; the upper end belongs to the band, as in the summary by distance."""
NEAR: Final = 1.25
"""A putt within this factor of a length is near it."""
LEAST_NEAR: Final = 5
CLOSE_FT: Final = 3.0
"""A putt left within 3 ft counts as close: the tour holes 96 of 100 there (M. Broadie, Every Shot Counts, 2014)."""
FAR_FT: Final = 20.0

_NO_LENGTH: Final = (AFTER_THE_HOLE, BAD_DISTANCE, NUMBER_TWICE)


def putts_of(valued: pd.DataFrame, club: str | None = None) -> pd.DataFrame:
    """The putts whose outcome is known, with the same index: round_id, hole, ball, order, club, feet, holed, leave_ft
    (what is left after a miss; missing where unknown), long_yd.

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
        },
        index=shots.index,
    )
    return frame[holed | missed]


def curve_of(putts: pd.DataFrame) -> Posterior:
    """The make-rate curve of a frame that `putts_of` returned."""
    feet, place = np.unique(putts["feet"].to_numpy(dtype=np.float64).round(3), return_inverse=True)
    tried = np.bincount(place, minlength=feet.size)
    made = np.bincount(place, weights=putts["holed"].to_numpy(dtype=np.float64), minlength=feet.size)
    return posterior(feet, tried, made)


def putting_report(valued: pd.DataFrame, club: str | None = None, level: float = DEFAULT_LEVEL) -> PuttingReport:
    """All about a player's putting, or that with one putter.

    `valued`: as `valued_shots` returns it. ValueError for a level outside its range.
    """
    checked_level(level)
    putts = putts_of(valued, club)
    firsts = _first_putts(valued, club)
    return {
        "putts": len(putts),
        "rounds": int(putts["round_id"].nunique()),
        "holed": int(putts["holed"].sum()),
        **_curve(putts, level),
        "bands": _bands(putts, level),
        "gained": _gained(valued, club, level),
        "first_putts": _first_putt_mix(firsts),
        "three_putts": _three_putts(valued, firsts, level),
        "speed": _speed(putts),
    }


def _curve(putts: pd.DataFrame, level: float) -> MakeRateCurve:
    tour_half = _half(np.array(CURVE_FT, dtype=np.float64), make_rate(CURVE_FT, *TOUR))
    if len(putts) < LEAST_PUTTS:
        count = {0: "No putt with a known outcome", 1: "One putt"}.get(len(putts), f"{len(putts)} putts")
        lacking = f"{count} in these rounds: too few for a curve, {LEAST_PUTTS} at least are needed."
        return {"curve": [], "half_ft": None, "tour_half_ft": tour_half, "lacking": lacking}
    found = curve_of(putts)
    low, rates, high = found.interval(CURVE_FT, level)
    tour = make_rate(CURVE_FT, *TOUR)
    feet = putts["feet"].to_numpy()
    near = [int(((feet >= length / NEAR) & (feet <= length * NEAR)).sum()) for length in CURVE_FT]
    rows: list[CurveRow] = [
        {
            "feet": length,
            "rate": float(rate),
            "low": float(bottom),
            "high": float(top),
            "tour": float(theirs),
            "putts_near": count,
            "leans_on_tour": count < LEAST_NEAR,
        }
        for length, rate, bottom, top, theirs, count in zip(CURVE_FT, rates, low, high, tour, near, strict=True)
    ]
    half = _half(np.array(CURVE_FT, dtype=np.float64), rates)
    return {"curve": rows, "half_ft": half, "tour_half_ft": tour_half, "lacking": None}


def _half(feet: Floats, rates: Floats) -> float | None:
    """The length from which half the putts fall, on straight lines between the lengths; None outside them."""
    if not rates.min() <= 0.5 <= rates.max():
        return None
    return float(np.interp(0.5, rates[::-1], feet[::-1]))


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
        lacking = f"{few} finished on the green: too few to say, {LEAST_HOLES} at least are needed."
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
