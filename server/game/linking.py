"""Linking the shots of a ball: where each shot ended.

The end of a shot is the start of the next shot of the same ball on the same hole. That one rule covers
relief (the next shot starts at the drop, rules 17 and 19), stroke and distance (it starts where this one
did, rules 17.1d(1), 18.1, 18.2b, 19.2a) and re-teeing. Without a next shot the end is the hole, the
end that was entered when the ball was picked up, the same spot after a ball lost or out of bounds, or not known.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from pandas.api.extensions import ExtensionArray
from pandas.arrays import NumpyExtensionArray

NONE: Final = -1
MOST_KEYS: Final = 2**62
"""Ball and shot number share one 64-bit key while this many are enough."""

MOST_PLACES_A_SHOT: Final = 8
"""Ball and shot number name a place in a list while that holds no more places than this many for each shot."""

LEAST_PLACES: Final = 1024

IN_ORDER: Final = 0
REPEATED: Final = 1
GAP: Final = 2
AFTER_HOLED: Final = 3

Index = npt.NDArray[np.intp]


class Links(NamedTuple):
    """`following`: for each row the row of the next shot of its ball, or -1. `fault`: one of IN_ORDER,
    REPEATED (two shots with one number), GAP (the number after it is missing), AFTER_HOLED. Shape (n,) each."""

    following: Index
    fault: npt.NDArray[np.int8]


def _codes(values: Any) -> tuple[npt.NDArray[np.int64], int]:
    """Small integer codes of any column, and how many there can be."""
    array = values.array if isinstance(values, pd.Series) else values
    if isinstance(array, pd.Categorical):
        return array.codes.astype(np.int64) + 1, len(array.categories) + 1
    if isinstance(array, ExtensionArray) and not isinstance(array, NumpyExtensionArray):
        codes, uniques = pd.factorize(array)
        return codes.astype(np.int64) + 1, len(uniques) + 1
    plain = np.asarray(array)
    if plain.dtype.kind in "iu" and plain.size:
        low = int(plain.min())
        span = int(plain.max()) - low + 1
        if span <= max(4 * plain.size, 1024):
            return plain.astype(np.int64) - low, span
    if plain.dtype == object:
        return _codes_of_objects(plain)
    codes, uniques = pd.factorize(plain)
    return codes.astype(np.int64) + 1, len(uniques) + 1


def _codes_of_objects(cells: npt.NDArray[np.object_]) -> tuple[npt.NDArray[np.int64], int]:
    """As `_codes`, for text: 0 is missing. A plain dictionary takes half the time of `pandas.factorize`."""
    known: defaultdict[Any, int] = defaultdict()
    known.default_factory = known.__len__
    codes = np.fromiter(map(known.__getitem__, cells), np.int64, cells.size)
    missing = pd.isna(np.fromiter(known, np.object_, len(known)))
    if missing.any():
        return np.where(missing, 0, np.arange(1, missing.size + 1))[codes], missing.size + 1
    return codes + 1, missing.size + 1


def _balls(columns: tuple[Any, Any, Any]) -> tuple[npt.NDArray[np.int64], int]:
    """One integer a ball, and how many there can be. Kept small enough for 64 bits whatever the columns hold."""
    ball, balls = _codes(columns[0])
    for column in columns[1:]:
        codes, span = _codes(column)
        if balls * span > MOST_KEYS:
            ball, uniques = pd.factorize(ball)
            ball, balls = ball.astype(np.int64), len(uniques)
        ball = ball * span + codes
        balls *= span
    return ball, balls


def _ball_and_order(ball: npt.NDArray[np.int64], balls: int, order: npt.NDArray[np.int64]) -> tuple[Index, Any, Any]:
    """Rows in playing order, with the key of the ball and the shot's number in that order."""
    low, high = (int(order.min()), int(order.max())) if order.size else (0, 0)
    if balls * (high - low + 1) > MOST_KEYS:
        rows = np.lexsort((order, ball))
        return rows, ball[rows], order[rows]
    key = ball * (high - low + 1) + (order - low)
    if key.size < 2 or bool(np.all(key[1:] >= key[:-1])):
        rows = np.arange(key.size)
        return rows, ball, order
    rows = np.argsort(key, kind="stable")  # of two with one number the first row is the first shot
    return rows, ball[rows], order[rows]


