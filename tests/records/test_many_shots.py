"""Many shots at once are what each of them is alone, to the byte; what is not in order is left to the schema."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from typing import Any

import pytest

from server.records.changes import canonical
from server.records.many_shots import NAMES, ShotColumns, many_shots
from server.records.shot_fields import BY_NAME, CHOICE, FLAG, INTEGER, NUMBER
from server.records.validation import InvalidError, load

ROUND, CLUB = "11111111-1111-4111-8111-111111111111", "22222222-2222-4222-8222-222222222222"
PLAIN: dict[str, Any] = {
    "round_id": ROUND,
    "hole": 1,
    "ball": 1,
    "order": 1,
    "lie": "tee",
    "distance_yd": 381.0,
    "club_id": CLUB,
    "holed": False,
    "penalty_strokes": 0,
}


Shot = dict[str, Any]


def values(**said: Any) -> Shot:
    return {name: (PLAIN | said).get(name) for name in NAMES}


def columns(shots: Sequence[Shot]) -> ShotColumns:
    return ShotColumns(
        [str(place) for place in range(len(shots))], {name: [one[name] for one in shots] for name in NAMES}
    )


def alone(shot: Shot) -> tuple[str, Any] | None:
    body = columns([shot]).body(0)
    try:
        return canonical(body), load("shot", body)
    except (InvalidError, ValueError):
        return None


def together(shots: Sequence[Shot]) -> list[tuple[str, Any] | None]:
    """What each is when all are looked at together; None where that is left to the schema."""
    words, typed, doubtful = many_shots(columns(shots).values)
    return [
        None if place in doubtful else (words[place], {name: column[place] for name, column in typed.items()})
        for place in range(len(shots))
    ]


AWKWARD = [
    values(),
    values(right_yd=-0.0, long_yd=0.0, target_yd=1e-7),
    values(right_yd=0.0, long_yd=-0.0, target_yd=699.9999999999999),
    values(note='=1 "quoted" \\ back, ä — 球 \U0001f3cc\n', at="yesterday"),
    values(position=[-2.81234, 56.34321], lie="rough"),
    values(position=[-2.81234, 56.34321, 4.0]),
    values(penalty_strokes=1, penalty_reason="lost"),
    values(end_lie="green", end_distance_yd=3.5),
    values(lie="green", distance_yd=20.0, holed=True),
    values(picked_up=True, ball=2, provisional=True),
    values(lie="fairway", distance_yd=100.0, end_lie="green", end_distance_yd=5.0, carry_yd=110.0),
]
DISAGREEING = [
    values(lie="green", distance_yd=300.0),
    values(penalty_strokes=1),
    values(end_lie="green"),
    values(end_lie="green", end_distance_yd=300.0),
    values(holed=True, picked_up=True),
    values(provisional=True),
    values(lie="green", distance_yd=9.0, carry_yd=3.0),
]
NOT_IN_ORDER = [
    values(distance_yd=math.nan),
    values(distance_yd=math.inf),
    values(distance_yd=0.0),
    values(distance_yd=400),
    values(hole=99),
    values(hole=10**400),
    values(hole=True),
    values(lie="bush"),
    values(lie=["tee"]),
    values(holed=1),
    values(note="x" * 2001),
    values(note="\0"),
    values(club_id=CLUB.upper().replace("2", "A") + "x"),
    values(position=[200.0, 95.0]),
    values(position="here"),
    values(lie=None),
]


def test_sound_shots_are_what_each_is_alone() -> None:
    made = together(AWKWARD)
    assert made == list(map(alone, AWKWARD))
    assert None not in made
    words = many_shots(columns(AWKWARD).values).words
    assert '"long_yd":0.0,' in words[1]
    assert '"long_yd":-0.0,' in words[2]
    assert together([]) == []


def test_shots_that_do_not_agree_are_left_to_the_schema_and_the_others_are_not() -> None:
    assert not any(map(alone, DISAGREEING))
    made = together([*AWKWARD, *DISAGREEING])
    assert [one is None for one in made] == [False] * len(AWKWARD) + [True] * len(DISAGREEING)


@pytest.mark.parametrize("place", range(len(NOT_IN_ORDER)))
def test_a_column_that_is_not_in_order_is_left_to_the_schema(place: int) -> None:
    assert together([*AWKWARD, NOT_IN_ORDER[place]]) == [None] * (len(AWKWARD) + 1)


def test_drawn_shots_are_what_each_is_alone() -> None:
    draw = random.Random(7)

    def drawn(name: str) -> Any:
        field = BY_NAME[name]
        if name in PLAIN and draw.random() < 0.5:
            return PLAIN[name]
        if name not in PLAIN and draw.random() < 0.7:
            return None
        makers = {
            INTEGER: lambda: draw.randint(int(field.low), int(field.high)),
            NUMBER: lambda: draw.choice((field.high, draw.uniform(field.low, field.high), field.low or 0.25)),
            CHOICE: lambda: draw.choice(field.one_of),
            FLAG: lambda: draw.choice((True, False)),
        }
        return makers[field.type]() if field.type in makers else PLAIN.get(name)

    shots = [{name: drawn(name) for name in NAMES} for _ in range(600)]
    made = together(shots)
    assert made == list(map(alone, shots))
    assert 20 < sum(one is not None for one in made) < len(shots)
