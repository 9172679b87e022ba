"""Owning your data: erasing a player.

The records go, the log keeps its numbers but no body, no device and no time of the player's; quarantine, notes, shares
and the accounts' names are emptied. A device of the player that comes back later learns that the player was erased,
and brings nothing back. SQLite's file and its write-ahead log keep no byte of it either.

The first transaction ends the player for every reader; what is left then goes in pieces, between which others write,
and is finished at the next start when the server is stopped in the middle (`finish_erasures`).

What this cannot reach: backups made before, which are to be thrown away, and on PostgreSQL dead rows until its next
VACUUM and the archived write-ahead log.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Any, Final

import sqlalchemy as sa

from server.store import scrubbing
from server.store.account_tables import ACCOUNT, CADDIE, CREDENTIAL, NOTE, SHARE
from server.store.accounts import now
from server.store.engine import reading, writing
from server.store.tables import CHANGE, KIND_TABLES, PLAYER, QUARANTINE
from server.store.unavailable import UnavailableError, translate_db_errors

LOG = logging.getLogger("pencilbag")

PIECE: Final = 500
"""Changes that are emptied, and shots that are deleted, in one transaction."""
PIECE_OF_OTHERS: Final = 50
"""The same of records that may be long."""
PIECE_BYTES: Final = 4_000_000
"""Of the bodies of changes in one transaction: what is deleted is overwritten."""
SHORTEST_PAUSE_S: Final = 0.01
PATIENCE_S: Final = 60.0
"""How long the last step waits for readers of an older state; the erasure is valid even without that step."""

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
        lock = sa.select(PLAYER.c.erased_at).where(PLAYER.c.player_id == player_id).with_for_update()
        found = connection.execute(lock).first()
        if found is None:
            return
        for table in (KIND_TABLES["player"], NOTE, SHARE):
            connection.execute(sa.delete(table).where(table.c.player_id == player_id))
        _close_accounts(connection, player_id, moment)
        if found.erased_at is None:
            # until all is done its bytes count, so that what was begun is found again
            begun = {"erased_at": moment, "log_bytes": PLAYER.c.log_bytes + 1}
            connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player_id).values(begun))
    _finish(engine, player_id)


def finish_erasures(engine: sa.Engine) -> None:
    """Finish what a server began that was stopped in the middle."""
    query = sa.select(PLAYER.c.player_id).where(PLAYER.c.erased_at.is_not(None), PLAYER.c.log_bytes > 0)
    with reading(engine) as connection:
        begun = [row.player_id for row in connection.execute(query)]
    for player_id in begun:
        LOG.warning("an erasure that was cut off is finished")
        _finish(engine, player_id)


def _finish(engine: sa.Engine, player_id: str) -> None:
    for table in (*KIND_TABLES.values(), QUARANTINE):
        _in_pieces(engine, partial(_delete_some, table=table, player_id=player_id))
    _in_pieces(engine, partial(_empty_some, player_id=player_id, after=[0]))
    if engine.dialect.name == "sqlite":
        _leave_no_bytes(engine)
    done = {"log_bytes": 0, "quarantine_bytes": 0}
    with writing(engine) as connection:
        connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player_id).values(done))


def _in_pieces(engine: sa.Engine, piece: Callable[[sa.Connection], bool]) -> None:
    """Repeat a transaction until it reports that nothing is left. Others, who wait for their turn without a queue, have
    as long after each as it took."""
    more = True
    while more:
        began = time.monotonic()
        with writing(engine) as connection:
            more = piece(connection)
        if more:
            time.sleep(max(SHORTEST_PAUSE_S, time.monotonic() - began))


def _delete_some(connection: sa.Connection, table: sa.Table, player_id: str) -> bool:
    (key,) = table.primary_key.columns
    most = PIECE if table in (KIND_TABLES["shot"], KIND_TABLES["practice_ball"]) else PIECE_OF_OTHERS
    rows = connection.execute(sa.select(key).where(table.c.player_id == player_id).limit(most)).scalars().all()
    if rows:
        connection.execute(sa.delete(table).where(key.in_(rows)))
    return len(rows) == most


def _empty_some(connection: sa.Connection, player_id: str, after: list[int]) -> bool:
    """Empty the changes that follow number `after`, which moves on."""
    query = sa.select(CHANGE.c.seq, sa.func.coalesce(sa.func.length(CHANGE.c.body), 0).label("size"))
    query = query.where(CHANGE.c.player_id == player_id, CHANGE.c.seq > after[0]).order_by(CHANGE.c.seq).limit(PIECE)
    taken, size = 0, 0
    rows: list[Any] = list(connection.execute(query))
    for row in rows:
        if taken and size + row.size > PIECE_BYTES:
            break
        taken, size = taken + 1, size + row.size
    if not taken:
        return False
    last = rows[taken - 1].seq
    some = sa.and_(CHANGE.c.player_id == player_id, CHANGE.c.seq > after[0], CHANGE.c.seq <= last)
    connection.execute(sa.update(CHANGE).where(some).values(**EMPTIED_CHANGE))
    after[0] = last
    return taken < len(rows) or len(rows) == PIECE


def _close_accounts(connection: sa.Connection, player_id: str, moment: str) -> None:
    """The accounts stay as nameless rows: a server with accounts never opens again by losing its last one, and the
    hashes of the credentials tell the player's devices, and those of caddies, what happened."""
    owned = ACCOUNT.c.player_id == player_id
    credentials = CREDENTIAL.c.account_id.in_(sa.select(ACCOUNT.c.account_id).where(owned))
    ended = {"label": "", "scopes": "", "revoked_at": sa.func.coalesce(CREDENTIAL.c.revoked_at, moment)}
    connection.execute(sa.update(CREDENTIAL).where(credentials).values(**ended))
    nameless = {"name": sa.literal("erased ") + ACCOUNT.c.account_id, "password": None, "disabled_at": moment}
    connection.execute(sa.update(ACCOUNT).where(owned).values(**nameless))
    left = {"name": None, "device_id": None, "ended_at": sa.func.coalesce(CADDIE.c.ended_at, moment)}
    connection.execute(sa.update(CADDIE).where(CADDIE.c.player_id == player_id).values(**left))


