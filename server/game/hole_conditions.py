"""Conditions of a hole as the player saw them: wind by word and point of the compass, and where the hole was cut.

A round records them as `hole_conditions`, at most one entry a hole, each part optional. Wind goes on from hole to hole
in the order of their numbers until another is recorded; where the hole was cut does not. Twin of
`web/js/game/hole-conditions.js`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final, TypedDict

NO_WIND: Final = "none"
WIND_MPH: Final[dict[str, tuple[int, int | None]]] = {
    NO_WIND: (0, 3),
    "light": (4, 12),
    "fresh": (13, 24),
    "strong": (25, None),
}
"""Words of wind with the mph that each represents: forces 0 and 1, 2 and 3, 4 and 5, 6 and more of the Beaufort scale
(World Meteorological Organization, Manual on Codes, WMO-No. 306). To join two forces in a word is a choice of this
tool."""
WINDS: Final = tuple(WIND_MPH)
PIN_DEPTHS: Final = ("front", "middle", "back")
PIN_SIDES: Final = ("left", "centre", "right")
GREEN_SPEEDS_FT: Final = (3, 20)
"""Least and greatest green speed: feet that a ball rolls from a ramp of the USGA's kind. A choice of this tool."""


class HoleConditions(TypedDict):
    """Conditions of a hole; None: not recorded. `wind`: one of `WINDS`; `wind_from_deg`: clockwise from north, where
    the wind comes from; `pin_depth`: a third of the green as the player approaches it, `pin_side` likewise."""

    wind: str | None
    wind_from_deg: float | None
    pin_depth: str | None
    pin_side: str | None


def conditions_by_hole(holes: Iterable[int], recorded: Iterable[Mapping[str, Any]]) -> dict[int, HoleConditions]:
    """Conditions of each of the holes (numbers, in any order), with wind carried on; no wind has no direction.

    `recorded`: the round's `hole_conditions`; entries of holes that the round does not have are carried on too.

    >>> found = conditions_by_hole((1, 2), [{"hole": 1, "wind": "light", "pin_side": "left"}])
    >>> found[2]["wind"], found[2]["pin_side"]
    ('light', None)
    """
    of_hole = {entry["hole"]: entry for entry in recorded}
    wanted = set(holes)
    found: dict[int, HoleConditions] = {}
    wind, wind_from = None, None
    for hole in sorted(wanted | of_hole.keys()):
        here = of_hole.get(hole, {})
        if here.get("wind") is not None:
            wind = here["wind"]
        if here.get("wind_from_deg") is not None:
            wind_from = here["wind_from_deg"]
        if wind == NO_WIND:
            wind_from = None
        if hole in wanted:
            found[hole] = {
                "wind": wind,
                "wind_from_deg": wind_from,
                "pin_depth": here.get("pin_depth"),
                "pin_side": here.get("pin_side"),
            }
    return found
