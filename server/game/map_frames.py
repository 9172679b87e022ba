"""Where a hole's map lies on the earth, as its record says in `frame`.

Twin of `frameOf` in `web/js/game/geodesy.js`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final, TypedDict


class MapFrame(TypedDict):
    """Where the local yards of a hole's map lie on the earth (WGS84)."""

    lon: Annotated[float, "degrees of its origin, -180 to 180"]
    lat: Annotated[float, "degrees of its origin, -89 to 89"]
    turned_deg: Annotated[float, "what its y points at, clockwise from north"]


FARTHEST: Final = {"lon": 180.0, "lat": 89.0, "turned_deg": 360.0}
"""Degrees to either side; nearer to a pole the plane of a hole runs over it."""


def frame_of(body: Mapping[str, Any]) -> MapFrame | None:
    """Where the map of a record lies; None when it does not say so, or says what is no place.

    >>> frame_of({"frame": {"lon": 8.5, "lat": 47.25, "turned_deg": 10, "drawn": "by hand"}})
    {'lon': 8.5, 'lat': 47.25, 'turned_deg': 10}
    """
    given = body.get("frame")
    if not isinstance(given, dict):
        return None
    lon, lat, turned = (_within(given.get(name), most) for name, most in FARTHEST.items())
    if lon is None or lat is None or turned is None:
        return None
    return {"lon": lon, "lat": lat, "turned_deg": turned}


def _within(value: Any, most: float) -> float | None:
    # an integer of any length is compared as it is: as a float the longest would overflow
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return value if number and -most <= value <= most else None
