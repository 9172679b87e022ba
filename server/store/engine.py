"""Opening the database: SQLite by default, PostgreSQL by its address, with the same transactions on both."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache, lru_cache
from operator import itemgetter
from pathlib import Path
from typing import Any, Final, TypeAlias, TypeGuard

import sqlalchemy as sa

from server.store.journal_mode import WAL, set_journal_mode, without_log
from server.store.private_files import prepare_database_file
from server.store.unavailable import suppress_read_only, translate_db_errors

DEFAULT_DATABASE: Final = f"sqlite:///{Path(__file__).resolve().parents[2] / 'instance' / 'pencilbag.sqlite'}"
BUSY_WAIT_S: Final = 30.0
"""How long a writer waits for another one before it gives up."""

POOL_KEPT: Final = 4
POOL_MORE: Final = 8
"""Connections to PostgreSQL that one process keeps open, and how many more it opens when all of them are in use."""

CHUNK: Final = 500
"""Ids in one IN list: older builds of SQLite allow 999 parameters."""

MIGRATIONS: Final = Path(__file__).parent / "migrations"


UPGRADE: Final = "upgrade"
REFUSE: Final = "refuse"
LEAVE: Final = "leave"
"""What becomes of tables of an earlier step when a database is opened."""


class OldTablesError(Exception):
    """The tables are of an earlier step, and the caller did not ask to change them."""

    def __init__(self, version: str, newest: str) -> None:
        super().__init__(f"its tables are of step {version}, this version needs {newest}")


class MigrationError(RuntimeError):
    """The tables cannot be brought to the newest step, with the reason."""


class NoDatabaseError(LookupError):
    """There is no database of this tool at an address, and the caller did not ask for a new one."""


def open_database(
    url: str, busy_wait_s: float = BUSY_WAIT_S, *, create: bool = True, older: str = UPGRADE
) -> sa.Engine:
    """An engine on `url` (a SQLAlchemy address), its tables of the newest step.

    `older`: what becomes of tables of an earlier step: UPGRADE, REFUSE (OldTablesError, nothing is touched) or LEAVE.

    SQLite: its file and those beside it are the owner's alone; write-ahead log, synchronous FULL, foreign keys on.
    `busy_wait_s`: how long one transaction waits for another; then BusyError of `server.store.unavailable` is raised.
    Without `create` a missing file, or a database without our tables, raises NoDatabaseError; nothing is touched.
    """
    place = sa.make_url(url)
    file = Path(place.database) if place.get_backend_name() == "sqlite" and _is_file(place.database) else None
    if file and create:
        prepare_database_file(file, own_folder=url == DEFAULT_DATABASE)
    elif file and not (file.is_file() and file.stat().st_size):
        raise NoDatabaseError(str(file))
    if place.get_backend_name() == "postgresql":
        place = place.set(drivername="postgresql+psycopg")
    engine = sa.create_engine(place, **_options(place, busy_wait_s))
    try:
        version = _version(engine)
        if version is None and not create:
            raise NoDatabaseError(str(file or place.render_as_string()))
        if older == REFUSE and version not in (None, steps()[-1]):
            raise OldTablesError(str(version), steps()[-1])
        if engine.dialect.name == "sqlite":
            # Only now: both of these already change a database that may be another program's.
            engine.dispose()
            if file and not create:
                prepare_database_file(file, own_folder=url == DEFAULT_DATABASE)
            sa.event.listen(engine, "connect", _prepare_sqlite)
        # Tables of the newest version need no writer: they can be read while another writes, and from a file that
        # cannot be written.
        if version != steps()[-1] and (older == UPGRADE or version is None):
            migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _is_file(database: str | None) -> TypeGuard[str]:
    return bool(database) and database != ":memory:"


def _version(engine: sa.Engine) -> str | None:
    """The version of the tables that are there; None where there are none of ours."""
    with translate_db_errors(), engine.connect() as connection:
        return step_of(connection)


def step_of(connection: sa.Connection) -> str | None:
    """The migration step that the tables are at; None where there are none of ours."""
    if not sa.inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    return found


@cache
def steps() -> tuple[str, ...]:
    """Every migration step that this code knows, the first one first. Looked up without alembic, whose import takes as
    long as a small answer."""
    return tuple(sorted(path.name[:4] for path in (MIGRATIONS / "versions").glob("[0-9]*.py")))


def _options(place: sa.URL, busy_wait_s: float) -> dict[str, Any]:
    if place.get_backend_name() == "sqlite":
        return {"connect_args": {"timeout": busy_wait_s, "check_same_thread": False}}
    # 0 would mean to wait for ever.
    wait_ms = max(1, round(busy_wait_s * 1000))
    pool = {"pool_size": POOL_KEPT, "max_overflow": POOL_MORE, "pool_timeout": max(busy_wait_s, 1.0)}
    return pool | {"pool_pre_ping": True, "connect_args": {"options": f"-c lock_timeout={wait_ms}"}}


_PAGE: Final = 8_192
"""Bytes of a page of a new SQLite file; one that is there keeps its own. SQLite looks each page that it writes up in
its write-ahead log, and the longer one transaction is the longer it looks: half as many pages cost a large import a
quarter of that. Larger ones cost a push to a long log more, which touches a page for each of its ids."""


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # The driver must not open transactions by itself: reading and writing begin them, each in its own way.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA page_size={_PAGE}")
    # A file that cannot be written keeps its way of writing, and can be read.
    with suppress_read_only():
        set_journal_mode(connection, WAL)
    for pragma in ("synchronous=FULL", "foreign_keys=ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection that sees one state of the database from its first statement to its end. Raises UnavailableError."""
    with translate_db_errors(), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN")
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield connection
        connection.rollback()


