"""Backup and restore of the database, and the mark that shows that a server is running on it."""

from __future__ import annotations

import fcntl
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final
from urllib.parse import quote

import sqlalchemy as sa

import server.store.account_tables  # noqa: F401  (its tables are of METADATA too)
from server.store.engine import migrate, steps
from server.store.journal_mode import DELETE, is_busy, set_journal_mode
from server.store.places import KEEP_PLACES, PLACE_TABLE, is_partitioned
from server.store.private_files import open_private, to_disk
from server.store.tables import METADATA

SERVING_KEY: Final = 20260302
"""The PostgreSQL advisory lock that a running server shares and a restore wants for itself."""

RESTORE_WAIT_S: Final = 30.0
"""How long a copy waits for a program that holds the file."""

_IN_USE: Final = "the database is in use by another program; stop it first"

NEEDED_TABLES: Final = frozenset({"alembic_version", "change", "player", "shot"})


class BackupError(RuntimeError):
    """A backup or a restore that cannot be done, with the reason."""


@contextmanager
def serving(engine: sa.Engine) -> Iterator[None]:
    """Mark the database as served. Many servers may share it; a restore may not come between. Raises BackupError
    while one is at work."""
    with _mark(engine, shared=True):
        yield


@contextmanager
def alone(engine: sa.Engine) -> Iterator[None]:
    """Nobody serves the database meanwhile. Raises BackupError while a server is at work."""
    with _mark(engine, shared=False):
        yield


@contextmanager
def _mark(engine: sa.Engine, *, shared: bool) -> Iterator[None]:
    if engine.dialect.name == "sqlite":
        with _file_mark(_sqlite_path(engine), shared):
            yield
        return
    sort = "_shared" if shared else ""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        # The lock is the session's: out of the pool, so that it ends with the session at the latest.
        connection.detach()
        if not connection.execute(sa.text(f"SELECT pg_try_advisory_lock{sort}({SERVING_KEY})")).scalar():
            raise BackupError(_busy(shared))
        try:
            yield
        finally:
            with suppress(sa.exc.DBAPIError):
                connection.execute(sa.text(f"SELECT pg_advisory_unlock{sort}({SERVING_KEY})"))