def link(round_id: Any, hole: Any, ball: Any, order: Any, holed: npt.NDArray[np.bool_]) -> Links:
    """Link shots to the next of their ball.

    `round_id`, `hole`, `ball`: columns, shape (n,), that together name a ball on a hole; `order`: the
    shot's number on that ball, integers; `holed`: true where the shot was holed. Rows in any order.
    """
    number = np.asarray(order, dtype=np.int64)
    of, balls = _balls((round_id, hole, ball))
    low, high = (int(number.min()), int(number.max())) if number.size else (0, 0)
    span = high - low + 2  # one number more than any ball has, so that no ball's last place touches the next ball's
    if balls * span > max(MOST_PLACES_A_SHOT * number.size, LEAST_PLACES):
        return _link_sorted(of, balls, number, holed)
    return _link_by_place(of, balls, number, span, low, holed)


def _link_by_place(
    of: npt.NDArray[np.int64], balls: int, number: npt.NDArray[np.int64], span: int, low: int, holed: Any
) -> Links:
    """The same without putting the rows in order: each lies at the place of its ball and number, and the next one at
    the place behind it. Balls with a fault are put in order by themselves."""
    size = number.size
    place = of * span + (number - low)
    row_at = np.full(balls * span + 1, NONE, dtype=np.intp)
    rows = np.arange(size, dtype=np.intp)
    row_at[place] = rows
    following = row_at.take(place + 1)
    last = following == NONE
    faulty = (holed & ~last) | (row_at.take(place) != rows)
    wrong = np.zeros(balls, dtype=np.bool_)
    wrong[of[faulty]] = True
    ends = of[last]
    wrong[np.flatnonzero(np.bincount(ends) > 1)] = True
    fault = np.zeros(size, dtype=np.int8)
    if wrong.any():
        part = np.flatnonzero(wrong.take(of))
        links = _link_sorted(of[part], balls, number[part], holed[part])
        following[part] = np.where(links.following == NONE, NONE, part[links.following])
        fault[part] = links.fault
    return Links(following, fault)


def _link_sorted(of: npt.NDArray[np.int64], balls: int, number: npt.NDArray[np.int64], holed: Any) -> Links:
    """The same with the rows put in playing order."""
    rows, key, number = _ball_and_order(of, balls, number)
    size = rows.size
    following = np.full(size, NONE, dtype=np.intp)
    fault = np.zeros(size, dtype=np.int8)
    if size < 2:
        return Links(following, fault)
    same = key[1:] == key[:-1]
    step = number[1:] - number[:-1]
    joined = same & (step == 1)
    if bool(np.any(same & ~joined)):
        _mark_faults(rows, same, step, fault)
        joined &= fault[rows[:-1]] == IN_ORDER
    following[rows[:-1]] = np.where(joined, rows[1:], NONE)
    if bool(np.any(holed[rows[:-1]] & same)):
        _mark_after_holed(rows, key, holed, fault)
    return Links(following, fault)


def _mark_faults(rows: Index, same: Any, step: Any, fault: npt.NDArray[np.int8]) -> None:
    """Mark shots whose successor is missing or whose number occurs twice."""
    fault[rows[:-1][same & (step > 1)]] = GAP
    twice = same & (step == 0)
    fault[rows[:-1][twice]] = REPEATED
    fault[rows[1:][twice]] = REPEATED
    before_twice = np.flatnonzero(same & (step == 1))
    into = before_twice[fault[rows[before_twice + 1]] == REPEATED]
    untouched = fault[rows[into]] == IN_ORDER
    fault[rows[into[untouched]]] = REPEATED


def _mark_after_holed(rows: Index, key: Any, holed: npt.NDArray[np.bool_], fault: npt.NDArray[np.int8]) -> None:
    """Mark every shot of a ball that comes after that ball was holed."""
    in_play_order = holed[rows].astype(np.int64)
    before = np.cumsum(in_play_order) - in_play_order
    first = np.r_[True, key[1:] != key[:-1]]
    start = np.maximum.accumulate(np.where(first, np.arange(rows.size), 0))
    fault[rows[(before - before[start]) > 0]] = AFTER_HOLED
