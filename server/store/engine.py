"""Opening the database: SQLite by default, PostgreSQL by its address, with the same transactions on both."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from operator import itemgetter
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

from server.store.unavailable import told_apart

USUAL_DATABASE: Final = f"sqlite:///{Path(__file__).resolve().parents[2] / 'instance' / 'pencilbag.sqlite'}"
BUSY_WAIT_S: Final = 30.0
"""How long a writer waits for another one before it gives up."""

CHUNK: Final = 500
"""Ids in one IN list: older builds of SQLite allow 999 parameters."""

MIGRATIONS: Final = Path(__file__).parent / "migrations"


def open_database(url: str, busy_wait_s: float = BUSY_WAIT_S) -> sa.Engine:
    """An engine on `url` (a SQLAlchemy address), its tables brought to the newest version.

    SQLite: write-ahead log, synchronous FULL, foreign keys on. `busy_wait_s`: how long one transaction waits for
    another; then it raises `server.store.unavailable.Busy`.
    """
    place = sa.make_url(url)
    if place.get_backend_name() == "sqlite" and place.database and place.database != ":memory:":
        Path(place.database).parent.mkdir(parents=True, exist_ok=True)
    if place.get_backend_name() == "postgresql":
        place = place.set(drivername="postgresql+psycopg")
    engine = sa.create_engine(place, **_options(place, busy_wait_s))
    if engine.dialect.name == "sqlite":
        sa.event.listen(engine, "connect", _prepare_sqlite)
    try:
        migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _options(place: sa.URL, busy_wait_s: float) -> dict[str, Any]:
    if place.get_backend_name() == "sqlite":
        return {"connect_args": {"timeout": busy_wait_s, "check_same_thread": False}}
    # 0 would mean to wait for ever.
    wait_ms = max(1, round(busy_wait_s * 1000))
    return {"pool_pre_ping": True, "connect_args": {"options": f"-c lock_timeout={wait_ms}"}}


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # The driver must not open transactions by itself: reading and writing begin them, each in its own way.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection that sees one state of the database from its first statement to its end. Raises Unavailable."""
    with told_apart(), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN")
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield connection
        connection.rollback()


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """One write transaction: committed at the end, rolled back whole on any error. Raises Unavailable."""
    with told_apart(), engine.connect() as connection:
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
    """Rows whose `key` is one of `ids`, however many: they go to the database as one list, one parameter."""
    sqlite = connection.dialect.name == "sqlite"
    return list(connection.execute(_listed(tuple(columns), key, sqlite), {"ids": json.dumps(ids) if sqlite else ids}))


@lru_cache(maxsize=64)
def _listed(columns: tuple[Any, ...], key: sa.ColumnElement[Any], sqlite: bool) -> sa.Select[Any]:
    ids: sa.BindParameter[Any]
    if sqlite:
        ids = sa.bindparam("ids", type_=sa.Text)
        return sa.select(*columns).where(key.in_(sa.select(sa.func.json_each(ids).table_valued("value").c.value)))
    ids = sa.bindparam("ids", type_=sa.ARRAY(sa.Text))
    return sa.select(*columns).where(key == sa.any_(ids))


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
    """Insert whole rows (every column named; what is no column is left out) with one prepared statement: the log's hot
    path.

    SQLAlchemy compiles the statement once; the rows then go to the driver without its per-row parameter processing,
    which took most of the time of a push.
    """
    if not rows:
        return
    statement, order, convert = _insert_plan(table, connection.dialect)
    if convert:
        rows = [row | {name: process(row[name]) for name, process in convert.items()} for row in rows]
    values: Any = list(map(itemgetter(*order), rows)) if order else list(rows)
    connection.exec_driver_sql(statement, values)


def migrate(engine: sa.Engine) -> None:
    """Bring the tables to the newest version (numbered, additive steps)."""
    config = _alembic()
    with writing(engine) as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(sa.text("SELECT pg_advisory_xact_lock(20260301)"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def known_versions() -> frozenset[str]:
    """The versions of the tables that this code can read: a backup of any other was made by newer code."""
    return frozenset(step.revision for step in ScriptDirectory.from_config(_alembic()).walk_revisions())


def _alembic() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config
