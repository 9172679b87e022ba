"""Squads: the players who share their rounds with one."""

from __future__ import annotations

import sqlalchemy as sa

from server.store.account_tables import SHARE


def squad_players(connection: sa.Connection, squad: str) -> list[str]:
    """Ids of the players who share with a squad now, sorted; empty for a squad that nobody shares with."""
    query = sa.select(SHARE.c.player_id).where(SHARE.c.squad == squad, SHARE.c.ended_at.is_(None)).distinct()
    return sorted(row[0] for row in connection.execute(query))
