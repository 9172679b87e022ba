"""Backup and restore of the whole database, and the mark that says that a server is running on it."""

from __future__ import annotations

import fcntl
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from server.store.engine import migrate

SERVING_KEY: Final = 20260302
"""The PostgreSQL advisory lock that a running server shares and a restore wants for itself."""

NEEDED_TABLES: Final = frozenset({"alembic_version", "change", "player", "record"})


class Refused(RuntimeError):
    """A backup or a restore that cannot be done, with the reason."""


@contextmanager
def serving(engine: sa.Engine) -> Iterator[None]:
    """Mark the database as served. Many servers may share it; a restore may not come between. Raises Refused while one
    is at work."""
    with _mark(engine, shared=True):
        yield


@contextmanager
def _mark(engine: sa.Engine, *, shared: bool) -> Iterator[None]:
    if engine.dialect.name == "sqlite":
        with _file_mark(_sqlite_path(engine), shared):
            yield
        return
    name = "pg_try_advisory_lock_shared" if shared else "pg_try_advisory_lock"
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        if not connection.execute(sa.text(f"SELECT {name}({SERVING_KEY})")).scalar():
            raise Refused(_busy(shared))
        yield


@contextmanager
def _file_mark(database: Path, shared: bool) -> Iterator[None]:
    mark = database.with_name(database.name + ".serving")
    with mark.open("a") as file:
        try:
            fcntl.flock(file, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Refused(_busy(shared)) from error
        yield


def _busy(shared: bool) -> str:
    return "a restore is at work on this database" if shared else "a server is running on this database; stop it first"


def _sqlite_path(engine: sa.Engine) -> Path:
    return Path(engine.url.database or "")


def backup(engine: sa.Engine, target: Path) -> None:
    """Write the whole database to `target`, complete or not at all, while servers go on. Raises Refused."""
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        if engine.dialect.name == "sqlite":
            _copy_sqlite(_sqlite_path(engine), part)
            _check_sqlite(part)
        else:
            _run_postgres("pg_dump", engine, ["--format=custom", "--file", str(part)])
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def restore(engine: sa.Engine, source: Path) -> None:
    """Replace the whole database by a backup, in one transaction, after a check of the backup. Raises Refused."""
    with _mark(engine, shared=False):
        if engine.dialect.name == "sqlite":
            _check_sqlite(source)
            engine.dispose()
            _copy_sqlite(source, _sqlite_path(engine))
        else:
            _check_dump(source)
            options = ["--clean", "--if-exists", "--no-owner", "--single-transaction", "--exit-on-error"]
            _run_postgres("pg_restore", engine, [*options, str(source)])
            engine.dispose()
        migrate(engine)


def _copy_sqlite(source: Path, target: Path) -> None:
    """SQLite's online backup: the copy is one state of the source, and a target is replaced in one transaction."""
    with closing(sqlite3.connect(source)) as reading, closing(sqlite3.connect(target, timeout=30)) as writing:
        reading.backup(writing)


def _check_sqlite(path: Path) -> None:
    """Raise Refused unless `path` is a sound database of ours."""
    if not path.is_file():
        raise Refused(f"{path} is not a file")
    try:
        with closing(sqlite3.connect(f"file:{path.resolve()}?mode=ro", uri=True)) as database:
            found = database.execute("PRAGMA integrity_check").fetchall()
            tables = {row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.DatabaseError as error:
        raise Refused(f"{path.name} is not a sound database: {error}") from error
    if found != [("ok",)]:
        raise Refused(f"{path.name} is damaged: {found[0][0]}")
    if not tables >= NEEDED_TABLES:
        raise Refused(f"{path.name} is not a backup of this tool: table {min(NEEDED_TABLES - tables)} is missing")


def _check_dump(path: Path) -> None:
    if not path.is_file():
        raise Refused(f"{path} is not a file")
    listed = _run([_program("pg_restore"), "--list", str(path)], {})
    if " change " not in listed:
        raise Refused(f"{path.name} is not a backup of this tool")


def _run_postgres(name: str, engine: sa.Engine, options: list[str]) -> None:
    url = engine.url
    query: dict[str, Any] = dict(url.query)
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
        raise Refused(f"{name} is needed; install Debian's postgresql-client")
    return found


def _run(command: list[str], environment: dict[str, str]) -> str:
    done = subprocess.run(command, env=os.environ | environment, capture_output=True, text=True, check=False)
    if done.returncode:
        lines = done.stderr.strip().splitlines() or [f"{command[0]} failed"]
        raise Refused(lines[-1])
    return done.stdout
