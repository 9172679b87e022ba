"""The ground of a hole, prepared: a fine raster of lies out of the map's polygons, so that a landing costs one lookup
however many points the polygons have.

Trees have a height, `height_yd` of their feature or 15 yd, in a raster of its own.

Painted from below: rough everywhere, then trees, tee, fairway, bunkers, the fringe (2 yd around a green), greens,
water, out of bounds. Half-yard cells: a boundary is off by a quarter of a yard at most, to both sides alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from shapely import MultiPolygon, total_bounds
from shapely.geometry import Polygon

from server.analysis.expected_strokes.curves import Floats
from server.game.hole_maps import Feature, kind_of, map_fault, middle_of_green, polygon, tree_height
from server.game.lies import CODE, FAIRWAY, FRINGE, GREEN, RECOVERY, ROUGH, SAND
from server.game.map_bounds import around, common

CELL_YD: Final = 0.5
MARGIN_YD: Final = 120.0
"""The raster reaches so far beyond the map, but never beyond what a plan looks at (`server.game.map_bounds`); a landing
still farther counts at the raster's edge."""

CROSSINGS_AT_ONCE: Final = 200_000
"""Rows that the edges of a polygon cross are worked out in groups of about so many, so that memory stays flat."""

FRINGE_YD: Final = 2.0
RED, YELLOW, OUT = 10, 11, 12
"""Codes of a red penalty area, a yellow one and out of bounds, beside the codes of the lies."""

_PAINTED: Final = (
    ("rough", CODE[ROUGH]),
    ("trees", CODE[RECOVERY]),
    ("tee", CODE[FAIRWAY]),
    ("fairway", CODE[FAIRWAY]),
    ("bunker", CODE[SAND]),
    ("fringe", CODE[FRINGE]),
    ("green", CODE[GREEN]),
    ("water_hazard", YELLOW),
    ("lateral_water_hazard", RED),
    ("out_of_bounds", OUT),
)

Codes = npt.NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class Ground:
    """A prepared hole. `code`: (rows, columns), row by row away from the tee; (`left`, `near`) is the raster's corner;
    `pin` the middle of the green; `bounds` left, near, right, far of the map, as far as a plan looks. `tree_yd`: height
    of the trees, whole yards, of the shape of `code`; None where there are none."""

    code: Codes
    left: float
    near: float
    pin: tuple[float, float]
    bounds: tuple[float, float, float, float]
    tree_yd: npt.NDArray[np.uint8] | None = None

    def places(self, x: Floats, y: Floats) -> npt.NDArray[np.int32]:
        """Places in the flat raster of points, any shape; points outside count at the edge."""
        rows, columns = self.code.shape
        column = np.clip((x - self.left) / CELL_YD, 0, columns - 1).astype(np.int32)
        row = np.clip((y - self.near) / CELL_YD, 0, rows - 1).astype(np.int32)
        row *= np.int32(columns)
        row += column
        return row

    def codes(self, x: Floats, y: Floats) -> Codes:
        """What lies at points, any shape."""
        return self.code.ravel()[self.places(x, y)]

    def centres(self) -> tuple[Floats, Floats]:
        """x of every column, y of every row."""
        rows, columns = self.code.shape
        x = self.left + (np.arange(columns, dtype=np.float64) + 0.5) * CELL_YD
        return x, self.near + (np.arange(rows, dtype=np.float64) + 0.5) * CELL_YD

    def inside(self, x: float, y: float, beyond: float) -> bool:
        """True when a point lies within the map, or no farther than `beyond` yards outside its bounds."""
        left, near, right, far = self.bounds
        return left - beyond <= x <= right + beyond and near - beyond <= y <= far + beyond


