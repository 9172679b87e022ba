"""Changing how SQLite journals, which waits for others as every transaction does."""

from __future__ import annotations

import sqlite3
import time
from typing import Final

WAL: Final = "WAL"
DELETE: Final = "DELETE"
_PAUSE_S: Final = 0.02


def is_busy(error: sqlite3.Error) -> bool:
    """Whether another connection is in the way."""
    return (getattr(error, "sqlite_errorcode", 0) or 0) & 0xFF == sqlite3.SQLITE_BUSY


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
