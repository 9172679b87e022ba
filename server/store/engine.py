"""Opening the database: SQLite by default, PostgreSQL by its address, with the same transactions on both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from alembic import command
from alembic.config import Config

USUAL_DATABASE: Final = f"sqlite:///{Path(__file__).resolve().parents[2] / 'instance' / 'pencilbag.sqlite'}"
BUSY_WAIT_S: Final = 30
CHUNK: Final = 500
"""Ids in one IN list: older builds of SQLite allow 999 parameters."""

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


def select_in(
    connection: sa.Connection, columns: Sequence[Any], key: sa.ColumnElement[Any], ids: Sequence[str]
) -> list[Any]:
    """Rows whose `key` is one of `ids`, however many."""
    rows: list[Any] = []
    for start in range(0, len(ids), CHUNK):
        rows += connection.execute(sa.select(*columns).where(key.in_(ids[start : start + CHUNK]))).all()
    return rows


@lru_cache(maxsize=64)
def _insert_plan(table: sa.Table, dialect: sa.Dialect) -> tuple[str, tuple[str, ...], dict[str, Any]]:
    """The statement of an insert, its columns in the order of its marks (none: marks by name), and per column the
    conversion that the driver wants first."""
    names = [column.name for column in table.columns]
    statement = sa.insert(table).compile(dialect=dialect, column_keys=names)
    dates = {column.name: column.type for column in table.columns if isinstance(column.type, sa.Date)}
    found = {name: kind.dialect_impl(dialect).bind_processor(dialect) for name, kind in dates.items()}
    convert = {name: process for name, process in found.items() if process is not None}
    return str(statement), tuple(statement.positiontup or ()), convert


def insert_rows(connection: sa.Connection, table: sa.Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert whole rows (every column named) with one prepared statement: the log's hot path.

    SQLAlchemy compiles the statement once; the rows then go to the driver without its per-row parameter processing,
    which took most of the time of a push.
    """
    if not rows:
        return
    statement, order, convert = _insert_plan(table, connection.dialect)
    if convert:
        rows = [row | {name: process(row[name]) for name, process in convert.items()} for row in rows]
    values: Any = [tuple([row[name] for name in order]) for row in rows] if order else list(rows)
    connection.exec_driver_sql(statement, values)


def migrate(engine: sa.Engine) -> None:
    """Bring the tables to the newest version (numbered, additive steps)."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with writing(engine) as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(sa.text("SELECT pg_advisory_xact_lock(20260301)"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
