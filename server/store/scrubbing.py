"""Leaving no byte of what was deleted in SQLite's file, while others write: `python scrubbing.py FILE [SECONDS]`.

SQLite zeroes what it frees (`secure_delete`), but not what it copied before: when rows move to a neighbour page, the
old bytes stay in the unused middle of a page, out of reach of every statement. VACUUM writes the file anew, and every
writer waits as long as that takes. Here the unused bytes of each page are overwritten in place: the gap between the
cell pointers and the cells, free blocks, free pages ("Database File Format", sqlite.org/fileformat2.html).

Why that is safe beside others:

- It is done under the write lock and only while the write-ahead log is empty, so that the file is all there is, and
  nothing that is copied back later holds old bytes.
- Only bytes that no reader looks at change; a page is never moved or resized.
- A commit at the end makes every connection drop the pages that it holds in memory, old bytes included.
- A large file is done in slices, writers going in between; a page may change its number meanwhile, so that one pass
  over the entire file under one lock, which then finds next to nothing, ends it.

It runs as a program of its own: closing a second file handle would take away the locks of a process that has the
database open (POSIX). Exit codes: 0 done, 3 a reader or a writer held the database for too long, 4 not a file that this
can do, and nothing was changed.
"""

from __future__ import annotations

import os
import sqlite3
import struct
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Final

DONE: Final = 0
HELD: Final = 3
CANNOT: Final = 4

SLICE: Final = 4096
"""Pages that are done under one lock: some 20 ms."""
SMALL: Final = 4 * SLICE
"""A file of so few pages is done at once."""
WAIT_MS: Final = 200
"""How long writers wait while the write-ahead log is emptied beside readers."""
PAUSE_S: Final = 0.05
PATIENCE_S: Final = 60.0

MAGIC: Final = b"SQLite format 3\0"
MOST_PAGES: Final = 2**25
"""With fewer, the first byte of a page that is no B-tree page (the number of another page) is never a B-tree's flag."""
LEAVES: Final = (0x0A, 0x0D)
BRANCHES: Final = (0x02, 0x05)
LEAF_HEADER: Final = 8
BRANCH_HEADER: Final = 12


class DatabaseInUseError(RuntimeError):
    """Others held the database for too long."""


class ScrubError(RuntimeError):
    """Not a file that this can do."""


def unused(page: bytes, usable: int) -> Iterator[tuple[int, int]]:
    """Where a B-tree page holds nothing: from, to. Nothing for a page of another kind."""
    if page[0] not in LEAVES + BRANCHES:
        return
    free, cells, start = struct.unpack_from(">HHH", page, 1)
    first = (LEAF_HEADER if page[0] in LEAVES else BRANCH_HEADER) + 2 * cells
    start = start or 65536
    if first <= start <= usable:
        yield first, start
    while LEAF_HEADER <= free <= usable - 4:
        following, size = struct.unpack_from(">HH", page, free)
        if free + 4 <= free + size <= usable:
            yield free + 4, free + size
        # the chain only goes up
        free = following if following > free else 0


class _File:
    """The file beneath an open database."""

    def __init__(self, handle: int) -> None:
        self.handle = handle
        head = os.pread(handle, 100, 0)
        if head[:16] != MAGIC:
            raise ScrubError("not a database of SQLite")
        size = int.from_bytes(head[16:18], "big")
        self.page_size = 65536 if size == 1 else size
        self.usable = self.page_size - head[20]

    @property
    def pages(self) -> int:
        """How many there are."""
        found: int = os.fstat(self.handle).st_size // self.page_size
        if found >= MOST_PAGES:
            raise ScrubError(f"{found} pages are too many")
        return found

    def scrub(self, first: int, last: int) -> int:
        """Overwrite what is unused on pages `first` to `last`, counted from 1; returns how many had something there.
        The first page of a file holds the schema alone."""
        size, found = self.page_size, 0
        content = os.pread(self.handle, (last - first + 1) * size, (first - 1) * size)
        for place in range(0, len(content) - size + 1, size):
            if first == 1 and place == 0:
                continue
            page = content[place : place + size]
            dirty = [(a, b) for a, b in unused(page, self.usable) if page.count(0, a, b) != b - a]
            for start, end in dirty:
                os.pwrite(self.handle, bytes(end - start), (first - 1) * size + place + start)
            found += bool(dirty)
        return found

    def scrub_free_pages(self) -> int:
        """Overwrite the pages that are in no table; returns how many had something there."""
        found = 0
        trunk = struct.unpack(">I", os.pread(self.handle, 4, 32))[0]
        seen: set[int] = set()
        while trunk and trunk not in seen and trunk <= self.pages:
            seen.add(trunk)
            page = os.pread(self.handle, self.page_size, (trunk - 1) * self.page_size)
            following, count = struct.unpack_from(">II", page, 0)
            if 8 + 4 * count > self.usable:
                break
            found += self._zero(trunk, page, 8 + 4 * count)
            for leaf in struct.unpack_from(f">{count}I", page, 8):
                free = os.pread(self.handle, self.page_size, (leaf - 1) * self.page_size)
                found += self._zero(leaf, free, 0)
            trunk = following
        return found

    def _zero(self, number: int, page: bytes, start: int) -> int:
        if page.count(0, start, self.usable) == self.usable - start:
            return 0
        os.pwrite(self.handle, bytes(self.usable - start), (number - 1) * self.page_size + start)
        return 1


@contextmanager
def alone(database: sqlite3.Connection, path: str, ends: float) -> Iterator[None]:
    """The write lock, with all of the write-ahead log in the file. Raises DatabaseInUseError."""
    while True:
        try:
            busy, _, _ = database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            if not busy:
                database.execute("BEGIN IMMEDIATE")
                if not os.path.exists(f"{path}-wal") or not os.stat(f"{path}-wal").st_size:
                    break
                database.execute("ROLLBACK")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                raise
        if time.monotonic() > ends:
            raise DatabaseInUseError
        time.sleep(PAUSE_S)
    try:
        yield
    except BaseException:
        database.execute("ROLLBACK")
        raise
    # Any commit will do: with it every other connection forgets the pages that it has read.
    version = database.execute("PRAGMA user_version").fetchone()[0]
    database.execute(f"PRAGMA user_version = {version}")
    database.execute("COMMIT")


def scrub(path: str, patience_s: float = PATIENCE_S) -> None:
    """Overwrite all unused bytes of the database. Raises DatabaseInUseError and ScrubError."""
    handle = os.open(path, os.O_RDWR)
    try:
        with closing(sqlite3.connect(path, timeout=WAIT_MS / 1000, isolation_level=None)) as database:
            file, ends = _File(handle), time.monotonic() + patience_s
            if file.pages > SMALL:
                for first in range(1, file.pages + 1, SLICE):
                    with alone(database, path, ends):
                        file.scrub(first, first + SLICE - 1)
                    time.sleep(PAUSE_S)
            with alone(database, path, ends):
                file.scrub_free_pages()
                for first in range(1, file.pages + 1, SLICE):
                    file.scrub(first, first + SLICE - 1)
                os.fsync(handle)
            database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    finally:
        # After the database: closing a handle ends the locks that this process has on the file.
        os.close(handle)


def main(path: str, patience_s: float = PATIENCE_S) -> int:
    """Scrub a file; returns the exit code."""
    try:
        scrub(path, patience_s)
    except DatabaseInUseError:
        return HELD
    except ScrubError as error:
        print(error, file=sys.stderr)
        return CANNOT
    return DONE


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], *map(float, sys.argv[2:])))
