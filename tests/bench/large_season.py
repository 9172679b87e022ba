"""A large invented season put straight into the tables, for measuring exports: many players, rounds of 90 shots."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np
import sqlalchemy as sa

from server.store.cursors import START
from server.store.engine import insert_rows, writing
from server.store.tables import CLUB, COURSE, PLAYER, PLAYER_RECORD, ROUND, ROUND_HOLE, SHOT

SHOTS_A_ROUND = 90
ROUNDS_A_PLAYER = 60
COURSES_A_PLAYER = 3
LIES = ("tee", "fairway", "rough", "green", "green")
YARDS = ((380, 420), (100, 220), (20, 80), (3, 12), (0.5, 2))
SORTS = ("driver", "iron", "wedge", "putter", "putter")
YEAR = 2026
MOMENT = "2026-05-01T09:30:00.000Z"


def _id(player: int, kind: int, round_: int = 0, place: int = 0) -> str:
    """A UUID of a form that is quick to make."""
    return f"{player:08x}-{kind:04x}-4000-8000-{round_ * 1000 + place:012x}"


def _whole(table: sa.Table, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rows with every column of the table; what was not said is missing or no."""
    usual = {column.name: False if isinstance(column.type, sa.Boolean) else None for column in table.columns}
    return [usual | row for row in rows]


def _player(number: int, draw: np.random.Generator, courses: int) -> Iterator[tuple[sa.Table, list[dict[str, Any]]]]:
    """The rows of one player, table by table; he plays `COURSES_A_PLAYER` of the courses in turn."""
    player_id = _id(number, 1)
    owner = {"player_id": player_id}
    clubs = [_id(number, 2, place=place) for place in range(len(LIES))]
    round_ids = [_id(number, 3, place) for place in range(ROUNDS_A_PLAYER)]
    played = list(range(min(COURSES_A_PLAYER, courses)))
    course_ids = [_id(number, 5, place=place) for place in played]
    low, high = np.array(YARDS).T
    yards = (
        draw.uniform(low, high, (ROUNDS_A_PLAYER, SHOTS_A_ROUND // 5, 5)).round(1).reshape(ROUNDS_A_PLAYER, -1).tolist()
    )
    shots = []
    for round_, round_id in enumerate(round_ids):
        for place in range(SHOTS_A_ROUND):
            hole, order = divmod(place, 5)
            shots.append(
                owner
                | {
                    "record_id": _id(number, 4, round_, place),
                    "round_id": round_id,
                    "hole": hole + 1,
                    "ball": 1,
                    "shot_order": order + 1,
                    "lie": LIES[order],
                    "distance_yd": yards[round_][place],
                    "club_id": clubs[order],
                    "holed": order == 4,
                    "penalty_strokes": 0,
                }
            )
    named = {"name": f"Player {number:04d}", "plays": "right", "units": "yards", "baseline": "tour"}
    yield (
        PLAYER,
        [owner | {"last_seq": 1, "chain": START, "created_at": MOMENT} | {"log_bytes": 0, "quarantine_bytes": 0}],
    )
    yield PLAYER_RECORD, [owner | named | {"record_id": player_id, "category_scheme": "four_part"}]
    yield (
        CLUB,
        [
            owner | {"record_id": club_id, "label": f"club {place}", "sort": SORTS[place]}
            for place, club_id in enumerate(clubs)
        ],
    )
    yield (
        COURSE,
        [
            owner
            | {
                "record_id": course_ids[place],
                "name": f"Course {(number * COURSES_A_PLAYER + place) % courses:02d}",
                "tees": "[]",
            }
            for place in played
        ],
    )
    yield (
        ROUND,
        [
            owner
            | {
                "record_id": round_id,
                "played_on": date(YEAR, 1, 1) + timedelta(days=5 * place % 365),
                "kind": "practice",
                "course_id": course_ids[place % len(course_ids)] if course_ids else None,
                "bag": "[]",
                "closed": True,
            }
            for place, round_id in enumerate(round_ids)
        ],
    )
    yield (
        ROUND_HOLE,
        [
            {"record_id": round_id, "number": number, "par": 4, "length_yd": 400.0}
            for round_id in round_ids
            for number in range(1, 19)
        ],
    )
    yield SHOT, shots


SHOTS_A_PLAYER = ROUNDS_A_PLAYER * SHOTS_A_ROUND


_PLAYERS_AT_ONCE = 64
"""Players in one transaction: of millions of shots in one, the log beside the database would be as large as it."""


def fill(engine: sa.Engine, players: int, seed: int = 7, courses: int = 0) -> None:
    """Put a season of `players` players, each of `SHOTS_A_PLAYER` shots, into an empty database. `courses`: in all."""
    draw = np.random.default_rng(seed)
    for first in range(0, players, _PLAYERS_AT_ONCE):
        with writing(engine) as connection:
            for number in range(first, min(first + _PLAYERS_AT_ONCE, players)):
                for table, rows in _player(number, draw, courses):
                    if rows:
                        insert_rows(connection, table, _whole(table, rows))