def _leave_no_bytes(engine: sa.Engine) -> None:
    """Overwrite the bytes that SQLite's file holds without using them, and empty its write-ahead log.

    Records that were written anew long before left such bytes too, so that overwriting what is deleted now would not
    be enough. Where `server.store.scrubbing` cannot, the file is written anew, and every writer waits. When the
    database is busy or full the erasure is still valid, and the log names what is left to do.
    """
    path = engine.url.database
    if not path or not os.path.isfile(path):
        return
    if _overwrites_what_it_frees(engine):
        done = subprocess.run([sys.executable, "-I", scrubbing.__file__, path, str(PATIENCE_S)], check=False)
        if done.returncode in (scrubbing.DONE, scrubbing.HELD):
            if done.returncode == scrubbing.HELD:
                LOG.warning("a player was erased, but the database was busy: deleted bytes stay until the next erasure")
            return
    _write_anew(engine)


def _overwrites_what_it_frees(engine: sa.Engine) -> bool:
    """Whether this SQLite was built to (Debian's is). Where it was not, older bytes lie in places that only writing the
    file anew reaches."""
    with engine.connect() as connection:
        return "SECURE_DELETE" in connection.exec_driver_sql("PRAGMA compile_options").scalars().all()


def _write_anew(engine: sa.Engine) -> None:
    try:
        with translate_db_errors(), engine.connect() as connection:
            connection.exec_driver_sql("VACUUM")
            busy, _, _ = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").one()
    except UnavailableError as error:
        LOG.warning("a player was erased, but deleted bytes are still in the file (%s): run VACUUM", error)
        return
    if busy:
        LOG.warning("a player was erased, but the write-ahead log is being read: run PRAGMA wal_checkpoint(TRUNCATE)")
