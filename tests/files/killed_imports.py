"""Imports that are killed while indexes are away: `python -m tests.files.killed_imports FILE DATABASE ...`.

A process each, forked from this one: the first is killed at the first of `MOMENTS`, and so on. Each writes one line
before it ends, in JSON: how many of the indexes by ids of changes, records and shots are there; how many a reader has
in the same moment, null where readers wait; and how many bytes lie in the database and its write-ahead log.
"""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import sys
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from server.files.shots_stream import import_files
from server.store import engine as store_engine
from server.store import prepared
from server.store.engine import open_database

MOMENTS = (("DROP INDEX", 3), ("INSERT INTO shot", 2), ("CREATE UNIQUE INDEX", 1), ("CREATE UNIQUE INDEX", 3))
"""After which statement, and after how many of its sort."""
INDEXES = f"SELECT count(*) FROM sqlite_master WHERE name IN ({', '.join(map(repr, prepared.BY_RANDOM_IDS))})"


def killed(file: Path, database: Path, statement: str, last: int) -> None:
    """Import the file, and do not live to the end of it."""
    seen: Counter[bool] = Counter()

    def executed(connection: sa.Connection, _cursor: Any, words: str, *_: Any) -> None:
        seen[words.startswith(statement)] += 1
        if seen[True] == last:
            own: Any = connection.connection.driver_connection
            written = sum(one.stat().st_size for one in database.parent.glob(f"{database.name}*"))
            told = [own.execute(INDEXES).fetchone()[0], for_a_reader(database), written]
            os.write(1, json.dumps(told).encode() + b"\n")
            os.kill(os.getpid(), signal.SIGKILL)

    prepared.MANY = 4  # type: ignore[misc]
    # so little memory that what is stored goes to disk long before the end
    store_engine._ROOM_KB, store_engine._SORTED_KB = 80, 40  # type: ignore[misc]
    engine = open_database(f"sqlite:///{database}")
    sa.event.listen(engine, "after_cursor_execute", executed)
    import_files(engine, [file])


def for_a_reader(database: Path) -> int | None:
    """How many of the indexes another connection finds; None where it would have to wait."""
    with closing(sqlite3.connect(database, timeout=0)) as reader:
        try:
            return int(reader.execute(INDEXES).fetchone()[0])
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY:
                raise
            return None


def main() -> None:
    """One process after the other."""
    file, *databases = map(Path, sys.argv[1:])
    for database, (statement, last) in zip(databases, MOMENTS, strict=True):
        child = os.fork()
        if not child:
            try:
                killed(file, database, statement, last)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        if os.waitstatus_to_exitcode(status) != -signal.SIGKILL:
            raise SystemExit(f"the import into {database} ended by itself")


if __name__ == "__main__":
    main()
