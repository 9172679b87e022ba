"""Intervals and shrunk means for the rows and the total of a summary."""

from __future__ import annotations

from typing import Any, Final, NamedTuple, cast

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import (
    Codes,
    Floats,
    Intervals,
    RoundSums,
    per_round,
    per_shot,
    reasons,
    round_sums,
)
from server.analysis.evidence.round_lengths import RoundLengths
from server.analysis.evidence.shrinkage import (
    LEAST_MEANS,
    like_starts,
    sampling_variances,
    shrink,
    variance_freedom,
)
from server.analysis.strokes_gained.rows import IntervalColumns

HOLE: Final = "hole"
"""The grouping whose strokes a round are strokes each time it is played: a round has it once, whatever its length."""

OF_EVERY_ROUND: Final = frozenset({"club", "category", "lie", "distance"})
"""Groupings whose strokes a round are taken over every round counted, so that the rows sum to the whole round's. The
others are taken over the rounds in which the group occurs."""

SHRUNK: Final = frozenset({"club", "category"})
"""Groupings that have shrunk means."""

COLUMNS: Final = (
    "per_shot_low",
    "per_shot_high",
    "per_round",
    "per_round_low",
    "per_round_high",
    "of_rounds",
    "too_few",
    "shrunk",
    "shrunk_low",
    "shrunk_high",
)

Columns = dict[str, np.ndarray]
"""Figures by name, each shape (groups,)."""


class OfRounds(NamedTuple):
    """`sums`: of the ball of record by group and round that counts; `parts`: each such round as a part of 18 holes, 0
    where it does not count for the group. Shapes (groups, rounds)."""

    sums: RoundSums
    parts: Floats


def of_rounds(group: Codes, counted: pd.DataFrame, rows: int, by: str | None, lengths: RoundLengths) -> OfRounds:
    """What the figures a round of some groups are worked out from; `by` None: all shots together.

    `group`: the row of every shot, from 0; `counted`: the shots, all with a value, with `round_id`, `strokes_gained`
    and `of_record`; `rows`: how many groups there are.
    """
    place = lengths.places(counted["round_id"])
    mine = counted["of_record"].to_numpy(dtype=bool) & (place >= 0)
    values = counted["strokes_gained"].to_numpy(dtype=np.float64)
    sums = round_sums(group[mine], place[mine], values[mine], rows, lengths.rounds)
    parts = np.tile(lengths.parts, (rows, 1))
    if by == HOLE:
        parts = np.ones_like(parts)
    return OfRounds(sums, parts if by is None or by in OF_EVERY_ROUND else np.where(sums.shots > 0, parts, 0.0))


def interval_columns(
    group: Codes, counted: pd.DataFrame, rows: int, by: str, lengths: RoundLengths, level: float
) -> Columns:
    """The columns `COLUMNS` for a summary's rows, `rows` of them. `shrunk` and its interval only for `SHRUNK`.

    `group`, `counted`: as in `of_rounds`, for shrunk means with `lie` and `band`. Strokes; NaN where nothing can be
    said, with the reason in `too_few`. `lengths`: of all rounds, with such shots or without.
    """
    values = counted["strokes_gained"].to_numpy(dtype=np.float64)
    sums = _by_shot(group, counted, rows)
    columns = _columns(sums, of_rounds(group, counted, rows, by, lengths), level)
    if by in SHRUNK:
        columns |= _shrunk(sums, columns, group, counted, values, level)
    return columns


def total_intervals(counted: pd.DataFrame, lengths: RoundLengths, level: float) -> IntervalColumns:
    """The same figures over all shots as one group: numbers, None where nothing can be stated."""
    group = np.zeros(len(counted), dtype=np.intp)
    columns = _columns(_by_shot(group, counted, 1), of_rounds(group, counted, 1, None, lengths), level)
    return cast(IntervalColumns, {name: _plain(column[0]) for name, column in columns.items()})


def _by_shot(group: Codes, counted: pd.DataFrame, rows: int) -> RoundSums:
    """Sums by group and round of all the shots, extra balls and short rounds too."""
    rounds, ids = pd.factorize(counted["round_id"])
    return round_sums(group, rounds, counted["strokes_gained"].to_numpy(dtype=np.float64), rows, len(ids))


def _plain(value: Any) -> Any:
    if isinstance(value, str) or value is None:
        return value
    return None if np.isnan(value) else value.item()


def _columns(sums: RoundSums, by_round: OfRounds, level: float) -> Columns:
    shot: Intervals = per_shot(sums, level)
    round_: Intervals = per_round(by_round.sums, level, counted=by_round.parts)
    return {
        "per_shot_low": shot.low,
        "per_shot_high": shot.high,
        "per_round": round_.mean,
        "per_round_low": round_.low,
        "per_round_high": round_.high,
        "of_rounds": (by_round.parts > 0).sum(axis=1),
        "too_few": np.array(reasons(sums, shot), dtype=object),
    }


def _shrunk(
    sums: RoundSums, columns: Columns, group: Codes, counted: pd.DataFrame, values: Floats, level: float
) -> Columns:
    """Shrunk means of the groups that have an interval, and theirs; NaN for the others, and for all when too few."""
    names = ("shrunk", "shrunk_low", "shrunk_high")
    found = {name: np.full(sums.shots.shape[0], np.nan) for name in names}
    stated = ~np.isnan(columns["per_shot_low"])
    if stated.sum() < LEAST_MEANS:
        return found
    lie, band = (counted[name].cat.codes.to_numpy() + 1 for name in ("lie", "band"))
    like = like_starts(group, lie, band, values, stated.size)
    known = RoundSums(sums.shots[stated], sums.strokes[stated])
    means = known.strokes.sum(axis=1) / known.shots.sum(axis=1)
    borrowed = like.borrowed[np.ix_(stated, stated)]
    means_shrunk = shrink(means, sampling_variances(known), like.centre[stated], borrowed=borrowed)
    ends = means_shrunk.interval(level, variance_freedom(known))
    for name, column in zip(names, (means_shrunk.shrunk, *ends), strict=True):
        found[name][stated] = column
    return found
