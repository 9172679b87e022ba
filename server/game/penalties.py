"""Penalty strokes and where the next ball is played (Rules of Golf 2023, rules 17, 18 and 19).

A penalty stroke belongs to the shot that brought it. The Committee's local rules come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

OUT_OF_BOUNDS: Final = "out_of_bounds"
LOST: Final = "lost"
PENALTY_AREA: Final = "penalty_area"
UNPLAYABLE: Final = "unplayable"
OTHER: Final = "other"
REASONS: Final[tuple[str, ...]] = (OUT_OF_BOUNDS, LOST, PENALTY_AREA, UNPLAYABLE, OTHER)

STROKE_AND_DISTANCE_ONLY: Final = frozenset({OUT_OF_BOUNDS, LOST})
"""Reasons after which rule 18.2b knows one way on: from where the previous stroke was made."""

PENALTY_STROKES: Final[tuple[int, ...]] = (0, 1, 2)

MOST_CLUBS: Final = 14
"""Rule 4.1b: a counting round is played with no more than 14 clubs."""

SAME_SPOT: Final = "same_spot"
BACK_ON_LINE: Final = "back_on_line"
LATERAL: Final = "lateral"
AS_IT_LIES: Final = "as_it_lies"
FAIRWAY_DROP: Final = "fairway_drop"


@dataclass(frozen=True)
class WayOn:
    """One way to go on after trouble: its name, the rule, the penalty strokes, and whether the next
    shot starts exactly where this one did."""

    name: str
    rule: str
    strokes: int
    same_spot: bool = False
    words: str = ""


WAYS_ON: Final[dict[str, tuple[WayOn, ...]]] = {
    OUT_OF_BOUNDS: (
        WayOn(SAME_SPOT, "18.2b", 1, True, "again from the same spot"),
        WayOn(FAIRWAY_DROP, "model local rule E-5", 2, False, "fairway drop, if the local rule is in force"),
    ),
    LOST: (
        WayOn(SAME_SPOT, "18.2b", 1, True, "again from the same spot"),
        WayOn(FAIRWAY_DROP, "model local rule E-5", 2, False, "fairway drop, if the local rule is in force"),
    ),
    PENALTY_AREA: (
        WayOn(SAME_SPOT, "17.1d(1)", 1, True, "again from the same spot"),
        WayOn(BACK_ON_LINE, "17.1d(2)", 1, False, "back on the line from the hole through the crossing point"),
        WayOn(LATERAL, "17.1d(3)", 1, False, "red stakes: two club-lengths from the crossing point"),
        WayOn(AS_IT_LIES, "17.1b", 0, False, "as it lies"),
    ),
    UNPLAYABLE: (
        WayOn(SAME_SPOT, "19.2a", 1, True, "again from the same spot"),
        WayOn(BACK_ON_LINE, "19.2b", 1, False, "back on the line from the hole through the ball"),
        WayOn(LATERAL, "19.2c", 1, False, "two club-lengths from the ball"),
        WayOn("back_on_line_outside_sand", "19.3b", 2, False, "from sand: back on the line, outside the bunker"),
    ),
    OTHER: (
        WayOn("as_ruled_one", "as ruled", 1, False, "one stroke, as ruled"),
        WayOn("as_ruled_two", "as ruled", 2, False, "the general penalty, two strokes, as ruled"),
    ),
}


def returns_to_same_spot(reason: str | None, strokes: int) -> bool:
    """True when the rules leave only stroke and distance: lost or out of bounds for one stroke."""
    return reason in STROKE_AND_DISTANCE_ONLY and strokes == 1
