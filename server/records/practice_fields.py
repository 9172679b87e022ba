"""The fields of a practice ball, each spelled once, as `server.records.shot_fields` does for a shot.

What a ball shares with a shot is taken from there: name, range, choices. The schema (`server.records.schemas`), the
columns of the database (`server.store.tables`) and the frame (`server.store.practice_frames`) follow from this table;
`web/js/game/practice.js` is its twin.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from server.game import ranges
from server.game.lies import FAIRWAY
from server.game.practice import PRACTICE_LIES
from server.records.shot_fields import BY_NAME, CHOICE, FLAG, ID, INTEGER, NUMBER, ShotField


def _as_a_shot(name: str, **other: Any) -> ShotField:
    return replace(BY_NAME[name], cells=(), cell_default="", **other)


_LONGEST_PUTT_FT: Final = 3 * ranges.FARTHEST_ON_GREEN_YD

BALL_FIELDS: Final = (
    ShotField("session_id", ID, "the session", required=True),
    ShotField(
        "order",
        INTEGER,
        "the number of the ball in its session",
        required=True,
        low=1,
        high=ranges.MOST_BALLS_A_SESSION,
    ),
    _as_a_shot("club_id"),
    ShotField("lie", CHOICE, "what it was hit from; a putt has none", default=FAIRWAY, one_of=PRACTICE_LIES),
    _as_a_shot("target_yd"),
    _as_a_shot("carry_yd"),
    ShotField(
        "total_yd",
        NUMBER,
        "how far it was when it came to rest: carry and roll",
        high=ranges.FARTHEST_TOTAL_YD,
        above=True,
        unit="yd",
    ),
    _as_a_shot("right_yd"),
    _as_a_shot("long_yd"),
    _as_a_shot("swing"),
    _as_a_shot("planned_shape"),
    _as_a_shot("actual_shape"),
    _as_a_shot("strike"),
    ShotField("length_ft", NUMBER, "the length of a putt", high=_LONGEST_PUTT_FT, above=True, unit="ft"),
    ShotField("holed", FLAG, "it went in", default=False),
    ShotField("left_ft", NUMBER, "what was left to the hole", high=ranges.FARTHEST_LEFT_FT, above=True, unit="ft"),
    ShotField("duel_id", ID, "balls of one id are a pair from the same spot, one with each club"),
    _as_a_shot("at"),
)
"""Every field of a practice ball."""
