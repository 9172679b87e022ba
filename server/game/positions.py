"""Positions on the earth as a phone gives them: longitude, latitude (WGS84 degrees), accuracy in metres."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

FARTHEST_EAST_DEG: Final = 180.0
FARTHEST_NORTH_DEG: Final = 90.0
MOST_ACCURACY_M: Final = 100_000.0
"""A phone that knows its cell alone is right to kilometres; beyond this it is no position. A choice of this tool."""

RANGE: Final = (
    f"[longitude -{FARTHEST_EAST_DEG:g} to {FARTHEST_EAST_DEG:g}, latitude -{FARTHEST_NORTH_DEG:g} to "
    f"{FARTHEST_NORTH_DEG:g} degrees (WGS84), accuracy 0 to {MOST_ACCURACY_M:g} m]"
)
ROUNDED_DECIMALS: Final = 3
"""Degrees of so few decimals say where a course is, not where a ball lies: 0.001 degrees of latitude are 111 m."""

SWAPPED: Final = "are longitude and latitude swapped?"


def position_fault(position: Sequence[float]) -> str | None:
    """What is wrong with [longitude, latitude] or [longitude, latitude, accuracy], in words, or None."""
    if len(position) < 2:
        return "needs a longitude and a latitude"
    lon, lat, *rest = position
    if abs(lat) > FARTHEST_NORTH_DEG:
        swapped = abs(lat) <= FARTHEST_EAST_DEG and abs(lon) <= FARTHEST_NORTH_DEG
        words = f"latitude {lat:g} is outside -{FARTHEST_NORTH_DEG:g} to {FARTHEST_NORTH_DEG:g} degrees"
        return f"{words}: {SWAPPED}" if swapped else words
    if abs(lon) > FARTHEST_EAST_DEG:
        return f"longitude {lon:g} is outside -{FARTHEST_EAST_DEG:g} to {FARTHEST_EAST_DEG:g} degrees"
    if lon == 0 and lat == 0:
        return "0, 0 is what a device writes that has no position"
    if rest and not 0 <= rest[0] <= MOST_ACCURACY_M:
        return f"accuracy {rest[0]:g} is outside 0 to {MOST_ACCURACY_M:g} m"
    return None


def is_rounded(lon: float, lat: float) -> bool:
    """Whether both numbers are rounded to three decimals or fewer."""
    return all(round(degrees, ROUNDED_DECIMALS) == degrees for degrees in (lon, lat))
