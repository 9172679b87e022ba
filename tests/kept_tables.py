"""The tables of SQLite are made once in a process of tests: each further file that is empty takes a copy of them.

Making them takes 0.1 s of the processor, and hundreds of tests open a file of their own. The tests of the store make
them each time, as the long tier does everywhere.
"""

from __future__ import annotations

import sqlite3
from typing import Final

import sqlalchemy as sa

from server.store import engine as store

MAKING: Final = store.migrate
"""What a server does."""


def use() -> None:
    """From now on, in this process."""
    made = sqlite3.connect(":memory:", check_same_thread=False)

    def copy_tables(engine: sa.Engine) -> None:
        if engine.dialect.name != "sqlite" or not _is_empty(engine):
            MAKING(engine)
            return
        connection = engine.raw_connection()
        try:
            if not _names(made):
                MAKING(engine)
                connection.driver_connection.backup(made)
            else:
                made.backup(connection.driver_connection)
        finally:
            connection.close()

    store.migrate = copy_tables


def _is_empty(engine: sa.Engine) -> bool:
    connection = engine.raw_connection()
    try:
        return not _names(connection.driver_connection)
    finally:
        connection.close()


def _names(connection: sqlite3.Connection) -> list[tuple[str]]:
    return connection.execute("SELECT name FROM sqlite_master").fetchall()