def prepare(features: Sequence[Feature]) -> Ground:
    """Prepare a hole's map. Raises ValueError with the first fault of the map (no green, crossing polygons, ...)."""
    if fault := map_fault(features):
        raise ValueError(fault)
    shapes: dict[str, list[Polygon]] = {}
    for feature in features:
        shapes.setdefault(kind_of(feature), []).append(polygon(feature))
    shapes["fringe"] = [green.buffer(FRINGE_YD) for green in shapes["green"]]
    pin = middle_of_green(features)
    seen = around(pin)
    left, near, right, far = map(float, total_bounds([shape for kind in shapes.values() for shape in kind]))
    bounds = common((left, near, right, far), seen)
    wide = (left - MARGIN_YD, min(near, 0.0) - MARGIN_YD, right + MARGIN_YD, far + MARGIN_YD)
    left, near, right, far = common(wide, seen)
    columns, rows = int(np.ceil((right - left) / CELL_YD)), int(np.ceil((far - near) / CELL_YD))
    code = np.full((rows, columns), CODE[ROUGH], dtype=np.int8)
    for kind, value in _PAINTED:
        for shape in shapes.get(kind, []):
            _paint(code, left, near, shape, value)
    return Ground(code, left, near, pin, bounds, _tree_heights(features, code, left, near))


def _tree_heights(features: Sequence[Feature], code: Codes, left: float, near: float) -> npt.NDArray[np.uint8] | None:
    """Height of the trees of every cell, yards; 0 where something else was painted over them."""
    wood = [feature for feature in features if kind_of(feature) == "trees"]
    if not wood:
        return None
    tops = np.zeros(code.shape, dtype=np.uint8)
    for feature in sorted(wood, key=tree_height):
        _paint(tops, left, near, polygon(feature), max(1, round(tree_height(feature))))
    tops[code != CODE[RECOVERY]] = 0
    return tops


def _paint(code: Codes | npt.NDArray[np.uint8], left: float, near: float, shape: Any, value: int) -> None:
    """Set every cell whose centre lies inside, by the even-odd rule row by row: each edge toggles what lies right of
    it."""
    if isinstance(shape, MultiPolygon):
        for part in shape.geoms:
            _paint(code, left, near, part, value)
        return
    rows, columns = code.shape
    first = max(0, int((shape.bounds[0] - left) / CELL_YD) - 1)
    last = min(columns, int((shape.bounds[2] - left) / CELL_YD) + 2)
    low = max(0, int((shape.bounds[1] - near) / CELL_YD) - 1)
    high = min(rows, int((shape.bounds[3] - near) / CELL_YD) + 2)
    if last <= first or high <= low:
        return
    toggles = np.zeros((high - low, last - first + 1), dtype=np.bool_)
    for ring in (shape.exterior, *shape.interiors):
        points = (np.asarray(ring.coords)[:, :2] - (left, near)) / CELL_YD - 0.5 - (first, low)
        _toggle(toggles, points)
    inside = np.bitwise_xor.accumulate(toggles, axis=1)[:, :-1]
    code[low:high, first:last][inside] = value


def _toggle(toggles: npt.NDArray[np.bool_], ring: Floats) -> None:
    """Toggle, on each row that an edge crosses, the first cell centre at or right of the crossing. `ring` in cells."""
    heights = np.clip(np.ceil(ring[:, 1]), 0, toggles.shape[0]).astype(np.intp)
    counts = np.abs(np.diff(heights))
    group = np.cumsum(counts) // CROSSINGS_AT_ONCE
    for number in np.unique(group[counts > 0]):
        edges = np.flatnonzero((group == number) & (counts > 0))
        _toggle_edges(
            toggles, ring[edges], ring[edges + 1], np.minimum(heights[edges], heights[edges + 1]), counts[edges]
        )


def _toggle_edges(
    toggles: npt.NDArray[np.bool_],
    start: Floats,
    end: Floats,
    first: npt.NDArray[np.intp],
    counts: npt.NDArray[np.intp],
) -> None:
    """The same for edges from `start` to `end`; `first`: the lowest row that each crosses, `counts`: how many rows."""
    edge = np.repeat(np.arange(len(start)), counts)
    row = first[edge] + np.arange(edge.size) - np.repeat(np.cumsum(counts) - counts, counts)
    rise = end[edge, 1] - start[edge, 1]
    x = start[edge, 0] + (row - start[edge, 1]) * (end[edge, 0] - start[edge, 0]) / rise
    column = np.clip(np.ceil(x), 0, toggles.shape[1] - 1).astype(np.intp)
    places, times = np.unique(row * toggles.shape[1] + column, return_counts=True)
    toggles.ravel()[places[times % 2 == 1]] ^= True
