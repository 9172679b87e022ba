"""The flight of a shot and what a day does to it: how much of a length is carry, how high the ball flies, where it
comes to earth.

A pattern gives where balls come to rest. The first `carry_share` of that way is flown, the rest is run. The height over
the ground at a share u of the carry C is

    h(u) = C tan(descent) / 4 * u (1 - u) (1 + 3 u)

which comes down at the angle of descent, leaves at a little over a quarter of its tangent, and is highest at 62 % of
the way: a drive that carries 250 yd and lands at 38 degrees leaves at 11 and rises to 33 yd.

Carry shares and angles of descent by type of club are choices of this tool; common practice, no source, lists 35 to 40
degrees for drivers and about 50 for wedges. What a ball runs on from there is of the order of A. R. Penner's model of
the bounce (Canadian Journal of Physics 80 (2002) 931-940), which the tests run as others quote it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.air import HEAD_PER_MPH, STRONGEST_WIND_MPH, TAIL_PER_MPH, Air

PEAK_SHARE: Final = (2 + 13**0.5) / 9
"""Share of the carry at which the ball is highest: the root of 1 + 4 u - 9 u^2."""

SOFT, MEDIUM, FIRM = "soft", "medium", "firm"
RUN: Final = {SOFT: 0.4, MEDIUM: 1.0, FIRM: 1.8}
"""How far a ball runs beside medium ground. A choice of this tool."""

CROSS_PER_MPH: Final = 0.005
"""Yards aside for each yard of carry and mph of cross wind: 10 mph move 200 yd by 10. A choice of this tool; rules of
thumb have no citable source."""


@dataclass(frozen=True)
class Flight:
    """How a club's balls fly. `carry_share`: of the length to rest on medium ground, above 0 to 1; `descent_deg`: the
    angle to the ground at which they land; `own_shots`: how many shots of the player the share is based on, 0 for the
    stated default."""

    carry_share: float
    descent_deg: float
    own_shots: int = 0

    def height(self, along_yd: Floats, carry_yd: Floats) -> Floats:
        """Height over the ground, yards, `along_yd` yards into a flight that carries `carry_yd`, any shapes that
        broadcast; 0 before the start and after the landing.

        >>> drive = Flight(0.93, 38.0)
        >>> drive.height(np.array([0.0, 156.0, 250.0]), np.array(250.0)).round(1).tolist()
        [0.0, 32.9, 0.0]
        """
        share = np.clip(along_yd / carry_yd, 0.0, 1.0)
        top = carry_yd * np.tan(np.radians(self.descent_deg)) / 4
        return np.asarray(top * share * (1 - share) * (1 + 3 * share))

    def apex_yd(self, carry_yd: float) -> float:
        """The highest point of a flight that carries `carry_yd`, yards."""
        return float(self.height(np.array(PEAK_SHARE * carry_yd), np.array(carry_yd)))


STOPS_DEAD: Final = Flight(1.0, 50.0)
"""A ball that stays where it lands."""

BY_SORT: Final = {
    "driver": Flight(0.93, 38.0),
    "wood": Flight(0.94, 43.0),
    "hybrid": Flight(0.955, 46.0),
    "iron": Flight(0.965, 49.0),
    "wedge": Flight(0.985, 52.0),
}
"""The stated defaults on medium ground (top of this module)."""

ROLLED: Final = Flight(0.35, 8.0)
"""A punch: a low shot that runs for most of its way. A choice of this tool."""


def flight_of(sort: str | None) -> Flight:
    """The stated flight of a type of club; that of an iron when it is not recorded."""
    return BY_SORT.get(sort or "iron", BY_SORT["iron"])


@dataclass(frozen=True)
class Day:
    """The day of a plan. `wind_mph`, and `wind_from_deg`, the direction it blows from, clockwise from the map's y, the
    line from the back tee: 0 against, 90 from the right. `air`: temperature and altitude, without wind.

    ValueError for a value outside its range.
    """

    wind_mph: float = 0.0
    wind_from_deg: float = 0.0
    firmness: str = MEDIUM
    air: Air | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.wind_mph <= STRONGEST_WIND_MPH:
            raise ValueError(f"wind_mph: {self.wind_mph:g} is outside 0 to {STRONGEST_WIND_MPH:g} mph")
        if not -360 <= self.wind_from_deg <= 360:
            raise ValueError(f"wind_from_deg: {self.wind_from_deg:g} is outside -360 to 360 degrees")
        if self.firmness not in RUN:
            raise ValueError(f"firmness: {self.firmness!r} is not one of {', '.join(RUN)}")

    @property
    def words(self) -> str:
        """What the plan reckons with, in words; nothing on a usual day."""
        parts = []
        if self.wind_mph:
            parts.append(f"wind of {self.wind_mph:g} mph {_from(self.wind_from_deg)}")
        if self.firmness != MEDIUM:
            parts.append(f"{self.firmness} ground")
        if self.air is not None and self.air.temperature_c is not None:
            parts.append(f"{self.air.temperature_c:g} degrees C")
        if self.air is not None and self.air.altitude_m:
            parts.append(f"{self.air.altitude_m:g} m of altitude")
        return ", ".join(parts)

    @property
    def is_usual(self) -> bool:
        """True when nothing of the day changes a shot."""
        return self.wind_mph == 0 and self.firmness == MEDIUM and self.air is None

    def carry_factor(self, aim_rad: Floats) -> Floats:
        """What a carry is multiplied by along directions `aim_rad` (clockwise from y), any shape."""
        head = self.wind_mph * np.cos(np.radians(self.wind_from_deg) - aim_rad)
        air = 1.0 if self.air is None else self.air.factor
        return np.asarray(air * (1 - np.where(head > 0, HEAD_PER_MPH, TAIL_PER_MPH) * head))

    def drift(self, aim_rad: Floats) -> Floats:
        """Yards to the right for each yard of carry along directions `aim_rad`, any shape."""
        return np.asarray(-CROSS_PER_MPH * self.wind_mph * np.sin(np.radians(self.wind_from_deg) - aim_rad))


USUAL_DAY: Final = Day()

_FROM: Final = (
    "against",
    "against from the right",
    "from the right",
    "helping from the right",
    "helping",
    "helping from the left",
    "from the left",
    "against from the left",
)


def _from(degrees: float) -> str:
    """Where the wind comes from, seen along the hole, in words.

    >>> _from(0), _from(100), _from(-45)
    ('against', 'from the right', 'against from the left')
    """
    return _FROM[round(degrees % 360 / 45) % 8]


@dataclass(frozen=True, eq=False)
class Shots:
    """Balls in the air and on the ground: where they land (`carry_x`, `carry_y`) and would come to rest (`x`, `y`) on
    open ground, yards on the map, all of one shape."""

    carry_x: Floats
    carry_y: Floats
    x: Floats
    y: Floats


def flown(
    start: tuple[float, float], aim_rad: Floats, right: Floats, along: Floats, flight: Flight, day: Day = USUAL_DAY
) -> Shots:
    """A pattern of rests on a usual day (`right`, `along` in yards of the line of aim, (n,)) played from `start` along
    directions `aim_rad` ((k,), clockwise from y): shots of shape (k, n).

    The ball lands on the straight line between start and rest and runs on along it.
    """
    sine, cosine = np.sin(aim_rad)[:, None], np.cos(aim_rad)[:, None]
    share = flight.carry_share
    if day.is_usual:
        x, y = sine * along + cosine * right, cosine * along - sine * right
        return Shots(start[0] + share * x, start[1] + share * y, start[0] + x, start[1] + y)
    factor = day.carry_factor(aim_rad)[:, None]
    flown_along = share * along * factor
    flown_right = share * right * factor + day.drift(aim_rad)[:, None] * flown_along
    carry_x, carry_y = sine * flown_along + cosine * flown_right, cosine * flown_along - sine * flown_right
    run = 1 + (1 - share) / share * RUN[day.firmness] / np.maximum(factor, 1e-9)
    return Shots(start[0] + carry_x, start[1] + carry_y, start[0] + run * carry_x, start[1] + run * carry_y)
