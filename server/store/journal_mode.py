"""How SQLite journals: a write-ahead log, or for a while a rollback journal."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

import sqlalchemy as sa

from server.store.unavailable import sqlite_code

WAL: Final = "WAL"
DELETE: Final = "DELETE"
_PAUSE_S: Final = 0.02


def is_busy(error: sqlite3.Error) -> bool:
    """Whether another connection is in the way."""
    return sqlite_code(error) == sqlite3.SQLITE_BUSY


def set_journal_mode(database: sqlite3.Connection, mode: str) -> None:
    """Let a file have a write-ahead log (WAL) or a rollback journal (DELETE) from now on. SQLite refuses at once where
    a writer has a rollback journal (to WAL) or where anybody else has the file open (to DELETE); this waits for them as
    long as the connection's busy timeout says. Raises sqlite3.OperationalError."""
    wait_ms = database.execute("PRAGMA busy_timeout").fetchone()[0]
    ends = time.monotonic() + wait_ms / 1000
    while True:
        try:
            database.execute(f"PRAGMA journal_mode={mode}").fetchone()
            return
        except sqlite3.OperationalError as error:
            if not is_busy(error) or time.monotonic() >= ends:
                raise
        time.sleep(_PAUSE_S)


@contextmanager
def without_log(connection: sa.Connection) -> Iterator[None]:
    """SQLite writes straight into its file for a while, with a rollback journal of the pages that were there, in place
    of a write-ahead log from which it copies all of it into the file afterwards. It is as safe against a crash. Others
    who open the file meanwhile wait; where somebody has it open already, SQLite refuses at once and it stays as it
    is."""
    if connection.dialect.name != "sqlite":
        yield
        return
    with suppress(sa.exc.OperationalError):
        connection.exec_driver_sql(f"PRAGMA journal_mode={DELETE}").scalar_one()
    sync = connection.exec_driver_sql("PRAGMA synchronous").scalar_one()
    # the end of the journal is the commit: it is to be on the disk before anybody hears of it
    connection.exec_driver_sql("PRAGMA synchronous=EXTRA")
    try:
        yield
    finally:
        # whoever opens the file sets this, too: where one reads already, it is done; and where Ctrl-C has ended the
        # connection, there is nothing to set
        if not connection.invalidated:
            with suppress(sa.exc.OperationalError):
                connection.exec_driver_sql(f"PRAGMA journal_mode={WAL}").scalar_one()
            connection.exec_driver_sql(f"PRAGMA synchronous={sync}")
