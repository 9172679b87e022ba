"""Positions that cannot be where they say: far from their course's maps, or from the others of their round.

Longitude and latitude that were exchanged are mostly sound degrees, of another part of the earth.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from server.game.positions import SWAPPED

FARTHEST_KM: Final = 20.0
"""From the course, or from the middle position of the round: a course and its practice ground are within 5 km, a phone
that knows its cell alone within 20. A choice of this tool."""
EARTH_KM: Final = 6371.0
"""Mean radius; the great circle on a sphere is within 0.6 % of the geodesic."""
LEAST_AGREEING: Final = 2
"""So many others at one place say where a round is; of two places alone neither is known to be the wrong one."""
ITS_MAP: Final = "the map of its course"

Place = tuple[float, float]
"""Longitude and latitude, degrees."""


class Far(NamedTuple):
    """What is wrong with a position, in words, and what is allowed."""

    message: str
    allowed: str


def far_from(place: Place, near: Sequence[Place], what: str) -> Far | None:
    """Whether a position lies far from each of some places; `what` names them. Nothing is far from no place."""
    if not near or is_near(place, near):
        return None
    words = f"lies {min(km(place, near)):,.0f} km from {what}; the most is {FARTHEST_KM:g} km"
    return Far(f"{words}: {SWAPPED}" if is_exchanged(place, near) else words, f"within {FARTHEST_KM:g} km of {what}")


def far_from_company(place: Place, maps: Sequence[Place], others: Sequence[Place], what: str) -> Far | None:
    """Whether a position that comes alone, as a phone sends it, lies far from its course's maps or from the `others`,
    which `what` names. Not where most of the others lie beside it: then it is the map that is wrong, unless exchanged
    degrees would be on it."""
    agree = agreed(place, others)
    if maps:
        return None if agree and not is_exchanged(place, maps) else far_from(place, maps, ITS_MAP)
    if agree or len(others) < LEAST_AGREEING:
        return None
    middle = others[middle_of(others)]
    return far_from(place, [middle], what) if agreed(middle, others) else None


def agreed(place: Place, others: Sequence[Place]) -> bool:
    """Whether half or more of the others lie beside a place, and no fewer than `LEAST_AGREEING`."""
    beside = sum(way <= FARTHEST_KM for way in km(place, others)) if others else 0
    return beside >= LEAST_AGREEING and 2 * beside >= len(others)


def is_near(place: Place, near: Sequence[Place]) -> bool:
    """Whether one of the places lies within `FARTHEST_KM`."""
    return bool(near) and min(km(place, near)) <= FARTHEST_KM


def middle_of(places: Sequence[Place] | npt.NDArray[np.float64]) -> int:
    """Which of the places lies nearest to the median of all."""
    return int(np.argmin(_from_each(np.median(np.asarray(places), axis=0), places)))


def km(place: Any, others: Any) -> list[float]:
    """The way from a place to each of the others on a sphere: the haversine formula."""
    return [float(way) for way in _from_each(place, others)]


def is_exchanged(place: Place, near: Sequence[Place]) -> bool:
    """Whether it lies near one of the places with its longitude as latitude alone."""
    lon, lat = place
    if is_near(place, near):
        return False
    return abs(lon) <= 90 and is_near((lat, lon), near)


def _from_each(place: Any, others: Any) -> npt.NDArray[np.float64]:
    lon, lat = np.radians(np.asarray(place, dtype=np.float64))
    there = np.radians(np.asarray(others, dtype=np.float64).reshape(-1, 2))
    north = np.sin((there[:, 1] - lat) / 2) ** 2
    east = np.cos(lat) * np.cos(there[:, 1]) * np.sin((there[:, 0] - lon) / 2) ** 2
    ways: npt.NDArray[np.float64] = 2 * EARTH_KM * np.arcsin(np.sqrt(np.clip(north + east, 0, 1)))
    return ways
