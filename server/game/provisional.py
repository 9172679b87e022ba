"""A provisional ball (rule 18.3): played in case the first ball is lost outside a penalty area or out of bounds.

While the first ball is in question the provisional is a ball of its own number, marked `provisional`. It becomes the
ball in play only if the first is lost or out of bounds; then its strokes count, after one penalty stroke of the
shot that lost the first ball. Otherwise it is abandoned, and its strokes count for nothing but the clubs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from server.game.penalties import STROKE_AND_DISTANCE_ONLY

Shot = Mapping[str, Any]


def provisional_in_play(shots: Sequence[Shot], ball: int, reason: str) -> list[Shot]:
    """The shots of one hole after the provisional `ball` has become the ball in play.

    The last shot of ball 1 made before the provisional takes one penalty stroke and `reason` (lost or
    out_of_bounds); the provisional's shots follow it as ball 1. Input untouched, other balls unchanged.
    ValueError when there is no such provisional or the reason does not allow one.
    """
    if reason not in STROKE_AND_DISTANCE_ONLY:
        raise ValueError(f"penalty_reason: {reason!r} does not bring a provisional ball into play (rule 18.3c)")
    first = sorted((shot for shot in shots if shot["ball"] == 1), key=lambda shot: shot["order"])
    played = [shot for shot in shots if shot["ball"] == ball and shot.get("provisional")]
    if not first or not played:
        raise ValueError(f"ball: {ball} is not a provisional ball of this hole")
    origin = first[-1]
    changed: list[Shot] = []
    for shot in shots:
        if shot is origin:
            lost = {"penalty_strokes": 1, "penalty_reason": reason, "end_lie": None, "end_distance_yd": None}
            changed.append({**shot, **lost})
        elif shot["ball"] == ball:
            order = origin["order"] + shot["order"]
            changed.append({**shot, "ball": 1, "order": order, "provisional": False})
        else:
            changed.append(dict(shot))
    return changed
