"""What an import keeps on disk while it checks: rows by player, ids that the table names, what is ready to be stored.

A database of its own, in a file without a name: this process alone can reach it, and it is gone with the process,
however that ends. It is cut loose as soon as it is opened, journals nothing and waits for no disk.
"""

from __future__ import annotations

import os
import pickle
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Self

import sqlalchemy as sa

from server.store.collecting import uncollected
from server.store.prepared import Prepared
from server.store.unavailable import FullError, sqlite_code

_TABLES: Final = (
    "CREATE TABLE piece (player INTEGER, file INTEGER, held BLOB)",
    "CREATE TABLE named (record BLOB, player INTEGER)",
    "CREATE TABLE ready (player INTEGER PRIMARY KEY, held BLOB)",
)
_PAGE: Final = 16_384
"""Bytes of a page: what is kept comes in pieces of many thousand bytes, which pages of 4 kB would chain one by one."""
_SETTINGS: Final = (
    *(f"page_size={_PAGE}", "cache_size=-8000"),
    *("journal_mode=OFF", "synchronous=OFF", "locking_mode=EXCLUSIVE"),
)
_NO_ROOM: Final = frozenset({sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN})


def staging_folder(engine: sa.Engine) -> Path:
    """Beside the database where that is a file of SQLite, for what comes into it needs room there too; else the folder
    for temporary files (TMPDIR)."""
    place = engine.url.database
    if engine.dialect.name == "sqlite" and place and place != ":memory:":
        return Path(place).absolute().parent
    return Path(tempfile.gettempdir())


class Staging:
    """The file. Every method raises FullError where no room is left. `most_bytes`: None: the disk's."""

    def __init__(self, folder: Path, most_bytes: int | None = None) -> None:
        self._folder = folder
        with self._in_words():
            handle, name = tempfile.mkstemp(prefix=".pencilbag-import-", dir=folder)
            os.close(handle)
            self._held = sqlite3.connect(name, isolation_level=None)
            for setting in (*_SETTINGS, *([f"max_page_count={most_bytes // _PAGE}"] if most_bytes else ())):
                self._held.execute(f"PRAGMA {setting}")
            for table in _TABLES:
                self._held.execute(table)
            Path(name).unlink()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._held.close()

    @contextmanager
    def _in_words(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            if sqlite_code(error) not in _NO_ROOM:
                raise
            raise self._full(error) from error
        except OSError as error:
            raise self._full(error) from error

    def _full(self, error: Exception) -> FullError:
        words = f"no room is left in {self._folder}, where an import keeps its rows while it checks: {error}"
        return FullError(f"{words}; nothing was stored")

    def keep_piece(self, player: int, file: int, rows: Any) -> None:
        """Rows of one player from one file, some of them."""
        with self._in_words():
            self._held.execute("INSERT INTO piece VALUES (?, ?, ?)", (player, file, pickle.dumps(rows, -1)))

    def keep_named(self, player: int, records: Iterable[bytes]) -> None:
        """Ids that rows of one player give their records."""
        with self._in_words():
            self._held.execute("BEGIN")
            self._held.executemany("INSERT INTO named VALUES (?, ?)", ((record, player) for record in records))
            self._held.execute("COMMIT")

    def sort(self) -> None:
        """All rows are there: put them in order of players."""
        with self._in_words():
            self._held.execute("CREATE INDEX piece_of ON piece (player)")

    def pieces(self, player: int) -> Iterator[tuple[int, Any]]:
        """The rows of one player, with their files, in the order in which they came."""
        with self._in_words():
            query = "SELECT file, held FROM piece WHERE player = ? ORDER BY rowid"
            for file, held in self._held.execute(query, (player,)):
                yield file, pickle.loads(held)

    def of_two_players(self) -> list[tuple[bytes, int]]:
        """Ids that rows of more than one player give, the first ten, each with the later player."""
        query = "SELECT record, max(player) FROM named GROUP BY record HAVING min(player) < max(player) LIMIT 10"
        with self._in_words():
            return self._held.execute(query).fetchall()

    def keep_ready(self, player: int, prepared: Prepared) -> None:
        """What is to be stored of one player, in place of what was kept of it before."""
        with self._in_words():
            held = pickle.dumps(prepared.to_store(), -1)
            self._held.execute("INSERT OR REPLACE INTO ready VALUES (?, ?)", (player, held))

    def ready(self) -> Iterator[Prepared]:
        """What is to be stored, player by player."""
        with self._in_words():
            for (held,) in self._held.execute("SELECT held FROM ready ORDER BY player"):
                with uncollected():
                    made = pickle.loads(held)
                yield made