@contextmanager
def writing(engine: sa.Engine, *, into_empty: bool = False) -> Iterator[sa.Connection]:
    """One write transaction: committed at the end, rolled back on any error. Raises UnavailableError. `into_empty`:
    the database holds nothing yet that others could want to read meanwhile; see `without_log`."""
    log = without_log if into_empty else nullcontext
    with translate_db_errors(), engine.connect() as connection, log(connection):
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        try:
            yield connection
            connection.commit()
        except BaseException:
            connection.rollback()
            raise


_ROOM_KB: Final = 64_000
"""What SQLite may hold of a database in memory while very much is stored."""


_SORTED_KB: Final = 16_000
"""What SQLite may hold of a database while an index is made, and as much again of the keys that it sorts."""


@contextmanager
def roomy(connection: sa.Connection) -> Iterator[None]:
    """Give SQLite more memory for a while: ids come in no order, and each new one touches another page of an index.
    PostgreSQL's memory is the server's."""
    if connection.dialect.name != "sqlite":
        yield
        return
    usual = connection.exec_driver_sql("PRAGMA cache_size").scalar_one()
    connection.exec_driver_sql(f"PRAGMA cache_size=-{_ROOM_KB}")
    try:
        yield
    finally:
        if not connection.invalidated:
            connection.exec_driver_sql(f"PRAGMA cache_size={usual}")


@contextmanager
def unindexed(connection: sa.Connection, names: Collection[str]) -> Iterator[bool]:
    """Take these indexes away, and make them again at the end, in the same transaction: SQLite sorts for that, where
    each row that comes alone touches a page somewhere in each of them. Whoever reads meanwhile still has them, and a
    unique one refuses what is there twice when it is made. Whether they are away: PostgreSQL would make the readers
    wait."""
    if connection.dialect.name != "sqlite":
        yield False
        return
    words_of = sa.text("SELECT name, sql FROM sqlite_master WHERE type = 'index'")
    found = {row.name: row.sql for row in connection.execute(words_of) if row.name in names}
    for name in found:
        connection.exec_driver_sql(f'DROP INDEX "{name}"')
    # sorting takes memory of its own, as much as this allows when an index is made
    connection.exec_driver_sql(f"PRAGMA cache_size=-{_ROOM_KB - _SORTED_KB}")
    yield True
    connection.exec_driver_sql(f"PRAGMA cache_size=-{_SORTED_KB}")
    for words in found.values():
        connection.exec_driver_sql(words)


