"""Maps of holes out of GeoJSON in WGS84 (RFC 7946) with OpenStreetMap's golf tags, and back.

Polygons carry `golf=tee`, `fairway`, `green`, `bunker`, `rough`, `water_hazard`, `lateral_water_hazard` or
`out_of_bounds`, or `natural=wood` for trees. Which hole a polygon belongs to says a line `golf=hole` with `ref`, or
the polygon's property `hole`; a file of one hole needs neither. The back tee becomes the origin, the line to the
green the y axis.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, TypedDict

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from server.game.geodesy import LocalFrame
from server.game.hole_maps import FEATURES, Feature, kind_of, map_fault, mended
from server.game.map_bounds import file_fault, size_fault
from server.game.ranges import MOST_HOLES

NEAR_LINE_YD: Final = 80.0
"""A polygon belongs to every hole whose line passes so near. A choice of this tool."""
TREES_TAGS: Final = {"wood", "tree_row", "scrub"}
MOST_FAULTS: Final = 20
MOST_NOTES: Final = 50
FEWEST_PLACES: Final = 3
"""Of a ring, whether it is closed or not."""

SWAPPED: Final = "longitude and latitude look swapped (RFC 7946 puts longitude first)"


class MapError(ValueError):
    """A file that cannot become maps; `faults` names each thing."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("; ".join(faults[:MOST_FAULTS]))
        self.faults = faults


@dataclass(frozen=True)
class HoleMap:
    """One hole: its features in local yards, and the frame that they stand in."""

    features: list[Feature]
    frame: LocalFrame

    @property
    def length_yd(self) -> float:
        """From the back tee to the middle of the green, straight."""
        green = next(feature for feature in self.features if kind_of(feature) == "green")
        middle = Polygon(green["geometry"]["coordinates"][0]).centroid
        return math.hypot(middle.x, middle.y)


@dataclass
class _Parts:
    """Polygons as (golf, rings, hole or None) in degrees, lines hole -> places, and what was ignored."""

    polygons: list[tuple[str, list[Any], int | None]]
    lines: dict[int, list[Any]]
    passed: Counter[str]


class FeatureCollection(TypedDict):
    """Features on the earth (RFC 7946)."""

    type: str
    features: list[Feature]


def maps_from_geojson(collection: Any, hole: int | None = None) -> tuple[dict[int, HoleMap], list[str]]:
    """Hole -> map, and notes on what was mended or passed over. Raises MapError with everything that is wrong.

    `hole`: the hole that all features belong to, when the file does not say.
    """
    parts = _parts(collection)
    if not parts.polygons:
        words = ", ".join(f"{count} of {kind}" for kind, count in parts.passed.most_common(4)) or "nothing"
        raise MapError([f"there is no polygon with a golf tag, only {words}: no map can be made of it"])
    if fault := file_fault([rings for _, rings, _ in parts.polygons], list(parts.lines.values())):
        raise MapError([fault])
    if faults := _coordinate_faults(parts):
        raise MapError(faults)
    try:
        by_hole = _by_hole(parts, hole)
    except ValueError as error:
        raise MapError([f"this is not one course: {error}"]) from error
    notes = [f"passed over: {count} of {kind}" for kind, count in parts.passed.most_common()]
    maps: dict[int, HoleMap] = {}
    faults = []
    for number in sorted(by_hole):
        try:
            maps[number], stated = _local(by_hole[number], parts.lines.get(number))
            notes += [f"hole {number}, {words}" for words in stated]
        except ValueError as error:
            faults.append(f"hole {number}: {error}")
    if faults:
        raise MapError(faults)
    return maps, _bounded(notes)


def _bounded(notes: list[str]) -> list[str]:
    """The first notes, and how many more there are."""
    if len(notes) <= MOST_NOTES:
        return notes
    return [*notes[:MOST_NOTES], f"and {len(notes) - MOST_NOTES} more notes"]


