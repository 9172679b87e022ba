"""Positions of a table that cannot be where they say: far from their course's maps, or from the others of their round.

Longitude and latitude that were exchanged are mostly sound degrees, of another part of the earth.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

import numpy as np

from server.files.shots_rows import TableRow
from server.files.table_faults import RowFault
from server.game.positions import SWAPPED

FARTHEST_KM: Final = 20.0
"""From the course, or from the middle position of the round: a course and its practice ground are within 5 km, a phone
that knows its cell alone within 20. A choice of this tool."""
EARTH_KM: Final = 6371.0
"""Mean radius; the great circle on a sphere is within 0.6 % of the geodesic."""

Place = tuple[float, float]


def far_from_each_other(shots: Sequence[TableRow]) -> list[RowFault]:
    """Rows of one round whose position lies far from the middle one of the round; nothing where there is one alone."""
    rows = [row for row in shots if row["position"]]
    if len(rows) < 2:
        return []
    places = np.array([row["position"][:2] for row in rows], dtype=np.float64)
    middle = int(np.argmin([_km(place, [np.median(places, axis=0)])[0] for place in places]))
    words = f"the position of row {rows[middle]['row']} of the same round"
    return _far(rows, [tuple(places[middle])], words)


def far_from_course(shots: Sequence[TableRow], maps: Collection[Place]) -> list[RowFault]:
    """Rows of one round whose position lies far from every map of its course; `maps`: longitude, latitude of each."""
    return _far([row for row in shots if row["position"]], list(maps), "the map of its course") if maps else []


def _far(rows: Sequence[TableRow], near: Sequence[Any], what: str) -> list[RowFault]:
    faults = []
    for row in rows:
        lon, lat = row["position"][:2]
        away = min(_km((lon, lat), near))
        if away <= FARTHEST_KM:
            continue
        words = f"{lon:g}, lat {lat:g} lies {away:,.0f} km from {what}; the most is {FARTHEST_KM:g} km"
        exchanged = abs(lon) <= 90 and min(_km((lat, lon), near)) <= FARTHEST_KM
        message = f"{words}: {SWAPPED}" if exchanged else words
        allowed = f"within {FARTHEST_KM:g} km of {what}"
        faults.append(RowFault(row["row"], "lon", message, f"{lon:g}, {lat:g}", allowed))
    return faults


def _km(place: Any, others: Sequence[Any]) -> list[float]:
    """The way from a place to each of the others on a sphere: the haversine formula."""
    lon, lat = np.radians(np.asarray(place, dtype=np.float64))
    there = np.radians(np.asarray(others, dtype=np.float64).reshape(-1, 2))
    north = np.sin((there[:, 1] - lat) / 2) ** 2
    east = np.cos(lat) * np.cos(there[:, 1]) * np.sin((there[:, 0] - lon) / 2) ** 2
    return [float(way) for way in 2 * EARTH_KM * np.arcsin(np.sqrt(np.clip(north + east, 0, 1)))]
