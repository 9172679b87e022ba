"""Owning your data: erasing a player.

The records go, the log keeps its numbers but no body, the quarantine and the notes are emptied, shares end. A device of
the player that comes back later is told that the player was erased, and brings nothing back.
"""

from __future__ import annotations

import sqlalchemy as sa

from server.store.account_tables import ACCOUNT, CREDENTIAL, NOTE, SHARE
from server.store.accounts import now
from server.store.engine import writing
from server.store.tables import CHANGE, PLAYER, QUARANTINE, RECORD


def erase_player(engine: sa.Engine, player_id: str) -> None:
    """Erase all that a player logged, and every account of that player."""
    moment = now()
    with writing(engine) as connection:
        lock = sa.select(PLAYER.c.player_id).where(PLAYER.c.player_id == player_id).with_for_update()
        if connection.execute(lock).first() is None:
            return
        connection.execute(sa.delete(RECORD).where(RECORD.c.player_id == player_id))
        emptied = {"body": None, "device_id": "erased", "digest": ""}
        connection.execute(sa.update(CHANGE).where(CHANGE.c.player_id == player_id).values(**emptied))
        connection.execute(sa.delete(QUARANTINE).where(QUARANTINE.c.player_id == player_id))
        connection.execute(sa.delete(NOTE).where(NOTE.c.player_id == player_id))
        running = sa.and_(SHARE.c.player_id == player_id, SHARE.c.ended_at.is_(None))
        connection.execute(sa.update(SHARE).where(running).values(ended_at=moment))
        owners = sa.select(ACCOUNT.c.account_id).where(ACCOUNT.c.player_id == player_id)
        connection.execute(sa.update(CREDENTIAL).where(CREDENTIAL.c.account_id.in_(owners)).values(revoked_at=moment))
        closed = {"disabled_at": moment, "password": None}
        connection.execute(sa.update(ACCOUNT).where(ACCOUNT.c.player_id == player_id).values(**closed))
        connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player_id).values(erased_at=moment))
