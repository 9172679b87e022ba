"""Much that comes into an empty SQLite file is written with a rollback journal, if nobody else has the file open."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store.cursors import START
from server.store.engine import open_database, reading, roomy, writing
from server.store.tables import PLAYER
from server.store.unavailable import BusyError

FULL, EXTRA = 2, 3
"""With a rollback journal EXTRA alone waits until the end of the journal is on the disk, which is the commit
(sqlite.org/pragma.html#pragma_synchronous)."""
ONE = {"player_id": "p", "last_seq": 0, "chain": START, "created_at": "2026-05-01T09:30:00.000Z"}


@pytest.fixture
def url(new_database: Callable[[str, Path], str], tmp_path: Path) -> str:
    return new_database("sqlite", tmp_path)


def mode(connection: sa.Connection) -> str:
    return str(connection.exec_driver_sql("PRAGMA journal_mode").scalar_one())


def synchronous(connection: sa.Connection) -> int:
    return int(connection.exec_driver_sql("PRAGMA synchronous").scalar_one())


def stored(engine: sa.Engine) -> tuple[str, list[str]]:
    """How the file is written, and the players that are there."""
    with reading(engine) as connection:
        return mode(connection), list(connection.execute(sa.select(PLAYER.c.player_id)).scalars())


def test_it_has_a_journal_until_the_end_and_a_log_from_then_on(url: str, tmp_path: Path) -> None:
    engine = open_database(url)
    with writing(engine, into_empty=True) as connection:
        connection.execute(sa.insert(PLAYER), ONE)
        assert (mode(connection), synchronous(connection)) == ("delete", EXTRA)
        assert (tmp_path / "log.sqlite-journal").stat().st_mode & 0o777 == 0o600
    assert not (tmp_path / "log.sqlite-journal").exists()
    assert stored(engine) == ("wal", ["p"])
    with reading(engine) as connection:
        assert synchronous(connection) == FULL


def test_an_error_undoes_it(url: str) -> None:
    engine = open_database(url)
    with pytest.raises(sa.exc.IntegrityError), writing(engine, into_empty=True) as connection:
        connection.execute(sa.insert(PLAYER), [ONE, ONE])
    assert stored(engine) == ("wal", [])
    with writing(engine) as connection:
        connection.execute(sa.insert(PLAYER), ONE)
        assert mode(connection) == "wal"


def test_whoever_has_the_file_open_reads_on(url: str) -> None:
    engine, other = open_database(url), open_database(url)
    with reading(other) as reader:
        assert reader.execute(sa.select(PLAYER)).all() == []
        with writing(engine, into_empty=True) as connection:
            connection.execute(sa.insert(PLAYER), ONE)
            assert mode(connection) == "wal"
        assert reader.execute(sa.select(PLAYER)).all() == []
    assert stored(other) == ("wal", ["p"])


def test_whoever_comes_meanwhile_waits(url: str) -> None:
    engine = open_database(url)
    with writing(engine, into_empty=True) as connection:
        connection.execute(sa.insert(PLAYER), ONE)
        with pytest.raises(BusyError, match="in use by another program"):
            stored(open_database(url, busy_wait_s=0.05))
    assert stored(open_database(url)) == ("wal", ["p"])


@pytest.mark.parametrize("much", [False, True], ids=["held in memory", "in the file already"])
def test_whoever_comes_meanwhile_finds_it_when_it_is_stored(url: str, much: bool) -> None:
    engine = open_database(url)
    found: list[tuple[str, list[str]]] = []
    thread = threading.Thread(target=lambda: found.append(stored(open_database(url))))
    rows = [ONE | {"player_id": f"p{number:04}"} for number in range(2_000 if much else 1)]
    with writing(engine, into_empty=True) as connection:
        if much:
            connection.exec_driver_sql("PRAGMA cache_size=10")
        connection.execute(sa.insert(PLAYER), rows)
        thread.start()
        thread.join(0.3)
        assert thread.is_alive()
    thread.join(30)
    assert found == [("wal", [row["player_id"] for row in rows])]


def test_ctrl_c_ends_it_at_once_and_leaves_nothing(url: str) -> None:
    engine = open_database(url)

    def interrupted(_cursor: object, statement: str, *_: object) -> None:
        if statement.startswith("SELECT"):
            raise KeyboardInterrupt

    def interrupt() -> None:
        with writing(engine, into_empty=True) as connection, roomy(connection):
            connection.execute(sa.insert(PLAYER), ONE)
            connection.execute(sa.select(PLAYER))

    sa.event.listen(engine, "do_execute", interrupted)
    with pytest.raises(KeyboardInterrupt):
        interrupt()
    assert stored(open_database(url, busy_wait_s=0.05)) == ("wal", [])
