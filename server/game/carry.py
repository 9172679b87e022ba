"""How far a shot can have flown, by what is recorded of it.

Twin: web/js/game/carry.js.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from server.game.lies import GREEN
from server.game.ranges import CARRY_BEYOND_YD, FARTHEST_CARRY_YD


def longest_carry(shot: Mapping[str, Any]) -> float:
    """The longest carry, in yards, that the fields of a shot leave open: the shot's full length and
    `CARRY_BEYOND_YD`, at most `FARTHEST_CARRY_YD`.

    The full length follows from the finish against the target; else a ball that was holed went as far as the hole was,
    and one that ended somewhere else at most as far as the hole and on. After a penalty, or with no end known, the
    record alone does not tell it.

    >>> longest_carry({"lie": "tee", "distance_yd": 400.0, "target_yd": 240.0, "right_yd": 0.0, "long_yd": -10.0})
    245.0
    >>> longest_carry({"lie": "fairway", "distance_yd": 100.0, "end_distance_yd": 5.0})
    120.0
    """
    length = _full_length(shot)
    return FARTHEST_CARRY_YD if length is None else min(FARTHEST_CARRY_YD, max(length, 0.0) + CARRY_BEYOND_YD)


def _full_length(shot: Mapping[str, Any]) -> float | None:
    if shot.get("penalty_strokes"):
        return None
    target, right, long = (shot.get(name) for name in ("target_yd", "right_yd", "long_yd"))
    if target is not None and long is not None:
        return math.hypot(target + long, right or 0.0)
    if shot.get("holed"):
        return float(shot["distance_yd"])
    end = shot.get("end_distance_yd")
    return None if end is None else float(shot["distance_yd"]) + float(end)


def carry_fault(shot: Mapping[str, Any]) -> str | None:
    """What is wrong with the carry of a shot beside its other fields, with the range; None where nothing is."""
    carry = shot.get("carry_yd")
    if carry is None:
        return None
    if shot["lie"] == GREEN:
        return "a shot from the green has no carry"
    most = longest_carry(shot)
    if carry > most:
        return f"is outside 0 to {most:g} yd: the shot's whole length and {CARRY_BEYOND_YD:g} yd"
    return None
