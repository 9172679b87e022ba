"""Season tables as Parquet: the dictionary's schema, unit and meaning with every field, and what the file is."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import IO, Any, NotRequired, Self, TypedDict

import pyarrow as pa
import pyarrow.parquet as pq

from server.files.season_tables.chunks import EvenRows, Rows
from server.files.season_tables.dictionary import TableWords
from server.store.private_files import open_private


class _Pieces:
    """A file that hands on what was written to it."""

    closed = False

    def __init__(self) -> None:
        self._held: list[bytes] = []

    def write(self, content: Any) -> int:
        """Keep the bytes for the next `taken`."""
        piece = bytes(content)
        self._held.append(piece)
        return len(piece)

    def taken(self) -> bytes:
        """All bytes since the last time."""
        piece = b"".join(self._held)
        self._held.clear()
        return piece

    def flush(self) -> None:
        """Nothing waits."""

    def close(self) -> None:
        """Nothing to give back."""


def _writer(table: TableWords, out: Any, schema: pa.Schema) -> pq.ParquetWriter:
    """A writer that makes no dictionary of ids that are all different: it would hold each of them beside its number."""
    repeated = [name for name in table.names if table.key != (name,)]
    return pq.ParquetWriter(pa.PythonFile(out, mode="w"), schema, use_dictionary=repeated)


def parquet_pieces(table: TableWords, chunks: Iterable[pa.Table], about: Mapping[str, str]) -> Iterator[bytes]:
    """The file in pieces, one row group a chunk. `about` goes into the file's metadata."""
    pieces = _Pieces()
    schema = table.schema(about)
    with _writer(table, pieces, schema) as writer:
        for chunk in chunks:
            writer.write_table(chunk, row_group_size=max(1, chunk.num_rows))
            yield pieces.taken()
    yield pieces.taken()


class FileFacts(TypedDict):
    """What is known of a file that was written."""

    bytes: NotRequired[int]
    hash: NotRequired[str]


class ParquetFile:
    """A file of a season table that takes rows of any number as they come, the same bytes as `parquet_pieces` of
    even chunks: `facts` and `rows` once it is closed. Left by a fault, it stays half. Raises OSError."""

    def __init__(self, path: Path, table: TableWords, about: Mapping[str, str]) -> None:
        self.rows = 0
        self._even = EvenRows()
        self._out = _Hashed(open_private(path, "wb"))
        self._writer = _writer(table, self._out, table.schema(about))

    def add(self, rows: Rows) -> None:
        """Take rows; a row group is written once it is full."""
        self.rows += rows.num_rows
        for chunk in self._even.add(rows):
            self._writer.write_table(chunk, row_group_size=chunk.num_rows)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        try:
            if kind is None:
                for chunk in self._even.rest():
                    self._writer.write_table(chunk, row_group_size=chunk.num_rows)
                self._writer.close()
        finally:
            self._out.file.close()

    @property
    def facts(self) -> FileFacts:
        """Size and SHA-256 as a descriptor tells them."""
        return {"bytes": self._out.size, "hash": f"sha256:{self._out.digest.hexdigest()}"}


class _Hashed:
    """A file whose bytes are counted and hashed as they are written."""

    closed = False

    def __init__(self, file: IO[bytes]) -> None:
        self.file = file
        self.size = 0
        self.digest = hashlib.sha256()

    def write(self, content: Any) -> int:
        """Write it."""
        piece = memoryview(content)
        self.file.write(piece)
        self.digest.update(piece)
        self.size += piece.nbytes
        return piece.nbytes

    def flush(self) -> None:
        """Nothing waits that closing does not write."""

    def close(self) -> None:
        """Closed by whoever opened it."""
