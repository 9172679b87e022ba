"""Curves of expected strokes over distance: printed rows, a straight line between them, a stated
extension outside them, and a grid that values a million shots in one pass.

Extension (every value it touches is marked "extended"), distances to the hole:

- off the green, nearer than the first printed row: the line through the first two rows goes on, never
  below 1 stroke at the hole;
- tee, nearer than the first printed row: the fairway's value plus the difference of the two columns at
  the first tee row (without a fairway column, as above);
- green, nearer than the first printed row: a straight line to 1 stroke at the hole;
- beyond the last printed row: the mean slope of the last 100 printed yards (green: 30 feet) goes on,
  never downwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.game.lies import CODE, FAIRWAY, GREEN, LIES, TEE, VALUED_AS, LieCodes

Floats = npt.NDArray[np.float64]

FAR_SLOPE_YD: Final = 100.0
FAR_SLOPE_GREEN_YD: Final = 10.0
WIDEST_BUCKET_YD: Final = 0.25
CLOSEST_ROWS_YD: Final = 1 / 64
"""Two rows of one lie must be at least this far apart (about half an inch)."""

_BLOCK: Final = 16_384
_ROWS: Final = 8
"""Seven lies and one row of NaN, so that code & 7 sends an unknown lie (-1) to the last."""


@dataclass(frozen=True, eq=False)
class Curve:
    """Expected strokes from one lie. `distance_yd`, `expected`: shape (k,), ascending distance, printed and
    extension knots together; `printed_from`, `printed_to`: the printed range in yards, both included;
    `slope_beyond`: strokes per yard after the last knot."""

    distance_yd: Floats
    expected: Floats
    printed_from: float
    printed_to: float
    slope_beyond: float


def _slope_beyond(lie: str, distance: Floats, expected: Floats) -> float:
    span = FAR_SLOPE_GREEN_YD if lie == GREEN else FAR_SLOPE_YD
    start = max(distance[-1] - span, distance[0])
    if start == distance[-1]:
        return 0.0
    rise = expected[-1] - np.interp(start, distance, expected)
    return max(0.0, float(rise / (distance[-1] - start)))


def _value_at_hole(lie: str, distance: Floats, expected: Floats) -> float:
    if lie == GREEN:
        return 1.0
    if distance.size == 1:
        return max(1.0, float(expected[0]))
    slope = (expected[1] - expected[0]) / (distance[1] - distance[0])
    return max(1.0, float(expected[0] - slope * distance[0]))


def extend(lie: str, distance: Floats, expected: Floats, fairway: Curve | None = None) -> Curve:
    """The curve of one lie from its printed rows (shape (k,), k >= 1, ascending yards, strokes).

    `fairway` is used for the tee only. See the module's text for the extension.
    """
    first = float(distance[0])
    if lie == TEE and fairway is not None:
        near = fairway.distance_yd[fairway.distance_yd <= first - CLOSEST_ROWS_YD]
        near_values = np.interp(near, fairway.distance_yd, fairway.expected)
        raised = expected[0] - np.interp(first, fairway.distance_yd, fairway.expected)
        near_expected = np.maximum(1.0, near_values + raised)
    else:
        near = np.array([0.0])
        near_expected = np.array([_value_at_hole(lie, distance, expected)])
    return Curve(
        distance_yd=np.concatenate([near, distance]),
        expected=np.concatenate([near_expected, expected]),
        printed_from=first,
        printed_to=float(distance[-1]),
        slope_beyond=_slope_beyond(lie, distance, expected),
    )


def extend_all(rows: Mapping[str, tuple[Floats, Floats]]) -> dict[str, Curve]:
    """The curve of every lie in `rows` (lie -> ascending yards, strokes)."""
    fairway = extend(FAIRWAY, *rows[FAIRWAY]) if FAIRWAY in rows else None
    return {lie: extend(lie, *rows[lie], fairway) for lie in LIES if lie in rows}


class Grid:
    """All curves of a baseline, laid out for lookup without a search.

    Distances fall into buckets whose width is a power of two not wider than the closest two knots, so
    a bucket meets at most one knot: the segment is the bucket's first, or the one after it.
    """

    def __init__(self, curves: Mapping[str, Curve]) -> None:
        closest = min(float(np.diff(curve.distance_yd).min(initial=np.inf)) for curve in curves.values())
        width = WIDEST_BUCKET_YD
        while width > closest:
            width /= 2
        self._per_yard = 1.0 / width
        self._buckets = int(max(curve.distance_yd[-1] for curve in curves.values()) / width) + 1
        self._last_bucket_yd = (self._buckets - 1) * width
        self._first = np.zeros(_ROWS * self._buckets, dtype=np.int32)
        self._from, self._to = np.full(_ROWS, np.nan), np.full(_ROWS, np.nan)
        start, value, slope, end = [0.0], [np.nan], [0.0], [np.inf]
        starts = np.arange(self._buckets) * width
        for lie in LIES:
            curve = curves.get(VALUED_AS.get(lie, lie))
            if curve is None:
                continue
            segment = np.searchsorted(curve.distance_yd, starts, side="right") - 1 + len(start)
            code = CODE[lie]
            self._first[code * self._buckets : (code + 1) * self._buckets] = segment
            self._from[code], self._to[code] = curve.printed_from, curve.printed_to
            start += curve.distance_yd.tolist()
            value += curve.expected.tolist()
            slope += [*(np.diff(curve.expected) / np.diff(curve.distance_yd)).tolist(), curve.slope_beyond]
            end += [*curve.distance_yd[1:].tolist(), np.inf]
        self._start, self._value = np.array(start), np.array(value)
        self._slope, self._end = np.array(slope), np.array(end)

    def expected(self, lie: LieCodes, distance_yd: Floats) -> Floats:
        """Expected strokes, shape (n,). NaN for an unknown lie, a lie without a curve, or a distance that is
        not a finite number above 0."""
        out = np.empty(distance_yd.size)
        for block in range(0, distance_yd.size, _BLOCK):
            part = slice(block, block + _BLOCK)
            self._expected_block(lie[part], distance_yd[part], out[part])
        return out

    def _expected_block(self, lie: LieCodes, distance: Floats, out: Floats) -> None:
        sound = bool(distance.min() > 0) and bool(distance.max() < np.inf)
        inside = distance if sound else np.where((distance > 0) & (distance < np.inf), distance, 1.0)
        bucket = (np.minimum(inside, self._last_bucket_yd) * self._per_yard).astype(np.int32)
        bucket += (lie & np.int8(7)).astype(np.int32) * np.int32(self._buckets)
        segment = self._first.take(bucket)
        segment += inside >= self._end.take(segment)
        np.subtract(inside, self._start.take(segment), out=out)
        out *= self._slope.take(segment)
        out += self._value.take(segment)
        if not sound:
            out[~((distance > 0) & (distance < np.inf))] = np.nan

    def is_extended(self, lie: LieCodes, distance_yd: Floats) -> npt.NDArray[np.bool_]:
        """True where a value comes from the extension, shape (n,)."""
        row = (lie & np.int8(7)).astype(np.intp)
        return (distance_yd < self._from.take(row)) | (distance_yd > self._to.take(row))
