"""Practice away from the course: where sessions take place, and what the fields of one ball must agree on.

A practice ball is never a stroke of a round. Twin: web/js/game/practice.js.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from server.game.lies import FAIRWAY, ROUGH, SAND, TEE
from server.game.ranges import CARRY_BEYOND_YD

RANGE: Final = "range"
PUTTING_GREEN: Final = "putting_green"
SHORT_GAME: Final = "short_game"
PLACES: Final = (RANGE, PUTTING_GREEN, SHORT_GAME)
"""Where a session takes place."""

PRACTICE_LIES: Final = (TEE, FAIRWAY, ROUGH, SAND)
"""What a practice ball is hit from; a mat or bare turf is a fairway lie (a choice of this tool)."""

COURSE: Final = "course"
PRACTICE: Final = "practice"
BOTH: Final = "both"
SOURCES: Final = (COURSE, PRACTICE, BOTH)
"""Which balls an answer is made of: those of rounds, those of practice sessions, or both."""

_OF_A_SWING: Final = (
    "target_yd", "carry_yd", "total_yd", "right_yd", "long_yd", "swing", "planned_shape", "actual_shape", "strike",
)  # fmt: skip
"""What a putt does not have."""


def practice_fault(ball: Mapping[str, Any]) -> tuple[str, str] | None:
    """What does not agree among the fields of a practice ball, as (field, words); None where nothing is wrong.

    The total is the carry and the roll; backspin brings a ball back by at most `CARRY_BEYOND_YD`.
    """
    if ball.get("length_ft") is not None:
        given = next((name for name in _OF_A_SWING if ball.get(name) is not None), None)
        if given is not None:
            return given, "a putt, which has a length in feet, has none"
    if ball.get("holed") and ball.get("left_ft") is not None:
        return "left_ft", "a holed ball has nothing left to the hole"
    carry, total = ball.get("carry_yd"), ball.get("total_yd")
    if carry is not None and total is not None and total < carry - CARRY_BEYOND_YD:
        return "total_yd", f"is under the carry of {carry:g} yd less {CARRY_BEYOND_YD:g} yd of backspin"
    return None
