"""Errors with which the database refuses a transaction for the moment, distinguished from our own mistakes."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import sqlalchemy as sa

_SQLITE_BUSY: Final = frozenset({5, 6})
"""SQLITE_BUSY and SQLITE_LOCKED (sqlite.org/rescode.html); the lower eight bits of an extended code."""

_SQLITE_FULL: Final = 13
_SQLITE_BROKEN: Final = frozenset({8, 10, 14})
"""SQLITE_READONLY, SQLITE_IOERR, SQLITE_CANTOPEN: the file cannot be written or reached."""

_POSTGRESQL_BUSY: Final = frozenset({"55P03", "57014", "53300", "53400"})
"""Lock not available, query cancelled, too many connections, configuration limit (PostgreSQL manual, appendix A)."""

_POSTGRESQL_COLLIDED: Final = frozenset({"40001", "40P01"})
"""Serialisation failure, deadlock detected."""

_POSTGRESQL_FULL: Final = frozenset({"53100", "53200"})
"""Disk full, out of memory."""


class UnavailableError(RuntimeError):
    """The transaction could not be done now; sending the same again later is right and safe."""


class BusyError(UnavailableError):
    """Another transaction held the database longer than we wait. Nothing was stored."""


class CollisionError(BusyError):
    """Two transactions waited for each other, and this one was given up. Nothing was stored."""


class FullError(UnavailableError):
    """No room is left on the disk. Nothing was stored."""


class UnreachableError(UnavailableError):
    """The database cannot be reached or written. Whether the last transaction was stored is not known."""


@contextmanager
def translate_db_errors() -> Iterator[None]:
    """Turns the faults of the database that time can heal into `UnavailableError`; all others pass."""
    try:
        yield
    except sa.exc.TimeoutError as error:
        raise BusyError("every connection to the database is in use") from error
    except sa.exc.DBAPIError as error:
        known = _of(error)
        if known is None:
            raise
        raise known from error


def sqlite_code(error: BaseException | None) -> int:
    """The result code of SQLite in a fault of its driver, without what extends it (sqlite.org/rescode.html); 0 where
    there is none."""
    return (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF


@contextmanager
def suppress_read_only() -> Iterator[None]:
    """Pass over the refusal of SQLite to write to a file that is read-only."""
    try:
        yield
    except sqlite3.OperationalError as error:
        if sqlite_code(error) != sqlite3.SQLITE_READONLY:
            raise


def _of(error: sa.exc.DBAPIError) -> UnavailableError | None:
    """What the driver's fault means; None for a fault that waiting does not heal."""
    if code := sqlite_code(error.orig):
        return _of_sqlite(code)
    state = getattr(error.orig, "sqlstate", None)
    if state in _POSTGRESQL_COLLIDED:
        return CollisionError("two transactions waited for each other")
    if state in _POSTGRESQL_BUSY:
        return BusyError("the database is in use by another transaction")
    if state in _POSTGRESQL_FULL:
        return FullError("the database has no space")
    lost = error.connection_invalidated or str(state or "")[:2] in ("08", "57")
    if lost or (state is None and isinstance(error, sa.exc.OperationalError)):
        return UnreachableError("the database cannot be reached")
    return None


def _of_sqlite(code: int) -> UnavailableError | None:
    if code in _SQLITE_BUSY:
        return BusyError("the database is in use by another program")
    if code == _SQLITE_FULL:
        return FullError("the database has no space")
    if code in _SQLITE_BROKEN:
        return UnreachableError("the database file or the folder it lies in cannot be written")
    return None
