"""Owning your data: erasing a player.

The records go, the log keeps its numbers but no body, no device and no time of the player's; quarantine, notes, shares
and the accounts' names are emptied. A device of the player that comes back later is told that the player was erased,
and brings nothing back. SQLite's file and its write-ahead log keep no byte of it either.

What this cannot reach: backups made before, which are to be thrown away, and on PostgreSQL dead rows until its next
VACUUM and the archived write-ahead log.
"""

from __future__ import annotations

import logging

import sqlalchemy as sa

from server.store.account_tables import ACCOUNT, CREDENTIAL, NOTE, SHARE
from server.store.accounts import now
from server.store.engine import writing
from server.store.tables import CHANGE, KIND_TABLES, PLAYER, QUARANTINE
from server.store.unavailable import Unavailable, told_apart

LOG = logging.getLogger("pencilbag")

EMPTIED_CHANGE = {
    "body": None,
    "parents": "[]",
    "device_id": "",
    "client_time": "",
    "effective_time": "",
    "digest": "",
}
"""What is left of a change: its ids, kind, number, and when the server received it."""


def erase_player(engine: sa.Engine, player_id: str) -> None:
    """Erase all that a player logged, and every account of that player. Nothing happens for an unknown player."""
    moment = now()
    with writing(engine) as connection:
        lock = sa.select(PLAYER.c.player_id).where(PLAYER.c.player_id == player_id).with_for_update()
        if connection.execute(lock).first() is None:
            return
        for table in (*KIND_TABLES.values(), QUARANTINE, NOTE, SHARE):
            connection.execute(sa.delete(table).where(table.c.player_id == player_id))
        connection.execute(sa.update(CHANGE).where(CHANGE.c.player_id == player_id).values(**EMPTIED_CHANGE))
        _close_accounts(connection, player_id, moment)
        emptied = {"erased_at": moment, "log_bytes": 0, "quarantine_bytes": 0}
        connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player_id).values(emptied))
    if engine.dialect.name == "sqlite":
        _leave_no_bytes(engine)


def _close_accounts(connection: sa.Connection, player_id: str, moment: str) -> None:
    """The accounts stay as nameless rows: a house with accounts never opens again by losing its last one, and the
    hashes of the credentials tell the player's devices what happened."""
    owned = ACCOUNT.c.player_id == player_id
    credentials = CREDENTIAL.c.account_id.in_(sa.select(ACCOUNT.c.account_id).where(owned))
    ended = {"label": "", "scopes": "", "revoked_at": sa.func.coalesce(CREDENTIAL.c.revoked_at, moment)}
    connection.execute(sa.update(CREDENTIAL).where(credentials).values(**ended))
    nameless = {"name": sa.literal("erased ") + ACCOUNT.c.account_id, "password": None, "disabled_at": moment}
    connection.execute(sa.update(ACCOUNT).where(owned).values(**nameless))


def _leave_no_bytes(engine: sa.Engine) -> None:
    """Write SQLite's file anew and empty its write-ahead log: deleted rows else stay readable in freed pages.

    Records that were written anew long before left such pages too, so that overwriting what is deleted now would not
    be enough. When the database is busy or full the erasure stands, and the log says what is left to do.
    """
    try:
        with told_apart(), engine.connect() as connection:
            connection.exec_driver_sql("VACUUM")
            busy, _, _ = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").one()
    except Unavailable as error:
        LOG.warning("a player was erased, but freed pages still hold old bytes (%s): run VACUUM", error)
        return
    if busy:
        LOG.warning("a player was erased, but a reader holds the write-ahead log: run PRAGMA wal_checkpoint(TRUNCATE)")
