"""Places on the WGS84 ellipsoid as local yards and back, and the geodesic between two places.

A hole is small: its places go to the plane that touches the ellipsoid at the hole's own origin (east and north of the
earth-centred difference, height 0). That projection shortens a length d from the origin by d^3 / (6 R^2), 4
micrometres at 1 km, and a line of length s at distance d by about s d^2 / (2 R^2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.game.units import METRES_PER_YARD

Floats = npt.NDArray[np.float64]

SEMI_MAJOR_M: Final = 6_378_137.0
FLATTENING: Final = 1 / 298.257223563
"""WGS84 (NIMA TR8350.2)."""

_E2: Final = FLATTENING * (2 - FLATTENING)
_MOST_STEPS: Final = 200
FARTHEST_LOCAL_M: Final = 5_000.0
"""Beyond this a place does not belong to a hole's frame."""


def _earth_centred(lon: Floats, lat: Floats) -> Floats:
    """X, Y, Z in metres of places on the ellipsoid, radians in; shape (..., 3)."""
    normal = SEMI_MAJOR_M / np.sqrt(1 - _E2 * np.sin(lat) ** 2)
    return np.stack(
        [normal * np.cos(lat) * np.cos(lon), normal * np.cos(lat) * np.sin(lon), normal * (1 - _E2) * np.sin(lat)],
        axis=-1,
    )


@dataclass(frozen=True)
class LocalFrame:
    """A plane in yards that touches the ellipsoid at `lon`, `lat` (degrees); y points `turned_deg` clockwise from
    north."""

    lon: float
    lat: float
    turned_deg: float = 0.0

    def to_yards(self, places: Floats) -> Floats:
        """`places`: (n, 2) lon, lat in degrees. Returns (n, 2) x, y in yards. ValueError for a place over 5 km away."""
        radians = np.radians(np.asarray(places, dtype=np.float64).reshape(-1, 2))
        origin = np.radians([self.lon, self.lat])
        away = _earth_centred(radians[:, 0], radians[:, 1]) - _earth_centred(origin[0], origin[1])
        farthest = float(np.max(np.hypot.reduce(away, axis=1), initial=0.0)) if len(away) else 0.0
        if farthest > FARTHEST_LOCAL_M:
            raise ValueError(f"a place lies {farthest / 1000:.0f} km from the hole; the most is 5 km")
        return np.asarray(away @ self._axes().T / METRES_PER_YARD)

    def to_places(self, yards: Floats) -> Floats:
        """`yards`: (n, 2) x, y. Returns (n, 2) lon, lat in degrees: the inverse of `to_yards`, by Newton's steps
        with the radii of curvature at the origin."""
        wanted = np.asarray(yards, dtype=np.float64).reshape(-1, 2)
        sine = math.sin(math.radians(self.lat))
        normal = SEMI_MAJOR_M / math.sqrt(1 - _E2 * sine**2)
        meridian = normal * (1 - _E2) / (1 - _E2 * sine**2)
        turn = math.radians(self.turned_deg)
        places = np.tile([self.lon, self.lat], (len(wanted), 1)).astype(np.float64)
        for _ in range(6):
            missing = (wanted - self.to_yards(places)) * METRES_PER_YARD
            east = missing[:, 0] * math.cos(turn) + missing[:, 1] * math.sin(turn)
            north = missing[:, 1] * math.cos(turn) - missing[:, 0] * math.sin(turn)
            places[:, 1] += np.degrees(north / meridian)
            places[:, 0] += np.degrees(east / (normal * math.cos(math.radians(self.lat))))
        return places

    def _axes(self) -> Floats:
        """Unit vectors of x and y in earth-centred axes, shape (2, 3)."""
        lon, lat, turn = (math.radians(angle) for angle in (self.lon, self.lat, self.turned_deg))
        east = np.array([-math.sin(lon), math.cos(lon), 0.0])
        north = np.array([-math.sin(lat) * math.cos(lon), -math.sin(lat) * math.sin(lon), math.cos(lat)])
        return np.stack(
            [
                east * math.cos(turn) - north * math.sin(turn),
                east * math.sin(turn) + north * math.cos(turn),
            ]
        )


def geodesic_m(lon1: float, lat1: float, lon2: float, lat2: float) -> tuple[float, float]:
    """Length in metres of the shortest line between two places (degrees), and its azimuth at the first in degrees.

    Vincenty's inverse formula (Survey Review 23 (1975) 88-93), good to 0.5 mm. ValueError for two places so nearly
    opposite each other on the earth that it does not settle.
    """
    if lon1 == lon2 and lat1 == lat2:
        return 0.0, 0.0
    u1, u2 = (math.atan((1 - FLATTENING) * math.tan(math.radians(lat))) for lat in (lat1, lat2))
    apart = math.radians(math.remainder(lon2 - lon1, 360.0))
    over = apart
    for _ in range(_MOST_STEPS):
        east = math.cos(u2) * math.sin(over)
        north = math.cos(u1) * math.sin(u2) - math.sin(u1) * math.cos(u2) * math.cos(over)
        sin_arc = math.hypot(east, north)
        cos_arc = math.sin(u1) * math.sin(u2) + math.cos(u1) * math.cos(u2) * math.cos(over)
        arc = math.atan2(sin_arc, cos_arc)
        sin_equator = math.cos(u1) * math.cos(u2) * math.sin(over) / sin_arc
        cos2 = 1 - sin_equator**2
        middle = cos_arc - 2 * math.sin(u1) * math.sin(u2) / cos2 if cos2 > 1e-15 else 0.0
        c = FLATTENING / 16 * cos2 * (4 + FLATTENING * (4 - 3 * cos2))
        bent = middle + c * cos_arc * (2 * middle**2 - 1)
        following = apart + (1 - c) * FLATTENING * sin_equator * (arc + c * sin_arc * bent)
        settled = abs(following - over) < 1e-13
        over = following
        if settled:
            return _length(arc, sin_arc, cos_arc, middle, cos2), math.degrees(math.atan2(east, north)) % 360
    raise ValueError("the two places are nearly opposite each other on the earth: no length")


def _length(arc: float, sin_arc: float, cos_arc: float, middle: float, cos2: float) -> float:
    """The last step of Vincenty's inverse formula: metres from the arc on the auxiliary sphere."""
    polar = SEMI_MAJOR_M * (1 - FLATTENING)
    u = cos2 * (SEMI_MAJOR_M**2 - polar**2) / polar**2
    a = 1 + u / 16384 * (4096 + u * (-768 + u * (320 - 175 * u)))
    b = u / 1024 * (256 + u * (-128 + u * (74 - 47 * u)))
    inner = cos_arc * (2 * middle**2 - 1) - b / 6 * middle * (4 * sin_arc**2 - 3) * (4 * middle**2 - 3)
    return polar * a * (arc - b * sin_arc * (middle + b / 4 * inner))
