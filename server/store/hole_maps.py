"""What the store knows of courses and the maps of their holes."""

from __future__ import annotations

import json
from typing import Any

import sqlalchemy as sa

from server.store.tables import COURSE, HOLE_MAP


def course_by_id(connection: sa.Connection, player_id: str, course_id: str) -> tuple[str, list[dict[str, Any]]] | None:
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