def _parts(collection: Any) -> _Parts:
    if not isinstance(collection, dict) or collection.get("type") != "FeatureCollection":
        raise MapError(["it is not a GeoJSON FeatureCollection"])
    if not isinstance(collection.get("features"), list):
        raise MapError(["features: is not a list"])
    parts = _Parts([], {}, Counter())
    for feature in collection["features"]:
        geometry = feature.get("geometry") if isinstance(feature, dict) else None
        properties = (feature.get("properties") if isinstance(feature, dict) else None) or {}
        if not isinstance(geometry, dict) or not isinstance(properties, dict):
            parts.passed["no geometry"] += 1
            continue
        kind, rings, golf = geometry.get("type"), geometry.get("coordinates"), _golf(properties)
        number = _number(properties.get("hole"))
        if kind == "Polygon" and golf and isinstance(rings, list):
            parts.polygons.append((golf, rings, number))
        elif kind == "MultiPolygon" and golf and isinstance(rings, list):
            parts.polygons += [(golf, part, number) for part in rings if isinstance(part, list)]
        elif kind == "LineString" and properties.get("golf") == "hole" and (ref := _number(properties.get("ref"))):
            parts.lines[ref] = rings if isinstance(rings, list) else []
        else:
            parts.passed[f"{kind} ({properties.get('golf') or 'no golf tag'})"[:80]] += 1
    return parts


def _golf(properties: Mapping[str, Any]) -> str | None:
    golf = properties.get("golf")
    if golf in FEATURES:
        return str(golf)
    natural = properties.get("natural")
    if (isinstance(natural, str) and natural in TREES_TAGS) or properties.get("landuse") == "forest":
        return "trees"
    return None


def _number(value: Any) -> int | None:
    """The number of a hole out of a property, or None."""
    words = str(value).strip() if isinstance(value, str | int) and not isinstance(value, bool) else ""
    return int(words) if words.isdecimal() and len(words) < 4 and 1 <= int(words) <= MOST_HOLES else None


def _coordinate_faults(parts: _Parts) -> list[str]:
    """Polygons without a ring, rings of too few places, and places that are no places on the earth."""
    faults = []
    for place, (golf, rings, _) in enumerate(parts.polygons, start=1):
        name = f"polygon {place} ({golf})"
        if not rings:
            faults.append(f"{name}: coordinates: [] has no ring; a polygon has one or more")
        for ring in rings:
            if fault := _ring_fault(ring, FEWEST_PLACES):
                faults.append(f"{name}: {fault}")
    for number, line in parts.lines.items():
        if fault := _ring_fault(line, 2):
            faults.append(f"the line of hole {number}: {fault}")
    return faults


def _ring_fault(ring: Any, fewest: int) -> str | None:
    """What is wrong with a ring or a line, or None."""
    if not isinstance(ring, list) or len(ring) < 2 or not all(map(_is_place, ring)):
        return "is not a list of [longitude, latitude]"
    lon, lat = (max((place[axis] for place in ring), key=abs) for axis in (0, 1))
    if 90 < abs(lat) <= 180 and abs(lon) <= 90:
        return f"latitude {lat:g} is outside -90 to 90: {SWAPPED}"
    if abs(lat) > 90 or abs(lon) > 180:
        return f"({_about(lon)}, {_about(lat)}) is no place in degrees; is the file in WGS84?"
    if len(ring) < fewest:
        return f"has {len(ring)} places; {fewest} are the fewest"
    return None


def _about(number: float) -> str:
    """A number in words, also an integer that is too large for a float."""
    return f"{number:g}" if abs(number) < 1e300 else f"{str(number)[:8]}..."


def _is_place(place: Any) -> bool:
    return (
        isinstance(place, list)
        and len(place) in (2, 3)
        and all(isinstance(x, int | float) and not isinstance(x, bool) and abs(x) < math.inf for x in place[:2])
    )


Parts = list[tuple[str, list[Any]]]


