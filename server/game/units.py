"""Lengths: yards inside, feet on the green, metres where the player wants them.

1 yd = 0.9144 m = 3 ft, exactly (international yard and pound agreement, 1959).
An integer number of feet survives the way to yards and back: (n / 3) * 3 == n in binary floating point.
"""

from __future__ import annotations

from typing import Final

from server.game.lies import GREEN

YARD: Final = "yd"
FOOT: Final = "ft"
METRE: Final = "m"
UNITS: Final[tuple[str, ...]] = (YARD, FOOT, METRE)

FEET_PER_YARD: Final = 3.0
METRES_PER_YARD: Final = 0.9144


def to_yards(length: float, unit: str) -> float:
    """`length` in `unit` ("yd", "ft" or "m") as yards. Raises ValueError for another unit."""
    if unit == YARD:
        return length
    if unit == FOOT:
        return length / FEET_PER_YARD
    if unit == METRE:
        return length / METRES_PER_YARD
    raise ValueError(f"unit: {unit!r} is not one of {', '.join(UNITS)}")


def from_yards(length_yd: float, unit: str) -> float:
    """`length_yd` as a length in `unit`; the inverse of `to_yards`. ValueError for another unit."""
    if unit == YARD:
        return length_yd
    if unit == FOOT:
        return length_yd * FEET_PER_YARD
    if unit == METRE:
        return length_yd * METRES_PER_YARD
    raise ValueError(f"unit: {unit!r} is not one of {', '.join(UNITS)}")


def default_unit(lie: str) -> str:
    """The unit in which a distance from this lie is spoken: feet on the green, yards elsewhere."""
    return FOOT if lie == GREEN else YARD
