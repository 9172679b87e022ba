"""Opening the database: SQLite by default, PostgreSQL by its address, with the same transactions on both."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from alembic import command
from alembic.config import Config

USUAL_DATABASE: Final = f"sqlite:///{Path(__file__).resolve().parents[2] / 'instance' / 'pencilbag.sqlite'}"
BUSY_WAIT_S: Final = 30
MIGRATIONS: Final = Path(__file__).parent / "migrations"


def open_database(url: str) -> sa.Engine:
    """An engine on `url` (a SQLAlchemy address), its tables brought to the newest version.

    SQLite: write-ahead log, synchronous FULL, foreign keys on; a writer waits 30 s for another.
    """
    place = sa.make_url(url)
    if place.get_backend_name() == "sqlite" and place.database and place.database != ":memory:":
        Path(place.database).parent.mkdir(parents=True, exist_ok=True)
    if place.get_backend_name() == "postgresql":
        place = place.set(drivername="postgresql+psycopg")
    engine = sa.create_engine(place, **_options(place))
    if engine.dialect.name == "sqlite":
        sa.event.listen(engine, "connect", _prepare_sqlite)
    migrate(engine)
    return engine


def _options(place: sa.URL) -> dict[str, Any]:
    if place.get_backend_name() == "sqlite":
        return {"connect_args": {"timeout": BUSY_WAIT_S, "check_same_thread": False}}
    return {"pool_pre_ping": True}


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # The driver must not open transactions by itself: reading and writing begin them, each in its own way.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        f"busy_timeout={BUSY_WAIT_S * 1000}",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection that sees one state of the database from its first statement to its end."""
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN")
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield connection
        connection.rollback()


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """One write transaction: committed at the end, rolled back whole on any error."""
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        try:
            yield connection
            connection.commit()
        except BaseException:
            connection.rollback()
            raise


def migrate(engine: sa.Engine) -> None:
    """Bring the tables to the newest version (numbered, additive steps)."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with writing(engine) as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(sa.text("SELECT pg_advisory_xact_lock(20260301)"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