def select_in(
    connection: sa.Connection,
    columns: Sequence[Any],
    key: sa.ColumnElement[Any],
    ids: Sequence[str],
    of: str | None = None,
) -> list[Any]:
    """Rows whose `key` is one of `ids`, however many: they go to the database as one list, one parameter. `of`: those
    of this player alone, for keys that follow the player in an index."""
    if not ids:
        return []
    sqlite = connection.dialect.name == "sqlite"
    query = listed(tuple(columns), key, sqlite, of is not None)
    values = {"ids": json.dumps(ids) if sqlite else ids} | ({} if of is None else {"of": of})
    return list(connection.execute(query, values))


@lru_cache(maxsize=64)
def listed(columns: tuple[Any, ...], key: Any, sqlite: bool, of_player: bool) -> sa.Select[Any]:
    """The query of `select_in`."""
    query = sa.select(*columns)
    if of_player:
        query = query.where(key.table.c.player_id == sa.bindparam("of"))
    if sqlite:
        ids = sa.bindparam("ids", type_=sa.Text)
        return query.where(key.in_(sa.select(sa.func.json_each(ids).table_valued("value").c.value)))
    return query.where(key == sa.any_(sa.bindparam("ids", type_=sa.ARRAY(sa.Text))))


@lru_cache(maxsize=16)
def among(key: sa.ColumnElement[Any]) -> sa.Select[Any]:
    """SQLite: of the `ids` of a list, one parameter, those that some row has as its `key`. It looks for each in turn;
    `listed`, which gives rows in the order of their keys, sorts the ids first."""
    value = sa.func.json_each(sa.bindparam("ids", type_=sa.Text)).table_valued("value").c.value
    return sa.select(value).where(sa.exists().where(key == value))


_NOTHING: Final = 1e300
"""Replaces NULL on its way to SQLite, whose driver in Python takes five times as long over None as over a number: a
number that no column holds."""
_BITS: Final = {True: 1, False: 0, None: None}


class _InsertPlan:
    """What inserts into one table need: `optional`, the columns that may be left out where no row fills them, and per
    column the conversion that the driver wants first."""

    def __init__(self, table: sa.Table, dialect: sa.Dialect) -> None:
        self.table, self.dialect = table, dialect
        self.names = tuple(column.name for column in table.columns)
        self.values = itemgetter(*self.names)
        self.optional = {column.name for column in table.columns if column.nullable and column.server_default is None}
        typed = {c.name: c.type for c in table.columns if isinstance(c.type, sa.Date | sa.Boolean)}
        found = {name: kind.dialect_impl(dialect).bind_processor(dialect) for name, kind in typed.items()}
        self.convert: dict[str, Callable[[Any], Any]] = {
            name: process for name, process in found.items() if process is not None
        }
        self.sqlite = dialect.name == "sqlite"
        if self.sqlite:
            flags = (name for name, kind in typed.items() if isinstance(kind, sa.Boolean))
            self.convert.update((name, _BITS.__getitem__) for name in flags)
        self._statements: dict[tuple[tuple[str, ...], frozenset[str]], tuple[str, bool]] = {}

    def statement(self, names: tuple[str, ...], gaps: frozenset[str]) -> tuple[str, bool]:
        """The statement that fills these columns, and whether its marks are in their order (not by name). `gaps`:
        columns that may hold `_NOTHING`."""
        if (names, gaps) not in self._statements:
            compiled = sa.insert(self.table).compile(dialect=self.dialect, column_keys=list(names))
            order = tuple(compiled.positiontup or ())
            assert order in ((), names), "marks stand in the order of the columns"
            words = str(compiled)
            if gaps:
                marks = (f"nullif(?, {_NOTHING!r})" if name in gaps else "?" for name in names)
                words = f"{words[: words.rindex('(')]}({', '.join(marks)})"
            self._statements[names, gaps] = (words, bool(order))
        return self._statements[names, gaps]


