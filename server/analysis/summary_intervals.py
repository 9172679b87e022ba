"""Intervals and shrunk means for the rows and the total of a summary."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.intervals import (
    Codes,
    Flags,
    Floats,
    Intervals,
    RoundSums,
    per_round,
    per_shot,
    reasons,
    round_sums,
)
from server.analysis.shrinkage import LEAST_MEANS, like_starts, sampling_variances, shrink

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
)


def interval_columns(
    group: Codes, counted: pd.DataFrame, shape: tuple[int, int], by: str, level: float
) -> dict[str, Any]:
    """The columns `COLUMNS` for a summary's rows; `shape`: how many rows, and how many rounds there are in all, with
    such shots or without. `shrunk` only for `SHRUNK`.

    `group`: the row of every shot, from 0; `counted`: the shots, all with a value, with `round_id`, `strokes_gained`
    and for shrunk means `lie` and `band`. Strokes; NaN where nothing can be said, with the reason in `too_few`.
    """
    rounds, _ = pd.factorize(counted["round_id"])
    values = counted["strokes_gained"].to_numpy(dtype=np.float64)
    sums = round_sums(group, rounds, values, *shape)
    whole = np.ones_like(sums.shots, dtype=np.bool_) if by in OF_EVERY_ROUND else sums.shots > 0
    columns = _columns(sums, whole, level)
    if by in SHRUNK:
        columns["shrunk"] = _shrunk(sums, columns, group, counted, values)
    return columns


def total_intervals(counted: pd.DataFrame, all_rounds: int, level: float) -> dict[str, Any]:
    """The same figures over all shots as one group: numbers, None where nothing can be said."""
    rounds, _ = pd.factorize(counted["round_id"])
    values = counted["strokes_gained"].to_numpy(dtype=np.float64)
    sums = round_sums(np.zeros(len(counted), dtype=np.intp), rounds, values, 1, all_rounds)
    columns = _columns(sums, np.ones_like(sums.shots, dtype=np.bool_), level)
    return {name: _plain(column[0]) for name, column in columns.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, str) or value is None:
        return value
    return None if np.isnan(value) else value.item()


def _columns(sums: RoundSums, whole: Flags, level: float) -> dict[str, Any]:
    shot: Intervals = per_shot(sums, level)
    round_: Intervals = per_round(sums, level, counted=whole)
    return {
        "per_shot_low": shot.low,
        "per_shot_high": shot.high,
        "per_round": round_.mean,
        "per_round_low": round_.low,
        "per_round_high": round_.high,
        "of_rounds": whole.sum(axis=1),
        "too_few": np.array(reasons(sums, shot), dtype=object),
    }


def _shrunk(sums: RoundSums, columns: dict[str, Any], group: Codes, counted: pd.DataFrame, values: Floats) -> Floats:
    """Shrunk means of the groups that have an interval; NaN for the others, and for all when they are too few."""
    shrunk = np.full(sums.shots.shape[0], np.nan)
    said = ~np.isnan(columns["per_shot_low"])
    if said.sum() < LEAST_MEANS:
        return shrunk
    lie, band = (counted[name].cat.codes.to_numpy() + 1 for name in ("lie", "band"))
    centre = like_starts(group, lie, band, values, said.size)[said]
    known = RoundSums(sums.shots[said], sums.strokes[said])
    means = known.strokes.sum(axis=1) / known.shots.sum(axis=1)
    shrunk[said] = shrink(means, sampling_variances(known), centre).shrunk
    return shrunk
