"""One state of the database that several processes read, on this machine or others.

PostgreSQL: a transaction exports its snapshot, and the others take it up while that one lasts. SQLite knows nothing of
the kind: a copy is one state for whoever can read the file.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from server.store.backup import BackupError, copy_of_sqlite
from server.store.engine import REFUSE, open_database, reading
from server.store.unavailable import translate_db_errors

_COPY: Final = "state.sqlite"


class StateError(RuntimeError):
    """The shared state cannot be read from here, with the reason."""


@dataclass(frozen=True)
class SharedState:
    """Where the state is: the file of a copy, or a snapshot of the PostgreSQL database that each process knows the
    address of by itself. No password travels."""

    copy: str | None = None
    snapshot: str | None = None


@contextmanager
def shared_state(engine: sa.Engine, folder: Path) -> Iterator[tuple[sa.Connection, SharedState]]:
    """A connection that reads one state, and how others read the same while this lasts. `folder`: where the copy of a
    SQLite database lies meanwhile. Raises OSError when there is no room for it, and UnavailableError."""
    if engine.dialect.name != "sqlite":
        with reading(engine) as connection:
            snapshot = connection.exec_driver_sql("SELECT pg_export_snapshot()").scalar_one()
            yield connection, SharedState(snapshot=str(snapshot))
        return
    place = folder / _COPY
    try:
        copy_of_sqlite(engine, place)
        state = SharedState(copy=str(place.resolve()))
        with joined(state, "") as connection:
            yield connection, state
    except BackupError as error:
        raise OSError(None, str(error)) from error
    finally:
        place.unlink(missing_ok=True)


@contextmanager
def joined(state: SharedState, address: str) -> Iterator[sa.Connection]:
    """A connection that reads the state. `address`: of the PostgreSQL database, as this process knows it. Raises
    StateError when the state is not to be had there, and what `open_database` raises."""
    if state.copy is not None and not Path(state.copy).is_file():
        raise StateError(f"the copy of the database, {state.copy}, is not to be seen from here")
    if state.copy is None and sa.make_url(address).get_backend_name() != "postgresql":
        raise StateError("its database is SQLite, the export's is PostgreSQL")
    engine = open_database(f"sqlite:///{state.copy}" if state.copy else address, create=False, older=REFUSE)
    try:
        if state.snapshot is None:
            with reading(engine) as connection:
                yield connection
            return
        with translate_db_errors(), engine.connect() as connection:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            try:
                # a snapshot is no parameter of this statement
                connection.exec_driver_sql(f"SET TRANSACTION SNAPSHOT '{_plain(state.snapshot)}'")
            except sa.exc.DBAPIError as error:
                raise StateError("its database does not know the snapshot of the export: it is another one") from error
            yield connection
            connection.rollback()
    finally:
        engine.dispose()


def _plain(snapshot: str) -> str:
    """The name of a snapshot, which has only letters, digits and lines. ValueError for another one."""
    if not snapshot.replace("-", "").isalnum():
        raise ValueError(f"snapshot: {snapshot!r} is no name of a snapshot")
    return snapshot
