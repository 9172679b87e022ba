"""Season tables as Parquet: the dictionary's schema, unit and meaning with every field, and what the file is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from server.files.season_tables.dictionary import TableWords


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


def parquet_pieces(table: TableWords, chunks: Iterable[pa.Table], about: Mapping[str, str]) -> Iterator[bytes]:
    """The file in pieces, one row group a chunk. `about` goes into the file's metadata."""
    pieces = _Pieces()
    schema = table.schema(about)
    with pq.ParquetWriter(pa.PythonFile(pieces, mode="w"), schema) as writer:
        for chunk in chunks:
            writer.write_table(chunk, row_group_size=max(1, chunk.num_rows))
            yield pieces.taken()
    yield pieces.taken()
