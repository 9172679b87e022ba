"""What the store knows of practice sessions and their balls."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa

from server.records.practice_fields import BALL_FIELDS
from server.store.rows import PracticeBallRow, SessionRow, SessionWithBalls
from server.store.tables import PRACTICE_BALL, SESSION, SESSION_OF_BALL

_BALL_COLUMNS: Final = tuple(field.name for field in BALL_FIELDS if field.name not in ("session_id", "order"))


def _sessions_query(player_id: str) -> sa.Select[Any]:
    putts = sa.case((PRACTICE_BALL.c.length_ft.is_not(None), 1), else_=0)
    counts = (
        sa.select(
            PRACTICE_BALL.c.session_id,
            sa.func.count().label("balls"),
            sa.func.sum(putts).label("putts"),
            sa.func.count(PRACTICE_BALL.c.club_id.distinct()).label("clubs"),
        )
        .where(PRACTICE_BALL.c.player_id == player_id)
        .group_by(PRACTICE_BALL.c.session_id)
        .subquery()
    )
    return (
        sa.select(SESSION, counts.c.balls, counts.c.putts, counts.c.clubs)
        .outerjoin(counts, counts.c.session_id == SESSION.c.record_id)
        .where(SESSION.c.player_id == player_id)
        .order_by(SESSION.c.date.desc(), SESSION.c.record_id)
    )


def _session(row: Any) -> SessionRow:
    return {
        "session_id": row["record_id"],
        "date": row["date"].isoformat(),
        "place": row["place"],
        "note": row["note"],
        "ball_label": row["ball_label"],
        "from_file": row["from_file"],
        "at": row["at"],
        "closed": row["closed"],
        "deleted": row["deleted"],
        "balls": row["balls"] or 0,
        "putts": row["putts"] or 0,
        "clubs": row["clubs"] or 0,
    }


def sessions(connection: sa.Connection, player_id: str) -> list[SessionRow]:
    """The player's practice sessions, latest first. A deleted one is listed only while balls live under it."""
    found = connection.execute(_sessions_query(player_id)).mappings()
    return [_session(row) for row in found if not row["deleted"] or row["balls"]]


def session_by_id(connection: sa.Connection, player_id: str, session_id: str) -> SessionWithBalls | None:
    """One session with its balls in their order, or None."""
    row = connection.execute(_sessions_query(player_id).where(SESSION.c.record_id == session_id)).mappings().first()
    if row is None:
        return None
    query = (
        sa.select(
            PRACTICE_BALL.c.record_id.label("ball_id"),
            PRACTICE_BALL.c.ball_order.label("order"),
            *(PRACTICE_BALL.c[name] for name in _BALL_COLUMNS),
        )
        .join(SESSION, SESSION_OF_BALL)
        .where(SESSION.c.record_id == session_id, SESSION.c.player_id == player_id)
        .order_by(PRACTICE_BALL.c.ball_order, PRACTICE_BALL.c.record_id)
    )
    hit: list[PracticeBallRow] = [dict(ball) for ball in connection.execute(query).mappings()]  # type: ignore[misc]
    return {"session": _session(row), "hit": hit}
