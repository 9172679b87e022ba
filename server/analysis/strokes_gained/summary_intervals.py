"""The figures of a summary's rows: counts, sums, intervals and shrunk means, of one player or of many at once.

Many players' groups follow one another, each beside the rounds of its own player, numbered from 0: sums by
group and round are one array (groups, most rounds of a player). Sums go from left to right, so that a player's figures
are the same to the last bit whoever is worked out beside.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import (
    Codes,
    Flags,
    Floats,
    Intervals,
    RoundSums,
    across,
    divided,
    per_round,
    per_shot,
    reasons,
    round_sums,
)
from server.analysis.evidence.round_lengths import RoundLengths
from server.analysis.evidence.shrinkage import (
    LEAST_MEANS,
    Sets,
    like_starts,
    sampling_variances,
    shrink,
    variance_freedom,
)

HOLE: Final = "hole"
"""The grouping whose strokes a round are strokes each time it is played: a round has it once, whatever its length."""

OF_EVERY_ROUND: Final = frozenset({"club", "category", "lie", "distance"})
"""Groupings whose strokes a round are taken over every round counted, so that the rows sum to the round's. The
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


class Counted(NamedTuple):
    """Shots that have a value, of one player or of many. `group`: the row of each, from 0, those of a player one behind
    the other; `round_`, `counting`: the number of its round among its player's and among those that count, -1 where it
    does not (`RoundsOfMany`); `values`: strokes; `of_record`, `extended`: flags. For shrunk means `lie` and `band`,
    codes from 0. All shape (shots,)."""

    group: Codes
    round_: Codes
    counting: Codes
    values: Floats
    of_record: Flags
    extended: Flags
    lie: Codes
    band: Codes


def of_rounds(group: Codes, counted: pd.DataFrame, rows: int, by: str | None, lengths: RoundLengths) -> OfRounds:
    """What the figures a round of some groups of a player are worked out from; `by` None: all shots together.

    `group`: the row of every shot, from 0; `counted`: the shots, all with a value, with `round_id`, `strokes_gained`
    and `of_record`; `rows`: how many groups there are.
    """
    place = lengths.places(counted["round_id"])
    mine = counted["of_record"].to_numpy(dtype=bool) & (place >= 0)
    values = counted["strokes_gained"].to_numpy(dtype=np.float64)
    sums = round_sums(group[mine], place[mine], values[mine], rows, lengths.rounds)
    return _parted(sums, np.tile(lengths.parts, (rows, 1)), by)


def _parted(sums: RoundSums, parts: Floats, by: str | None) -> OfRounds:
    """`parts`: of the rounds that count beside each group, 0 behind the last, shape (groups, rounds)."""
    if by == HOLE:
        parts = (parts > 0).astype(np.float64)
    return OfRounds(sums, parts if by is None or by in OF_EVERY_ROUND else np.where(sums.shots > 0, parts, 0.0))


def figures(counted: Counted, groups: Sets, parts: Floats, by: str | None, level: float) -> Columns:
    """The columns of a summary's rows but its keys: shots, rounds, strokes_gained, per_shot, extended, then `COLUMNS`,
    `shrunk` and its interval only for `SHRUNK`; of all shots of a player together where `by` is None.

    `groups`: the player of each row and its place among the player's; `parts`: of every player the rounds that count,
    with such shots or without, as `RoundsOfMany.parts`. Strokes; NaN where nothing can be computed, with the reason in
    `too_few`.
    """
    rows, values = groups.of.size, counted.values
    rounds = int(counted.round_.max(initial=-1)) + 1
    sums = round_sums(counted.group, counted.round_, values, rows, rounds)
    mine = counted.of_record & (counted.counting >= 0)
    of_record = round_sums(counted.group[mine], counted.counting[mine], values[mine], rows, parts.shape[1])
    columns = _columns(sums, _parted(of_record, parts[groups.of], by), level)
    shots = np.bincount(counted.group, minlength=rows)
    strokes = np.bincount(counted.group, weights=values, minlength=rows).astype(np.float64)
    found = {
        "shots": shots,
        "rounds": (sums.shots > 0).sum(axis=1),
        "strokes_gained": strokes,
        "per_shot": divided(strokes, shots.astype(np.float64)),
        "extended": np.bincount(counted.group[counted.extended], minlength=rows),
    }
    return found | columns | (_shrunk(sums, columns, counted, groups, level) if by in SHRUNK else {})


def plain(value: Any) -> Any:
    """A figure as Python has it, None where nothing can be stated."""
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


def _shrunk(sums: RoundSums, columns: Columns, counted: Counted, groups: Sets, level: float) -> Columns:
    """Shrunk means of the groups that have an interval, and theirs; NaN for the others, and for all of a player who has
    too few."""
    names = ("shrunk", "shrunk_low", "shrunk_high")
    found = {name: np.full(groups.of.size, np.nan) for name in names}
    stated = ~np.isnan(columns["per_shot_low"])
    stated &= (groups.chosen(stated).sizes() >= LEAST_MEANS)[groups.of]
    if not stated.any():
        return found
    like = like_starts(counted.group, counted.lie, counted.band, counted.values, groups.of.size, groups)
    known, mine = RoundSums(sums.shots[stated], sums.strokes[stated]), groups.chosen(stated)
    means = across(known.strokes) / known.shots.sum(axis=1)
    variances = sampling_variances(known, mine)
    shrunk = shrink(means, variances, like.centre[stated], sets=mine, borrowed=like.borrowed[stated])
    ends = shrunk.interval(level, variance_freedom(known))
    for name, column in zip(names, (shrunk.shrunk, *ends), strict=True):
        found[name][stated] = column
    return found
