"""Squads: the players who share their rounds with one."""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from server.store.account_tables import SHARE
from server.store.engine import select_in


def squad_players(connection: sa.Connection, squad: str) -> list[str]:
    """Ids of the players who share with a squad now, sorted; empty for a squad that nobody shares with."""
    query = sa.select(SHARE.c.player_id).where(SHARE.c.squad == squad, SHARE.c.ended_at.is_(None)).distinct()
    return sorted(row[0] for row in connection.execute(query))


def squads_of(connection: sa.Connection, player_ids: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """The squads that each of these players shares with now, sorted; who shares with none is left out."""
    columns = (SHARE.c.player_id, SHARE.c.squad, SHARE.c.ended_at)
    found: dict[str, set[str]] = {}
    for row in select_in(connection, columns, SHARE.c.player_id, player_ids):
        if row.squad is not None and row.ended_at is None:
            found.setdefault(row.player_id, set()).add(row.squad)
    return {player_id: tuple(sorted(names)) for player_id, names in found.items()}
