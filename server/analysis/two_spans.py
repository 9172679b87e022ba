"""Two spans of days side by side: strokes gained of each group in both, and the difference with its interval.

The difference of two means of different rounds: d = m1 - m2, s^2 = s1^2 + s2^2 with the jackknife errors over rounds of
`server.analysis.intervals`, interval d -+ t(f) s with Welch and Satterthwaite's degrees of freedom
f = s^4 / (s1^4 / f1 + s2^4 / f2). It is given only where both means have an interval and the spans share no round.

Source: B. L. Welch, Biometrika 34, 1947, 28-35, and F. E. Satterthwaite, Biometrics Bulletin 2, 1946, 110-114 (from
memory; checked against scipy's unequal-variance t in tests).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.intervals import (
    ALIKE,
    TOO_FEW,
    USUAL_LEVEL,
    Flags,
    Floats,
    Intervals,
    RoundSums,
    checked_level,
    enough,
    freedom_per_round,
    freedom_per_shot,
    per_round,
    per_shot,
    round_sums,
    t_quantile,
)
from server.analysis.summaries import ALL_BALLS, Summary, group_keys, summarise, usual_balls
from server.analysis.summary_intervals import OF_EVERY_ROUND

SHARED: Final = "the two spans share rounds"
ONE_SIDE: Final = "in one of the spans alone"
LENGTHS: Final = "rounds of unequal length, {:.0f} holes against {:.0f}: compare by the shot"

EQUAL_LENGTH: Final = 0.05
"""Rounds of two spans may differ in their mean number of holes by this share, less than one hole in eighteen, and be
compared by the round. Beyond it a player who did not change would be called better for playing nine holes. A choice of
this tool."""


@dataclass(frozen=True)
class Compared:
    """Two summaries of the same grouping and their differences, first less second.

    `rows`: one a group of either: the group, `first` and `second` (a summary's row as a dict, or None), `difference`
    (per_shot, per_shot_low, per_shot_high, per_round, per_round_low, per_round_high, `lacking`: the reason when there
    is no interval, `lacking_per_round`: the reason when there is none by the round; strokes, NaN where nothing is
    said). `total`: the same of all shots, with both reasons in `lacking`.
    """

    by: str
    first: Summary
    second: Summary
    rows: list[dict[str, Any]]
    total: dict[str, Any]


def compare(
    first: pd.DataFrame,
    second: pd.DataFrame,
    by: str,
    balls: str | None = None,
    *,
    level: float = USUAL_LEVEL,
    only: tuple[pd.Series | None, pd.Series | None] = (None, None),
) -> Compared:
    """Compare two frames that `attribute` returned, one for each span of days.

    `only`: of each span the shots to be told of, as in `summarise`. Groups are told in the order of the first summary,
    then those of the second alone. ValueError as `summarise`.
    """
    checked_level(level)
    balls = balls or usual_balls(by)
    summaries = [
        summarise(valued, by, balls, level=level, only=part) for valued, part in zip((first, second), only, strict=True)
    ]
    keys = _keys_of(summaries, by)
    shared = bool(set(first["round_id"]) & set(second["round_id"]))
    lengths = _unequal_lengths(*(_counting(valued, balls) for valued in (first, second)))
    why = (shared, lengths)
    every = by in OF_EVERY_ROUND
    sums = [_sums(valued, part, (by, balls), keys) for valued, part in zip((first, second), only, strict=True)]
    found = _differences(sums[0], sums[1], every=every, level=level)
    whole = _differences(*(_all_of(one) for one in sums), every=True, level=level)
    sides = [{row[by]: row for row in one.rows.to_dict("records")} for one in summaries]
    rows = [
        {by: key, "first": sides[0].get(key), "second": sides[1].get(key), "difference": _said(found, place, *why)}
        for place, key in enumerate(keys)
    ]
    said = _said(whole, 0, *why)
    said["lacking"] = said["lacking"] or said["lacking_per_round"]
    total = {"first": summaries[0].total, "second": summaries[1].total, "difference": said}
    return Compared(by, summaries[0], summaries[1], rows, total)


def _keys_of(summaries: list[Summary], by: str) -> list[Any]:
    """The groups of the first summary, then those of the second alone."""
    return list(dict.fromkeys(key for one in summaries for key in one.rows[by].tolist()))


def _sums(valued: pd.DataFrame, part: pd.Series | None, how: tuple[str, str], keys: list[Any]) -> RoundSums:
    """Sums by group and round of the shots that count; a column for every round, with such shots or without."""
    by, balls = how
    taken = _counting(valued, balls)
    codes, names = pd.factorize(taken["round_id"])
    place = pd.Series(group_keys(taken, by).astype("object")).map({key: place for place, key in enumerate(keys)})
    told = place.notna().to_numpy()
    if part is not None:
        told = told & part[taken.index].to_numpy(dtype=np.bool_)
    values = taken["strokes_gained"].to_numpy(dtype=np.float64)[told]
    groups = place.to_numpy(dtype=np.float64, na_value=0.0)[told].astype(np.intp)
    return round_sums(groups, codes[told], values, len(keys), len(names))


def _counting(valued: pd.DataFrame, balls: str) -> pd.DataFrame:
    """The shots with a value, of the balls that were asked for."""
    return valued[valued["strokes_gained"].notna() & (balls == ALL_BALLS or valued["ball"].eq(1))]


def _unequal_lengths(first: pd.DataFrame, second: pd.DataFrame) -> str | None:
    """The reason why rounds of these shots cannot be compared by the round, or None."""
    if first.empty or second.empty:
        return None
    holes = [len(one.drop_duplicates(["round_id", "hole"])) / one["round_id"].nunique() for one in (first, second)]
    return LENGTHS.format(*holes) if abs(holes[0] - holes[1]) > EQUAL_LENGTH * max(holes) else None


def _all_of(sums: RoundSums) -> RoundSums:
    return RoundSums(sums.shots.sum(axis=0, keepdims=True), sums.strokes.sum(axis=0, keepdims=True))


def _differences(first: RoundSums, second: RoundSums, *, every: bool, level: float) -> dict[str, Floats]:
    """Differences per shot and per round with their ends, and `plenty`, 1 where both sides have the least shots and
    rounds; each shape (groups,)."""
    plenty = [enough(sums.shots.sum(axis=1), (sums.shots > 0).sum(axis=1)) for sums in (first, second)]
    found: dict[str, Floats] = {"plenty": (plenty[0] & plenty[1]).astype(np.float64)}
    for name in ("per_shot", "per_round"):
        means, freedoms = [], []
        for sums in (first, second):
            whole: Flags = np.ones_like(sums.shots, dtype=np.bool_) if every else sums.shots > 0
            if name == "per_shot":
                means.append(per_shot(sums, level))
                freedoms.append(freedom_per_shot(sums.shots))
            else:
                means.append(per_round(sums, level, counted=whole))
                freedoms.append(freedom_per_round(sums, whole.astype(np.float64)))
        found |= {name + end: value for end, value in welch(means, freedoms, level).items()}
    return found


def welch(means: list[Intervals], freedoms: list[Floats], level: float) -> dict[str, Floats]:
    """The difference of two independent means: "" (first less second), "_low" and "_high", each shape (groups,)."""
    first, second = means
    squares = [mean.standard_error**2 for mean in means]
    both = squares[0] + squares[1]
    freedom = both**2 / sum(square**2 / each for square, each in zip(squares, freedoms, strict=True))
    reach = t_quantile(1 - (1 - level) / 2, freedom) * np.sqrt(both)
    difference = first.mean - second.mean
    return {"": difference, "_low": difference - reach, "_high": difference + reach}


def _said(found: dict[str, Floats], place: int, shared: bool, lengths: str | None) -> dict[str, Any]:
    """One group's difference; without interval where the spans share rounds, too little is known, or the shots of a
    side are all alike; without one by the round where `lengths` says why."""
    row: dict[str, Any] = {name: float(column[place]) for name, column in found.items()}
    plenty, lacking = bool(row.pop("plenty")), None
    if np.isnan(row["per_shot"]):
        lacking = ONE_SIDE
    elif shared:
        lacking = SHARED
    elif np.isnan(row["per_shot_low"]):
        lacking = ALIKE if plenty else TOO_FEW
    if lacking is not None:
        row |= {name: float("nan") for name in row if name.endswith(("_low", "_high"))}
    elif lengths is not None:
        row |= {"per_round_low": float("nan"), "per_round_high": float("nan")}
    return row | {"lacking": lacking, "lacking_per_round": lacking or lengths}
