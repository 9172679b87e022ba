"""Maps of holes: polygons in local yards, x right of the tee line, y along it, and what can be wrong with them.

A feature is a GeoJSON Polygon (RFC 7946) with the property `golf` in the OpenStreetMap golf vocabulary, and `trees`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from server.game.map_bounds import Box, around, painted_fault, size_fault

if TYPE_CHECKING:
    from shapely.geometry import Polygon

Feature = dict[str, Any]

FEATURES: Final = (
    "tee",
    "fairway",
    "green",
    "bunker",
    "rough",
    "water_hazard",
    "lateral_water_hazard",
    "out_of_bounds",
    "trees",
)
FARTHEST_YD: Final = 2000
FARTHEST_GREEN_YD: Final = 800.0
"""A green farther than this from the map's origin, the back tee, was drawn in another frame: no hole is so long."""
FARTHEST_ASIDE_YD: Final = 300.0
"""A polygon farther than this from the line from origin to green was drawn in another frame. A choice of this tool."""

TREES_YD: Final = 15.0
"""How high trees are whose height is not recorded. A choice of this tool."""
HIGHEST_TREES_YD: Final = 100.0

_PARTS: Final = ("geometry", "properties")

LEAST_AREA_YD2: Final = 0.1
"""A polygon smaller than this is empty: no feature of a hole is under a square foot."""


def shape_fault(feature: Any) -> str | None:
    """What is wrong with the form of one feature, or None."""
    if not isinstance(feature, dict):
        return "is not an object"
    geometry, properties = feature.get("geometry"), feature.get("properties")
    if not isinstance(geometry, dict) or geometry.get("type") != "Polygon":
        return "is not a Polygon"
    properties = properties if isinstance(properties, dict) else {}
    golf = properties.get("golf")
    if golf not in FEATURES:
        return f"has golf={str(golf)[:40]!r}, which is not one of {', '.join(FEATURES)}"
    if golf == "trees" and (fault := _height_fault(properties)):
        return fault
    rings = geometry.get("coordinates")
    if not isinstance(rings, list) or not rings or not all(_is_ring(ring) for ring in rings):
        return f"has a ring that is not four or more [x, y] within {FARTHEST_YD} yd, the last equal to the first"
    return None


def _height_fault(properties: dict[str, Any]) -> str | None:
    """What is wrong with the height of trees, or None; without one they have the usual height."""
    height = properties.get("height_yd")
    is_number = isinstance(height, int | float) and not isinstance(height, bool)
    if height is None or (is_number and 1 <= height <= HIGHEST_TREES_YD):
        return None
    return f"has height_yd={str(height)[:40]!r}, which is not a number of 1 to {HIGHEST_TREES_YD:g} yd"


def tree_height(feature: Feature) -> float:
    """The height of a feature of trees, yards; 15 where none is recorded."""
    height = feature["properties"].get("height_yd")
    return TREES_YD if height is None else float(height)


def _is_ring(ring: Any) -> bool:
    return isinstance(ring, list) and len(ring) >= 4 and ring[0] == ring[-1] and all(map(_is_point, ring))


def _is_point(point: Any) -> bool:
    return (
        isinstance(point, list)
        and len(point) == 2
        and all(isinstance(x, int | float) and not isinstance(x, bool) and abs(x) <= FARTHEST_YD for x in point)
    )


def map_fault(features: Sequence[Any]) -> str | None:
    """The first thing wrong with a map's features, in words, or None. Features count from 1."""
    if fault := size_fault([_kind_and_rings(feature) for feature in features]):
        return fault
    for place, feature in enumerate(features, start=1):
        if fault := shape_fault(feature):
            return f"feature {place} {fault}"
    areas = [polygon(feature) for feature in features]
    for place, (feature, area) in enumerate(zip(features, areas, strict=True), start=1):
        if fault := _area_fault(area):
            return f"feature {place} ({kind_of(feature)}) {fault}"
    if not any(kind_of(feature) == "green" for feature in features):
        return "there is no green: a plan cannot know where the hole is"
    return _frame_fault(features, areas) or painted_fault([area.bounds for area in areas], seen(features))


def _kind_and_rings(feature: Any) -> tuple[str, Any]:
    """The kind and the rings of a feature whose form is not known yet."""
    geometry, properties = (feature.get(name) if isinstance(feature, dict) else None for name in _PARTS)
    golf = properties.get("golf") if isinstance(properties, dict) else None
    rings = geometry.get("coordinates") if isinstance(geometry, dict) else None
    return golf if isinstance(golf, str) else "", rings


def middle_of_green(features: Iterable[Feature]) -> tuple[float, float]:
    """The middle of the largest green."""
    greens = [polygon(feature) for feature in features if kind_of(feature) == "green"]
    middle = max(greens, key=lambda green: float(green.area)).centroid
    return float(middle.x), float(middle.y)


