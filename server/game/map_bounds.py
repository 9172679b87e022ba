"""How much a map may hold. Points, rings and polygons are counted, and boxes added up, before any geometry is worked
out: the work that a map can ask for is bounded by what it holds, whatever its polygons look like.

All bounds are choices of this tool; a hole drawn with care has about 20 polygons of 20 to 200 points.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

MOST_FEATURES: Final = 500
MOST_RINGS: Final = 100
"""Of one polygon: its outline and the holes in it."""
MOST_POINTS: Final = 5000
"""Of one map."""
MOST_POINTS_A_POLYGON: Final = 3000
"""Whether a polygon crosses itself takes time that grows with the square of its points: 40 ms for the worst found."""
MOST_POINTS_A_GREEN: Final = 1000
"""Its fringe is drawn around it, which takes longer."""
MOST_POINTS_A_LINE: Final = 100
"""Of the line of a hole in a file."""
MOST_POINTS_A_FILE: Final = 100_000
MOST_POLYGONS_A_FILE: Final = 10_000

AROUND_YD: Final = 250.0
"""A plan looks so far around the line from the back tee to the green: no shot from there goes farther aside."""
MOST_PAINTED_YD2: Final = 8_000_000.0
"""Of all polygons of a map, what their boxes cover around the hole, each counted by itself: seven times all that a
plan looks at."""

Box = tuple[float, float, float, float]
"""Left, near, right, far."""


def size_fault(polygons: Sequence[tuple[str, Any]]) -> str | None:
    """What a map has too much of, or None. `polygons`: kind and rings of each, the rings as they were given."""
    if len(polygons) > MOST_FEATURES:
        return f"{len(polygons)} features are more than {MOST_FEATURES}"
    counts = [_points(rings) for _, rings in polygons]
    if sum(counts) > MOST_POINTS:
        return f"{sum(counts)} points are more than {MOST_POINTS}"
    for place, ((kind, rings), points) in enumerate(zip(polygons, counts, strict=True), start=1):
        if fault := polygon_fault(kind, rings, points):
            return f"feature {place} {fault}"
    return None


def polygon_fault(kind: str, rings: Any, points: int | None = None) -> str | None:
    """What one polygon has too much of, or None."""
    if isinstance(rings, list) and len(rings) > MOST_RINGS:
        return f"has {len(rings)} rings, more than {MOST_RINGS}"
    most = MOST_POINTS_A_GREEN if kind == "green" else MOST_POINTS_A_POLYGON
    if (points := _points(rings) if points is None else points) > most:
        return f"has {points} points; a {'green' if kind == 'green' else 'polygon'} may have up to {most}"
    return None


def file_fault(polygons: Sequence[Any], lines: Sequence[Any]) -> str | None:
    """What a file of maps has too much of, or None. `polygons`: the rings of each; `lines`: the places of each."""
    if len(polygons) > MOST_POLYGONS_A_FILE:
        return f"{len(polygons)} polygons are more than {MOST_POLYGONS_A_FILE}"
    longest = max(map(len, lines), default=0)
    if longest > MOST_POINTS_A_LINE:
        return f"the line of a hole has {longest} points, more than {MOST_POINTS_A_LINE}"
    points = sum(map(_points, polygons))
    return f"{points} points are more than {MOST_POINTS_A_FILE} in one file" if points > MOST_POINTS_A_FILE else None


def _points(rings: Any) -> int:
    return sum(len(ring) for ring in rings if isinstance(ring, list)) if isinstance(rings, list) else 0


def around(pin: tuple[float, float]) -> Box:
    """The box that a plan looks at: the line from the origin to the green and what lies near it."""
    x, y = pin
    return min(x, 0.0) - AROUND_YD, min(y, 0.0) - AROUND_YD, max(x, 0.0) + AROUND_YD, max(y, 0.0) + AROUND_YD


def common(one: Box, other: Box) -> Box:
    """The part of a box that lies in another; its right is left of its left where there is none."""
    return max(one[0], other[0]), max(one[1], other[1]), min(one[2], other[2]), min(one[3], other[3])


def painted_fault(boxes: Sequence[Box], seen: Box) -> str | None:
    """What is wrong when the polygons together cover too much of the box that a plan looks at, or None."""
    parts = [common(box, seen) for box in boxes]
    area = sum(max(right - left, 0.0) * max(far - near, 0.0) for left, near, right, far in parts)
    if area > MOST_PAINTED_YD2:
        return (
            f"{len(boxes)} polygons cover {area / 1e6:.1f} million square yards around the hole, more than "
            f"{MOST_PAINTED_YD2 / 1e6:.0f} million"
        )
    return None
