"""Strokes gained of every shot.

    strokes gained = E(before) - E(after) - 1 - penalty strokes

with E the baseline's expected strokes and E(holed) = 0. Ends come from next starts, so over a hole
of the ball of record the sum telescopes to E(first shot) - score, exactly but for rounding.

Source: M. Broadie, Interfaces 42(2), 2012, 146-165 (definition); the way a penalty is counted is rule 1.3c of
the Rules of Golf 2023, "a penalty stroke belongs to the shot that brought it" is common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.game.categories import CategoryScheme
from server.game.lies import CODE, GREEN, UNKNOWN, LieCodes, lie_codes, lie_names
from server.game.linking import AFTER_HOLED, GAP, IN_ORDER, NONE, REPEATED, link
from server.game.penalties import STROKE_AND_DISTANCE_ONLY
from server.game.ranges import FARTHEST_ON_GREEN_YD, FARTHEST_YD

PRINTED: Final = "printed"
EXTENDED: Final = "extended"
NO_END: Final = "no_end"
SHOT_MISSING: Final = "shot_missing"
NUMBER_TWICE: Final = "number_twice"
AFTER_THE_HOLE: Final = "after_holed"
UNKNOWN_LIE: Final = "unknown_lie"
BAD_DISTANCE: Final = "bad_distance"
LIE_NOT_IN_BASELINE: Final = "lie_not_in_baseline"

BASES: Final[dict[str, str]] = {
    PRINTED: "both distances are within the baseline's table",
    EXTENDED: "at least one distance is beyond the table's range",
    NO_END: "picked up or not finished, and no end recorded",
    SHOT_MISSING: "the next shot is missing, so its end is not known",
    NUMBER_TWICE: "two shots of this ball have the same number",
    AFTER_THE_HOLE: "the ball was already holed",
    UNKNOWN_LIE: "the lie is missing or not one of the lies",
    BAD_DISTANCE: "the distance is missing or outside its range",
    LIE_NOT_IN_BASELINE: "the baseline has no row for one of the lies",
}
"""The values of `basis`, and what they mean. The first two carry a value, the rest carry none."""

_BASIS_CODE: Final = {name: code for code, name in enumerate(BASES)}
_FAULT_BASIS: Final = {GAP: SHOT_MISSING, REPEATED: NUMBER_TWICE, AFTER_HOLED: AFTER_THE_HOLE}

Flags = npt.NDArray[np.bool_]


class _Ends(NamedTuple):
    lie: LieCodes
    distance: Floats
    holed: Flags
    known: Flags


def attribute(shots: pd.DataFrame, baseline: Baseline, scheme: CategoryScheme | None = None) -> pd.DataFrame:
    """Value every shot.

    `shots`: one row a shot in any order, with the columns `round_id`, `hole`, `order` (the shot's number on its
    ball), `lie`, `distance_yd`, and where they matter `ball` (1 = ball of record, the default), `par` (default 4),
    `holed` (false), `penalty_strokes` (0), `penalty_reason`, `end_lie` and `end_distance_yd` (entered ends).

    Returns the same rows, index and columns, with `end_lie` and `end_distance_yd` (yards; 0 and no lie when holed),
    `category`, `expected_before`, `expected_after`, `strokes_gained` (strokes; NaN where there is no value) and `basis`
    (a key of `BASES`). The input is not changed. KeyError names a missing required column.
    """
    scheme = scheme or CategoryScheme()
    missing = [name for name in ("round_id", "hole", "order", "lie", "distance_yd") if name not in shots.columns]
    if missing:
        raise KeyError(f"shots: missing column {', '.join(missing)}")
    lie = lie_codes(shots["lie"])
    distance = shots["distance_yd"].to_numpy(dtype=np.float64)
    holed = _flags(shots, "holed")
    penalty = _numbers(shots, "penalty_strokes", 0.0)
    ball = shots["ball"] if "ball" in shots.columns else np.ones(len(shots), dtype=np.int64)
    links = link(shots["round_id"], shots["hole"], ball, shots["order"], holed)
    ends = _ends(shots, lie, distance, holed, penalty, links.following)

    before = baseline.grid.expected(lie, distance)
    after = baseline.grid.expected(ends.lie, ends.distance)
    after[ends.holed] = 0.0
    basis = _basis(baseline, lie, distance, ends, links.fault, before, after)
    gained = before - after
    gained -= 1.0
    gained -= penalty
    unvalued = basis > _BASIS_CODE[EXTENDED]
    gained[unvalued] = np.nan
    par = shots["par"].to_numpy() if "par" in shots.columns else np.full(len(shots), 4)
    return shots.assign(
        end_lie=pd.Series(lie_names(ends.lie), index=shots.index),
        end_distance_yd=ends.distance,
        category=_categorical(scheme.codes(lie, distance, par), scheme.categories, shots.index),
        expected_before=before,
        expected_after=after,
        strokes_gained=gained,
        basis=_categorical(basis, tuple(BASES), shots.index),
    )


def _categorical(codes: npt.NDArray[np.int8], names: tuple[str, ...], index: pd.Index) -> pd.Series:
    return pd.Series(pd.Categorical.from_codes(codes, dtype=_words(names)), index=index)


@lru_cache(maxsize=8)
def _words(names: tuple[str, ...]) -> pd.CategoricalDtype:
    """Kept: to check words takes longer than to value some hundred shots."""
    return pd.CategoricalDtype(list(names))


def _flags(shots: pd.DataFrame, name: str) -> Flags:
    if name not in shots.columns:
        return np.zeros(len(shots), dtype=np.bool_)
    column = shots[name]
    return np.asarray(column if column.dtype == np.bool_ else column.eq(True).fillna(False), dtype=np.bool_)


def _numbers(shots: pd.DataFrame, name: str, default: float) -> Floats:
    if name not in shots.columns:
        return np.full(len(shots), default)
    column = shots[name].to_numpy(dtype=np.float64, na_value=default)
    if np.isnan(column).any():
        column = np.where(np.isnan(column), default, column)
    return np.asarray(column)


def _ends(shots: pd.DataFrame, lie: LieCodes, distance: Floats, holed: Flags, penalty: Floats, following: Any) -> _Ends:
    """Where each shot ended: holed, the next start, the entered end, or the same spot (lost, out of bounds)."""
    linked = following != NONE
    place = np.where(linked, following, 0)
    end_lie = lie.take(place) if lie.size else lie.copy()
    end_distance = distance.take(place) if lie.size else distance.copy()
    open_end = ~linked
    if open_end.any():
        end_lie[open_end], end_distance[open_end] = UNKNOWN, np.nan
        if "end_lie" in shots.columns and "end_distance_yd" in shots.columns:
            end_lie[open_end] = lie_codes(shots["end_lie"])[open_end]
            end_distance[open_end] = _numbers(shots, "end_distance_yd", np.nan)[open_end]
        if "penalty_reason" in shots.columns:
            again = open_end & (penalty == 1) & np.isnan(end_distance)
            again &= shots["penalty_reason"].isin(STROKE_AND_DISTANCE_ONLY).to_numpy(dtype=np.bool_)
            end_lie[again], end_distance[again] = lie[again], distance[again]
    end_lie[holed], end_distance[holed] = UNKNOWN, 0.0
    known = holed | linked | (end_lie != UNKNOWN) | ~np.isnan(end_distance)
    return _Ends(end_lie, end_distance, holed, known)


def in_range(lie: LieCodes, distance: Floats) -> Flags:
    """True where a distance is possible: above 0 and up to 700 yd, on the green up to 50 yd."""
    sound: Flags = (distance > 0) & (distance <= FARTHEST_YD)
    long_putt = distance > FARTHEST_ON_GREEN_YD
    if long_putt.any():
        sound &= ~(long_putt & (lie == CODE[GREEN]))
    return sound


def _basis(
    baseline: Baseline,
    lie: LieCodes,
    distance: Floats,
    ends: _Ends,
    fault: npt.NDArray[np.int8],
    before: Floats,
    after: Floats,
) -> npt.NDArray[np.int8]:
    """The code of `basis` for every row; later lines outrank earlier ones."""
    grid = baseline.grid
    beyond = grid.is_extended(lie, distance)
    beyond |= grid.is_extended(ends.lie, ends.distance) & ~ends.holed
    basis = beyond.astype(np.int8) * np.int8(_BASIS_CODE[EXTENDED])
    sound = in_range(lie, distance) & (ends.holed | in_range(ends.lie, ends.distance))
    has_value = sound & ~np.isnan(before) & ~np.isnan(after)
    if not has_value.all():
        basis[~has_value] = _BASIS_CODE[LIE_NOT_IN_BASELINE]
        basis[ends.known & ~sound] = _BASIS_CODE[BAD_DISTANCE]
        basis[ends.known & ~ends.holed & (ends.lie == UNKNOWN)] = _BASIS_CODE[UNKNOWN_LIE]
        basis[~ends.known] = _BASIS_CODE[NO_END]
        basis[~in_range(lie, distance)] = _BASIS_CODE[BAD_DISTANCE]
        basis[lie == UNKNOWN] = _BASIS_CODE[UNKNOWN_LIE]
    if (fault != IN_ORDER).any():
        for kind, name in _FAULT_BASIS.items():
            basis[fault == kind] = _BASIS_CODE[name]
    return basis