@contextmanager
def _file_mark(database: Path, shared: bool) -> Iterator[None]:
    mark = database.with_name(database.name + ".serving")
    try:
        opened = open_private(mark, "a")
    except OSError as error:
        raise BackupError(f"{mark} cannot be written: {error.strerror or error}") from error
    with opened as file:
        try:
            fcntl.flock(file, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise BackupError(_busy(shared)) from error
        yield


def _busy(shared: bool) -> str:
    return "a restore is at work on this database" if shared else "a server is running on this database; stop it first"


def _sqlite_path(engine: sa.Engine) -> Path:
    return Path(engine.url.database or "")


def backup(engine: sa.Engine, target: Path) -> None:
    """Write the entire database to `target`, for its owner alone, complete or not at all, while servers go on. Raises
    BackupError."""
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        open_private(part, "xb").close()
        if engine.dialect.name == "sqlite":
            _copy_sqlite(_sqlite_path(engine), part, single_file=True)
            _check_sqlite(part)
        else:
            _run_postgres("pg_dump", engine, ["--format=custom", "--file", str(part)])
            _check_dump(part)
        to_disk(part)
        part.replace(target)
        to_disk(target.parent)
    except OSError as error:
        raise BackupError(f"{target} cannot be written: {error.strerror or error}") from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def restore(engine: sa.Engine, source: Path) -> None:
    """Replace the database by a backup, in one transaction, after a check of the backup. Raises BackupError."""
    if not source.is_file():
        raise BackupError(f"{source} is not a file")
    with alone(engine):
        if engine.dialect.name == "sqlite":
            database = _sqlite_path(engine)
            if source.samefile(database):
                raise BackupError(f"{source} is the database itself")
            _check_sqlite(source)
            engine.dispose()
            _copy_sqlite(source, database)
        else:
            _restore_dump(engine, source, _check_dump(source))
            engine.dispose()
        migrate(engine)


def copy_of_sqlite(engine: sa.Engine, target: Path) -> None:
    """One state of a SQLite database as a file for its owner alone, to be read and thrown away. Raises BackupError and
    OSError."""
    target.unlink(missing_ok=True)
    open_private(target, "xb").close()
    _copy_sqlite(_sqlite_path(engine), target, single_file=True)


def _copy_sqlite(source: Path, target: Path, *, single_file: bool = False) -> None:
    """SQLite's online backup: the copy is one state of the source, and a target is replaced in one transaction.

    `single_file`: the copy needs no write-ahead log beside it, so that it can be read from anywhere.
    """
    try:
        with (
            closing(sqlite3.connect(source)) as reading,
            closing(sqlite3.connect(target, timeout=RESTORE_WAIT_S)) as writing,
        ):
            if not single_file and _page_size(reading) != _page_size(writing):
                # SQLite changes the size of pages in a rollback journal only
                set_journal_mode(writing, DELETE)
            reading.backup(writing, progress=_give_up_when_held)
            if single_file:
                set_journal_mode(writing, DELETE)
    except sqlite3.Error as error:
        if is_busy(error):
            raise BackupError(_IN_USE) from error
        raise BackupError(f"{target.name} cannot be written: {error}") from error


def _give_up_when_held(status: int, _remaining: int, _total: int) -> None:
    """Python's backup would try for ever; the connection has waited already."""
    if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        raise BackupError(_IN_USE)


def _page_size(database: sqlite3.Connection) -> int:
    found: int = database.execute("PRAGMA page_size").fetchone()[0]
    return found


def _check_sqlite(path: Path) -> None:
    """Raise BackupError unless `path` is a sound database of ours, of a version that this code knows."""
    try:
        with closing(sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True)) as database:
            found = database.execute("PRAGMA integrity_check").fetchall()
            tables = {row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if found != [("ok",)]:
                raise BackupError(f"{path.name} is damaged: {found[0][0]}")
            if not tables >= NEEDED_TABLES:
                missing = min(NEEDED_TABLES - tables)
                raise BackupError(f"{path.name} is not a backup of this tool: table {missing} is missing")
            versions = {str(row[0]) for row in database.execute("SELECT version_num FROM alembic_version")}
    except sqlite3.DatabaseError as error:
        raise BackupError(f"{path.name} is not a sound database: {error}") from error
    _check_version(path, versions)


def _check_version(path: Path, versions: set[str]) -> None:
    if len(versions) != 1 or not versions <= set(steps()):
        shown = ", ".join(sorted(versions)) or "none"
        raise BackupError(
            f"{path.name} has tables of a version ({shown}) that this server does not know; use a newer server"
        )


def _restore_dump(engine: sa.Engine, source: Path, tables: set[str]) -> None:
    """Replace everything by the dump, which holds `tables`. Tables that are younger than the dump go too, in the same
    transaction: the steps behind it make them again, and would stumble over them. So does a log that is partitioned,
    here or in the dump: what makes it one table or several parts is no table that could be replaced by its name."""
    gone = [f'DROP TABLE IF EXISTS "{name}" CASCADE;' for name in sorted(METADATA.tables.keys() - tables)]
    options = ["--clean", "--if-exists", "--no-owner"]
    with engine.connect() as connection:
        if PLACE_TABLE in tables or is_partitioned(connection):
            gone += [f"DROP TABLE IF EXISTS change, {PLACE_TABLE};", f"DROP FUNCTION IF EXISTS {KEEP_PLACES}();"]
    if not gone:
        _run_postgres("pg_restore", engine, [*options, "--single-transaction", "--exit-on-error", str(source)])
        return
    with TemporaryDirectory() as folder:
        first, second = Path(folder) / "younger.sql", Path(folder) / "dump.sql"
        first.write_text("\n".join(gone))
        _run([_program("pg_restore"), *options, "--file", str(second), str(source)], {})
        words = ["--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1"]
        _run_postgres("psql", engine, [*words, "--file", str(first), "--file", str(second)])


def _check_dump(path: Path) -> set[str]:
    """The tables in a dump. Raises BackupError unless it is a complete dump of ours, of a version known here."""
    listed = _run([_program("pg_restore"), "--list", str(path)], {})
    tables = {words[5] for words in map(str.split, listed.splitlines()) if words[3:4] == ["TABLE"] and len(words) > 5}
    if not tables >= NEEDED_TABLES:
        missing = min(NEEDED_TABLES - tables)
        raise BackupError(f"{path.name} is not a backup of this tool: table {missing} is missing")
    # Written out to nowhere, every row is read once: a file that was cut off is found before anything is touched.
    _run([_program("pg_restore"), "--file", os.devnull, str(path)], {})
    version = _run([_program("pg_restore"), "--data-only", "--table=alembic_version", "--file=-", str(path)], {})
    _, _, rows = version.partition("FROM stdin;\n")
    _check_version(path, {row for row in rows.partition("\\.")[0].splitlines() if row})
    return tables


def _run_postgres(name: str, engine: sa.Engine, options: list[str]) -> None:
    url = engine.url
    query = url.query
    wanted = {
        "PGHOST": url.host or query.get("host"),
        "PGPORT": str(url.port or query.get("port") or ""),
        "PGUSER": url.username or query.get("user"),
        "PGPASSWORD": url.password,
        "PGDATABASE": url.database or query.get("dbname"),
    }
    environment = {key: str(value) for key, value in wanted.items() if value}
    database = ["--dbname", environment["PGDATABASE"]] if name == "pg_restore" else []
    _run([_program(name), *database, *options], environment)


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise BackupError(f"{name} is needed; install Debian's postgresql-client")
    return found


def _run(command: list[str], environment: dict[str, str]) -> str:
    done = subprocess.run(command, env=os.environ | environment, capture_output=True, text=True, check=False)
    if done.returncode:
        lines = done.stderr.strip().splitlines() or [f"{command[0]} failed"]
        raise BackupError(next((line for line in lines if "error:" in line), lines[-1]))
    return done.stdout
