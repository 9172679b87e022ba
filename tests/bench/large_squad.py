"""A large invented squad put straight into the tables: many players on shared courses, rounds of about 75 shots.

Holes are played from tee to hole with lies and distances that could be: a drive, an approach, at times a second long
shot, a shot from near the green, one to three putts. How strong a player is and how hard a course is decide how close
approaches end and how often a green is missed.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np
import sqlalchemy as sa

from server.store.engine import insert_rows, writing
from server.store.tables import CLUB, COURSE, PLAYER, PLAYER_RECORD, ROUND, ROUND_HOLE, SHOT
from tests.bench.large_season import MOMENT, _id, _whole

COURSES = 40
HOLES = 18
PARS = (4, 5, 4, 3, 4, 4, 3, 5, 4, 4, 4, 3, 5, 4, 4, 3, 4, 5)
YARDS = {3: 165.0, 4: 400.0, 5: 530.0}
FIRST_DAY = date(2026, 3, 1)

Played = tuple[str, float, bool]
"""Lie, yards to the hole, holed."""


def _hole(par: int, yards: float, strength: float, draw: np.random.Generator) -> list[Played]:
    """The shots of one hole. `strength`: about -1 to 1; strong players miss fewer greens and end closer."""
    chance, normal = draw.random(8).tolist(), draw.standard_normal(4).tolist()
    shots: list[Played] = [("tee", yards, False)]
    left = yards
    if par > 3:
        left = max(yards - 250 - 12 * strength - 20 * normal[0], 40.0)
        shots.append(("fairway" if chance[0] < 0.55 + 0.1 * strength else "rough", left, False))
    if par == 5:
        left = max(left - 200 - 15 * normal[1], 25.0)
        shots.append(("fairway" if chance[1] < 0.6 else "rough", left, False))
    if chance[2] > 0.62 + 0.12 * strength - left / 1500:
        near = 8 + 25 * chance[3]
        shots.append(("sand" if chance[4] < 0.25 else "rough", near, False))
        putt = 1 + 4 * chance[5]
    else:
        putt = 1 + left / 22 * (0.4 + chance[5]) * (1 - 0.2 * strength)
    shots.append(("green", round(putt, 2), False))
    if chance[6] > 1.15 / (1 + putt / 1.6) + 0.05 * strength:
        second = 0.3 + putt * 0.06 + abs(normal[2]) * 0.2
        shots.append(("green", round(second, 2), False))
        if chance[7] > 1.2 / (1 + second / 3):
            shots.append(("green", 0.4, False))
    lie, distance, _ = shots[-1]
    return [*((lie, round(distance, 1), holed) for lie, distance, holed in shots[:-1]), (lie, distance, True)]


def _player(
    number: int, rounds: int, hard: list[float], draw: np.random.Generator
) -> Iterator[tuple[sa.Table, list[dict[str, Any]]]]:
    """The rows of one player, table by table. `hard`: of each course, what it takes off a player's strength."""
    player_id = _id(number, 1)
    owner = {"player_id": player_id}
    club = _id(number, 2)
    strength = float(draw.normal(0, 0.5))
    played = [(number + int(draw.integers(0, 6)) ** 2) % len(hard) for _ in range(rounds)]
    course_ids = {course: _id(number, 5, place=course) for course in sorted(set(played))}
    round_ids = [_id(number, 3, place) for place in range(rounds)]
    shots = []
    for round_, (round_id, course) in enumerate(zip(round_ids, played, strict=True)):
        place = 0
        form = strength - hard[course] + float(draw.normal(0, 0.4))
        for hole, par in enumerate(PARS, start=1):
            length = YARDS[par] + 10 * ((course + hole) % 5 - 2)
            for order, (lie, yards, holed) in enumerate(_hole(par, length, form, draw), start=1):
                shots.append(
                    owner
                    | {
                        "record_id": _id(number, 4, round_, place),
                        "round_id": round_id,
                        "hole": hole,
                        "ball": 1,
                        "shot_order": order,
                        "lie": lie,
                        "distance_yd": yards,
                        "club_id": club,
                        "holed": holed,
                        "penalty_strokes": 0,
                    }
                )
                place += 1
    named = {"name": f"Player {number:04d}", "plays": "right", "units": "yards", "baseline": "tour"}
    chain = {"last_seq": 1, "chain": f"{number:032x}", "created_at": MOMENT, "log_bytes": 0, "quarantine_bytes": 0}
    yield PLAYER, [owner | chain]
    yield PLAYER_RECORD, [owner | named | {"record_id": player_id, "category_scheme": "four_part"}]
    yield CLUB, [owner | {"record_id": club, "label": "club", "sort": "iron"}]
    yield (
        COURSE,
        [
            owner | {"record_id": course_id, "name": f"Course {course:02d}", "tees": "[]"}
            for course, course_id in course_ids.items()
        ],
    )
    yield (
        ROUND,
        [
            owner
            | {
                "record_id": round_id,
                "played_on": FIRST_DAY + timedelta(days=7 * place),
                "kind": "practice",
                "course_id": course_ids[course],
                "bag": "[]",
                "closed": True,
            }
            for place, (round_id, course) in enumerate(zip(round_ids, played, strict=True))
        ],
    )
    yield (
        ROUND_HOLE,
        [
            {"record_id": round_id, "number": hole, "par": par, "length_yd": YARDS[par]}
            for round_id in round_ids
            for hole, par in enumerate(PARS, start=1)
        ],
    )
    yield SHOT, shots


def fill_squad(engine: sa.Engine, players: int, rounds: int, seed: int = 11) -> None:
    """Put a squad of `players` players with `rounds` rounds each into an empty database."""
    draw = np.random.default_rng(seed)
    hard = draw.normal(0, 0.3, COURSES).tolist()
    for first in range(0, players, 20):
        with writing(engine) as connection:
            for number in range(first, min(first + 20, players)):
                for table, rows in _player(number, rounds, hard, draw):
                    insert_rows(connection, table, _whole(table, rows))
