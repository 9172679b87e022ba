"""How the database is: whether it answers, whether its tables are of the newest step, how large it is."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from server.store.engine import reading, step_of, steps


@dataclass(frozen=True)
class TableSteps:
    """The migration step that the tables are at (None: no tables) and the newest that this program knows."""

    current: str | None
    newest: str

    @property
    def up_to_date(self) -> bool:
        """Whether nothing is left to migrate."""
        return self.current == self.newest


def table_steps(engine: sa.Engine) -> TableSteps:
    """Ask the database. Raises UnavailableError when it does not answer."""
    with reading(engine) as connection:
        return TableSteps(step_of(connection), steps()[-1])


def database_bytes(engine: sa.Engine) -> int:
    """Bytes of the database: on SQLite the pages of the file, without its write-ahead log. Raises UnavailableError."""
    with reading(engine) as connection:
        if engine.dialect.name == "sqlite":
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
            return int(pages) * int(connection.exec_driver_sql("PRAGMA page_size").scalar_one())
        return int(connection.exec_driver_sql("SELECT pg_database_size(current_database())").scalar_one())
