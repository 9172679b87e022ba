"""Maps of a course written back out as GeoJSON: in WGS84, or in the holes' own yards."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, NotRequired, TypedDict

from server.game import map_frames
from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, to_geojson
from server.records.json_types import JsonObject, RecordBody

EARTH, YARDS = "earth", "yards"
FRAMES: Final = (EARTH, YARDS)


NO_PLACE: Final = "has no place on the earth: it was entered in yards from the tee"


class Maps(TypedDict):
    """Maps of holes as a GeoJSON FeatureCollection (RFC 7946)."""

    type: Annotated[str, "FeatureCollection"]
    course: str
    units: NotRequired[Annotated[str, "local yards, where the frame is yards"]]
    notes: Annotated[list[str], "what was left out, and why"]
    features: list[JsonObject]


class NoMapsError(LookupError):
    """Nothing that could be written, and why."""


def maps_as_geojson(course: str, bodies: Mapping[int, RecordBody], frame: str = EARTH, hole: int | None = None) -> Maps:
    """A FeatureCollection of the course's mapped holes, each feature with its `hole`, and `notes` on what is left out.

    `bodies`: hole -> the record of its map. `earth`: WGS84 (RFC 7946), only holes whose map was imported from there;
    `yards`: x right of the tee line and y along it. Raises NoMapsError when nothing remains.
    """
    wanted = {number: body for number, body in bodies.items() if hole in (None, number)}
    if not wanted:
        known = ", ".join(map(str, bodies)) or "none"
        raise NoMapsError(f"there is no such map; mapped holes of {course}: {known}")
    found: list[JsonObject] = []
    notes: list[str] = []
    for number, body in wanted.items():
        features = body["features"]
        if frame == EARTH:
            place = frame_of(body)
            if place is None:
                notes.append(f"hole {number} {NO_PLACE}")
                continue
            features = to_geojson(HoleMap(features, place))["features"]
        found += [{**feature, "properties": {**feature["properties"], "hole": number}} for feature in features]
    if not found:
        left_out = "; ".join(notes)
        raise NoMapsError(f"{course}: {left_out}; ask for the frame {YARDS}")
    written: Maps = {"type": "FeatureCollection", "course": course, "notes": notes, "features": found}
    return {**written, "units": "local yards"} if frame == YARDS else written


def frame_of(body: RecordBody) -> LocalFrame | None:
    """Where a map lies on the earth; None when it does not say, or says what is no place."""
    found = map_frames.frame_of(body)
    return None if found is None else LocalFrame(*map(float, (found["lon"], found["lat"], found["turned_deg"])))