def seen(features: Iterable[Feature]) -> Box:
    """The box around the hole that a plan looks at: left, near, right, far."""
    return around(middle_of_green(features))


def kind_of(feature: Feature) -> str:
    """The feature's `golf`."""
    return str(feature["properties"]["golf"])


def polygon(feature: Feature) -> Polygon:
    """A feature's polygon."""
    from shapely.geometry import Polygon  # noqa: PLC0415 - most rounds have no map

    shell, *holes = feature["geometry"]["coordinates"]
    return Polygon(shell, holes)


def _area_fault(area: Polygon) -> str | None:
    if area.convex_hull.area < LEAST_AREA_YD2:
        return "is empty: it encloses nothing"
    if not area.is_valid:
        from shapely.validation import explain_validity  # noqa: PLC0415

        reason = explain_validity(area)
        if reason.startswith("Self-intersection"):
            return f"crosses itself at {_place_in(reason)}"
        return f"is not a simple polygon: {reason[0].lower()}{reason[1:]}"
    return None


def _place_in(reason: str) -> str:
    """The place in shapely's "Self-intersection[x y]" as (x, y) in yards."""
    x, y = (float(word) for word in reason[reason.index("[") + 1 : reason.index("]")].split()[:2])
    return f"({x:.1f}, {y:.1f})"


def _frame_fault(features: Sequence[Feature], areas: Sequence[Polygon]) -> str | None:
    """A polygon far from the line from the origin to the green, in words."""
    from shapely.geometry import LineString  # noqa: PLC0415

    line = LineString([(0.0, 0.0), middle_of_green(features)])
    if line.length > FARTHEST_GREEN_YD:
        return f"the green lies {line.length:.0f} yd from the origin, where the back tee should be"
    for place, (feature, area) in enumerate(zip(features, areas, strict=True), start=1):
        away = float(area.distance(line))
        if away > FARTHEST_ASIDE_YD:
            return f"feature {place} ({kind_of(feature)}) lies {away:.0f} yd from the hole: is it in another frame?"
    return None


def mended(features: Iterable[Feature]) -> tuple[list[Feature], list[str]]:
    """The features with what can be mended without guessing put right, and a note on each.

    A ring is closed; a point that repeats the one before is dropped; shells run anticlockwise and holes clockwise (RFC
    7946, 3.1.6). Features whose form is wrong are passed on as they are.
    """
    found, notes = [], []
    for place, feature in enumerate(features, start=1):
        try:
            rings = [[[float(x) for x in point[:2]] for point in ring] for ring in feature["geometry"]["coordinates"]]
        except (KeyError, TypeError, ValueError):
            found.append(feature)
            continue
        stated = []
        for number, ring in enumerate(rings):
            rings[number], words = _mended_ring(ring, anticlockwise=number == 0)
            stated += words
        if stated:
            notes.append(f"feature {place}: {', '.join(dict.fromkeys(stated))}")
        found.append({**feature, "geometry": {**feature["geometry"], "coordinates": rings}})
    return found, notes


def _mended_ring(ring: list[list[float]], *, anticlockwise: bool) -> tuple[list[list[float]], list[str]]:
    stated = []
    kept = [point for place, point in enumerate(ring) if place == 0 or point != ring[place - 1]]
    if len(kept) < len(ring):
        stated.append("a repeated point was dropped")
    if kept and kept[0] != kept[-1]:
        kept.append(kept[0])
        stated.append("an open ring was closed")
    if len(kept) >= 4 and all(map(math.isfinite, (x for point in kept for x in point))):
        turn = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(kept))
        if turn and (turn > 0) != anticlockwise:
            kept.reverse()
            stated.append("a ring in the wrong order was turned")
    return kept, stated


def feature(golf: str, ring: Sequence[Sequence[float]], **properties: Any) -> Feature:
    """A feature from the points of one ring, which is closed when it is open. Yards, rounded to 0.01."""
    points = [[round(float(x), 2), round(float(y), 2)] for x, y in ring]
    if points[0] != points[-1]:
        points.append(points[0])
    closed, _ = _mended_ring(points, anticlockwise=True)
    return {
        "type": "Feature",
        "properties": {"golf": golf, **properties},
        "geometry": {"type": "Polygon", "coordinates": [closed]},
    }


def oval(x: float, y: float, half_width: float, half_depth: float, points: int = 32) -> list[tuple[float, float]]:
    """Points of an ellipse around (x, y), anticlockwise, with the ellipse's own area (the polygon is a little
    wider)."""
    turn = 2 * math.pi / points
    wider = math.sqrt(turn / math.sin(turn))
    return [
        (x + wider * half_width * math.cos(step * turn), y + wider * half_depth * math.sin(step * turn))
        for step in range(points)
    ]