@lru_cache(maxsize=64)
def _insert_plan(table: sa.Table, dialect: sa.Dialect) -> _InsertPlan:
    return _InsertPlan(table, dialect)


NewRow: TypeAlias = Mapping[str, Any]
"""A row to be inserted into some table: values by the names of its columns."""


@dataclass(frozen=True)
class Ready:
    """Rows as the driver takes them, by their columns, with the statement for them. `in_order`: its marks are in
    the order of the columns, not by name."""

    statement: str
    columns: Mapping[str, Sequence[Any]]
    in_order: bool


def ready_rows(dialect: sa.Dialect, table: sa.Table, rows: Sequence[NewRow]) -> Ready:
    """Make full rows (every column named; what is no column is left out) ready to be inserted.

    SQLAlchemy compiles the statement once; the rows then go to the driver column by column, without its per-row
    parameter processing, which took most of the time of a push. Columns that no row fills are not sent: Python's
    SQLite driver takes far longer over None (and over true and false) than over text and numbers.
    """
    plan = _insert_plan(table, dialect)
    return _ready(plan, dict(zip(plan.names, zip(*map(plan.values, rows), strict=True), strict=True)))


def ready_columns(dialect: sa.Dialect, table: sa.Table, columns: Mapping[str, Sequence[Any]]) -> Ready:
    """`ready_rows` of rows that come as columns."""
    plan = _insert_plan(table, dialect)
    return _ready(plan, {name: columns[name] for name in plan.names})


def _ready(plan: _InsertPlan, full: Mapping[str, Sequence[Any]]) -> Ready:
    columns: dict[str, Sequence[Any]] = {}
    gaps = set()
    for name, values in full.items():
        missing = values.count(None) if name in plan.optional else 0
        if missing and missing == len(values):
            continue
        process = plan.convert.get(name)
        columns[name] = values if process is None else list(map(process, values))
        if missing and plan.sqlite:
            columns[name] = [_NOTHING if value is None else value for value in columns[name]]
            gaps.add(name)
    statement, in_order = plan.statement(tuple(columns), frozenset(gaps))
    return Ready(statement, columns, in_order)


def insert_ready(connection: sa.Connection, ready: Ready) -> None:
    """Insert rows that are ready."""
    sent: Any = list(zip(*ready.columns.values(), strict=True))
    if not ready.in_order:
        sent = [dict(zip(ready.columns, one, strict=True)) for one in sent]
    connection.exec_driver_sql(ready.statement, sent)


def insert_rows(connection: sa.Connection, table: sa.Table, rows: Sequence[NewRow]) -> None:
    """Insert full rows with one prepared statement: the log's hot path. See `ready_rows`."""
    if rows:
        insert_ready(connection, ready_rows(connection.dialect, table, rows))


def migrate(engine: sa.Engine) -> None:
    """Bring the tables to the newest version, in numbered steps and one transaction. A server of an older version that
    still runs may find a table gone: stop it first. Raises MigrationError for a step that nobody here knows."""
    from alembic import command  # noqa: PLC0415 - only where there is something to do
    from alembic.util import CommandError  # noqa: PLC0415

    config = alembic_config()
    with writing(engine) as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(sa.text("SELECT pg_advisory_xact_lock(20260301)"))
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, "head")
        except CommandError as error:
            raise MigrationError(str(error)) from error


def alembic_config() -> Any:
    """What alembic is to know: where the steps are."""
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config
