"""Scores of holes and rounds from valued shots of the ball of record."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import Codes, Flags, Floats, distinct

COLUMNS: Final = ("strokes", "penalty_strokes", "putts", "strokes_gained", "unvalued", "complete")


def hole_scores(valued: pd.DataFrame) -> pd.DataFrame:
    """One row a hole that has shots of the ball of record, indexed by (round_id, hole).

    `strokes`: shots and penalty strokes so far; the hole's score only where `complete` (numbers run 1, 2, 3 ...
    and the last shot was holed). `putts`: shots from the green. `strokes_gained`: the sum over valued shots; for a
    complete hole whose shots all have values it is E(first shot) - score. `unvalued`: shots without a value.
    """
    ids, names = _sorted_codes(valued["round_id"])
    found = scores_of(valued, ids)
    index = pd.MultiIndex.from_arrays([names.take(found.round_), found.hole], names=["round_id", "hole"])
    return pd.DataFrame({name: getattr(found, name) for name in COLUMNS}, index=index)


class HoleScores(NamedTuple):
    """The columns of `hole_scores` as arrays, by round and hole. `round_`: the code of each one's round. Shape
    (holes,)."""

    round_: Codes
    hole: Codes
    strokes: Any
    penalty_strokes: Any
    putts: Codes
    strokes_gained: Floats
    unvalued: Codes
    complete: Flags


def scores_of(valued: pd.DataFrame, rounds: Codes) -> HoleScores:
    """The scores of the holes that have shots of the ball of record. `rounds`: the code of each shot's round, from 0,
    -1 for a shot of none; shape (shots,)."""
    mine = np.flatnonzero((valued["ball"].to_numpy() == 1) & (rounds >= 0))
    hole, order = (valued[name].to_numpy()[mine].astype(np.int64) for name in ("hole", "order"))
    low, wide = (int(hole.min()), int(hole.max() - hole.min()) + 1) if mine.size else (0, 1)
    played, group = distinct(rounds[mine] * wide + (hole - low))
    penalty = valued["penalty_strokes"].to_numpy()[mine]
    gained = valued["strokes_gained"].to_numpy(dtype=np.float64)[mine]
    unvalued = np.isnan(gained)

    def sums(values: Any, kind: Any = np.float64) -> Any:
        return np.bincount(group, weights=values, minlength=played.size).astype(kind)

    count_type = penalty.dtype if penalty.dtype.kind in "iu" else np.float64
    round_, number = np.divmod(played, wide)
    return HoleScores(
        round_=round_,
        hole=number + low,
        strokes=sums(np.nan_to_num(1 + penalty), count_type),
        penalty_strokes=sums(np.nan_to_num(penalty), count_type),
        putts=sums(valued["lie"].eq("green").to_numpy(dtype=bool)[mine], np.int64),
        strokes_gained=sums(np.where(unvalued, 0.0, gained)),
        unvalued=sums(unvalued, np.int64),
        complete=_complete(group, order, valued["holed"].to_numpy(dtype=bool)[mine], played.size),
    )


def _sorted_codes(column: pd.Series) -> tuple[Any, pd.Index]:
    """Codes of the values in order, -1 where missing, and the values."""
    codes, names = pd.factorize(column, sort=True)
    return codes.astype(np.int64), pd.Index(names.astype("object"))


def _complete(group: Any, order: Any, holed: Any, many: int) -> Any:
    """Whether each group's numbers run 1, 2, 3 ... and the first that is holed is the last. Shape (many,)."""
    last, holed_at = np.full(many, np.iinfo(np.int64).min), np.full(many, np.iinfo(np.int64).max)
    np.maximum.at(last, group, order)
    np.minimum.at(holed_at, group[holed], order[holed])
    shots = np.bincount(group, minlength=many)
    twice = np.zeros(many, dtype=np.bool_)
    step, turn = np.diff(group), np.diff(order)
    # as shots are read they mostly stand in order
    if not np.all((step > 0) | ((step == 0) & (turn >= 0))):
        by_number = np.lexsort((order, group))
        group, order = group[by_number], order[by_number]
        step, turn = np.diff(group), np.diff(order)
    twice[group[1:][(step == 0) & (turn == 0)]] = True
    return (shots == last) & ~twice & (holed_at == last)