def _by_hole(parts: _Parts, hole: int | None) -> dict[int, Parts]:
    """The polygons of every hole. Raises MapError when a polygon's hole is not known, ValueError when places are far
    apart."""
    if hole is not None:
        return {hole: [(golf, rings) for golf, rings, number in parts.polygons if number in (None, hole)]}
    first = parts.polygons[0][1][0][0]
    frame = LocalFrame(first[0], first[1])
    lines = {number: LineString(frame.to_yards(_flat(line))) for number, line in parts.lines.items()}
    found: dict[int, Parts] = {}
    homeless = 0
    for golf, rings, number in parts.polygons:
        holes = [number] if number is not None else _near(golf, Polygon(frame.to_yards(_flat(rings[0]))), lines)
        homeless += not holes
        for each in holes:
            found.setdefault(each, []).append((golf, rings))
    if not found:
        raise MapError(["no polygon names its hole: give the number, a property hole, or lines golf=hole with ref"])
    if homeless:
        parts.passed["polygon far from every hole"] += homeless
    return found


def _near(golf: str, area: Polygon, lines: dict[int, LineString]) -> list[int]:
    """The holes that a polygon belongs to: a tee to the nearest start, a green to the nearest end, the rest to every
    line near by."""
    if golf in ("tee", "green"):
        end = 0 if golf == "tee" else -1
        away = {number: float(area.distance(Point(line.coords[end]))) for number, line in lines.items()}
        nearest = min(away, key=lambda number: away[number], default=None)
        return [nearest] if nearest is not None and away[nearest] <= NEAR_LINE_YD else []
    shapely.prepare(area)
    return [number for number, line in lines.items() if shapely.dwithin(area, line, NEAR_LINE_YD)]


def _flat(places: list[Any]) -> np.ndarray:
    """Places without their heights, shape (n, 2)."""
    return np.array([place[:2] for place in places], dtype=np.float64)


def _local(parts: Parts, line: list[Any] | None) -> tuple[HoleMap, list[str]]:
    """One hole in its own frame, mended. ValueError with its first fault."""
    if fault := size_fault(parts):
        raise ValueError(fault)
    greens = [rings for golf, rings in parts if golf == "green"]
    if not greens:
        raise ValueError("there is no green: a plan cannot know where the hole is")
    some = LocalFrame(*_flat(greens[0][0])[0])
    green = max((_centre(some, rings) for rings in greens), key=lambda found: found[1])[0]
    tees = [_centre(some, rings)[0] for golf, rings in parts if golf == "tee"]
    tees = tees or ([some.to_yards(_flat(line))[0]] if line else [])
    if not tees:
        raise ValueError("there is neither a tee nor a line golf=hole: the frame has no origin")
    tee = max(tees, key=lambda place: float(np.hypot(*(place - green))))
    lon, lat = (float(x) for x in some.to_places(tee[None])[0])
    towards = LocalFrame(lon, lat).to_yards(some.to_places(green[None]))[0]
    frame = LocalFrame(lon, lat, math.degrees(math.atan2(towards[0], towards[1])))
    local = [
        _feature(golf, [np.round(frame.to_yards(_flat(ring)), 3).tolist() for ring in rings]) for golf, rings in parts
    ]
    features, notes = mended(local)
    if fault := map_fault(features):
        raise ValueError(fault)
    return HoleMap(features, frame), notes


def _centre(frame: LocalFrame, rings: list[Any]) -> tuple[np.ndarray, float]:
    """Middle of a ring's points in yards, and the ring's area."""
    yards = frame.to_yards(_flat(rings[0]))
    area = Polygon(yards)
    if not area.is_valid or area.area == 0:
        return yards.mean(axis=0), 0.0
    return np.array([area.centroid.x, area.centroid.y]), float(area.area)


def _feature(golf: str, rings: list[Any]) -> Feature:
    return {"type": "Feature", "properties": {"golf": golf}, "geometry": {"type": "Polygon", "coordinates": rings}}


def to_geojson(hole: HoleMap) -> FeatureCollection:
    """The features of a hole as a GeoJSON collection in WGS84, degrees to 9 decimals (a tenth of a millimetre)."""
    features = []
    for feature in hole.features:
        rings = [
            np.round(hole.frame.to_places(np.array(ring)), 9).tolist() for ring in feature["geometry"]["coordinates"]
        ]
        features.append({**feature, "geometry": {"type": "Polygon", "coordinates": rings}})
    return {"type": "FeatureCollection", "features": features}
