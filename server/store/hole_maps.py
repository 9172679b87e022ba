"""What the store knows of courses and the maps of their holes."""

from __future__ import annotations

import json
from collections import defaultdict

import sqlalchemy as sa

from server.records.json_types import RecordBody
from server.store.players import heads
from server.store.rows import TeesRow
from server.store.tables import COURSE, HOLE_MAP


def course_by_id(connection: sa.Connection, player_id: str, course_id: str) -> tuple[str, list[TeesRow]] | None:
    """Name and tees of one of the player's courses, or None."""
    query = sa.select(COURSE.c.name, COURSE.c.tees).where(COURSE.c.player_id == player_id)
    row = connection.execute(query.where(COURSE.c.record_id == course_id)).first()
    return None if row is None else (row.name, json.loads(row.tees))


def hole_map_texts(connection: sa.Connection, player_id: str, course_id: str) -> dict[int, str]:
    """Hole -> its map's features as JSON text; of a hole that was mapped twice the map with the greatest id."""
    query = sa.select(HOLE_MAP.c.hole, HOLE_MAP.c.features).where(
        HOLE_MAP.c.player_id == player_id, HOLE_MAP.c.course_id == course_id
    )
    return {row.hole: row.features for row in connection.execute(query.order_by(HOLE_MAP.c.record_id))}


def mapped_holes(connection: sa.Connection, player_id: str) -> dict[str, list[int]]:
    """Course id -> its mapped holes, ascending."""
    query = sa.select(HOLE_MAP.c.course_id, HOLE_MAP.c.hole).where(HOLE_MAP.c.player_id == player_id).distinct()
    found: dict[str, list[int]] = defaultdict(list)
    for course_id, hole in connection.execute(query.order_by(HOLE_MAP.c.hole)):
        found[course_id].append(hole)
    return dict(found)


def hole_map_bodies(connection: sa.Connection, player_id: str, course_id: str) -> dict[int, RecordBody]:
    """Hole -> the full body of its map's record, ascending; of a hole mapped twice the map with the greatest id."""
    query = sa.select(HOLE_MAP.c.record_id, HOLE_MAP.c.hole).where(
        HOLE_MAP.c.player_id == player_id, HOLE_MAP.c.course_id == course_id
    )
    winning = {hole: record_id for record_id, hole in connection.execute(query.order_by(HOLE_MAP.c.record_id))}
    bodies = heads(connection, list(winning.values()))
    return {
        hole: body
        for hole, record_id in sorted(winning.items())
        if record_id in bodies and (body := bodies[record_id].body) is not None
    }
