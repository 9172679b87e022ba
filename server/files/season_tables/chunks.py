"""Frames turned into Arrow tables exactly as the dictionary says: its columns, its order, its types."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Final, Protocol

import numpy as np
import pandas as pd
import pyarrow as pa

from server.files.season_tables.dictionary import ARROW_TYPES, DATE, STRING, Column, TableWords

# Arrow's own allocator keeps what was given back beside what Python's keeps: 40 MB more at the peak of a season
pa.set_memory_pool(pa.system_memory_pool())

ROWS_AT_ONCE: Final = 16_384
"""Rows that are written together: a row group of a Parquet file."""


class Rows(Protocol):
    """Rows of a table, of which a part is had as an Arrow table."""

    @property
    def num_rows(self) -> int:
        """How many there are."""

    def slice(self, offset: int = 0, length: int | None = None, /) -> pa.Table:
        """`length` rows from `offset` on, or all from there."""


class FrameRows:
    """The rows of a frame under the table's schema, made Arrow part by part: all of a large frame at once is three
    times the frame, for words stand written out. Further columns are left out. KeyError names a column that the
    frame lacks; a part raises ValueError for a required column with a gap, and pyarrow.ArrowInvalid for a value of
    another type."""

    def __init__(self, frame: pd.DataFrame, table: TableWords) -> None:
        missing = [name for name in table.names if name not in frame.columns]
        if missing:
            raise KeyError(f"table {table.name}: no column {', '.join(missing)}")
        self.num_rows = len(frame)
        self._table = table
        self._cut = [_cutter(frame[column.name], column) for column in table.columns]

    def slice(self, offset: int = 0, length: int | None = None, /) -> pa.Table:
        """`length` rows from `offset` on, or all from there. ValueError where a required value is missing."""
        end = self.num_rows if length is None else min(offset + length, self.num_rows)
        table = self._table
        arrays = [cut(offset, end) for cut in self._cut]
        for column, array in zip(table.columns, arrays, strict=True):
            if column.required and array.null_count:
                raise ValueError(f"table {table.name}, {column.name}: {array.null_count} values are missing")
        return pa.Table.from_arrays(arrays, schema=table.schema())


def to_arrow(frame: pd.DataFrame, table: TableWords) -> pa.Table:
    """All rows of a frame as `FrameRows` makes them, with its faults."""
    return FrameRows(frame, table).slice()


_Cut = Callable[[int, int], pa.Array]
"""Makes the cells from a row up to another."""


def _cutter(series: pd.Series, column: Column) -> _Cut:
    kind = ARROW_TYPES[column.type]
    if column.type == STRING:
        if isinstance(series.dtype, pd.CategoricalDtype):
            return _words(series.array)
        values = series.array if isinstance(series.dtype, pd.StringDtype) else series.to_numpy(dtype="object")
    elif column.type == DATE:
        values = pd.to_datetime(series).to_numpy().astype("datetime64[s]")
    else:
        values = series.to_numpy() if isinstance(series.dtype, np.dtype) else series.array
    if isinstance(values, np.ndarray):
        return lambda first, end: _as(pa.array(values[first:end], from_pandas=True), kind)
    # pandas' own kinds of columns are handed over whole
    whole = pa.array(values, from_pandas=True)
    joined = whole.combine_chunks() if isinstance(whole, pa.ChunkedArray) else whole
    return lambda first, end: _as(joined.slice(first, end - first), kind)


def _as(array: pa.Array, kind: pa.DataType) -> pa.Array:
    return array if array.type == kind else array.cast(kind)


def _words(coded: pd.Categorical) -> _Cut:
    """The word of each row. pandas' own way makes long strings of them first, which then are made short ones."""
    codes = coded.codes
    if not len(coded.categories):
        return lambda first, end: pa.nulls(end - first, pa.string())
    words = pa.array(coded.categories.to_numpy(dtype="object"), pa.string())

    def cut(first: int, end: int) -> pa.Array:
        part = codes[first:end]
        missing = part < 0
        return words.take(pa.array(part, mask=missing if missing.any() else None))

    return cut


def even_chunks(frames: Iterable[pd.DataFrame], table: TableWords, rows: int = ROWS_AT_ONCE) -> Iterator[pa.Table]:
    """The rows of all frames in tables of `rows` rows, the last one shorter; nothing when there are no rows."""
    yield from evenly(map(partial(FrameRows, table=table), frames), rows)


def evenly(tables: Iterable[Rows], rows: int = ROWS_AT_ONCE) -> Iterator[pa.Table]:
    """As `even_chunks`, of rows that are ready."""
    even = EvenRows(rows)
    for one in tables:
        yield from even.add(one)
        del one
    yield from even.rest()


def copied(part: pa.Table) -> pa.Table:
    """A part of a table by itself: else it keeps all of the table while the next rows are read."""
    return pa.Table.from_arrays([pa.concat_arrays(column.chunks) for column in part.columns], schema=part.schema)


class EvenRows:
    """Rows that come in tables of any length and go on in tables of `rows` rows."""

    def __init__(self, rows: int = ROWS_AT_ONCE) -> None:
        self.rows = rows
        self._held: list[pa.Table] = []
        self._count = 0

    def add(self, rows: Rows) -> Iterator[pa.Table]:
        """Take further rows; the tables that are full by them."""
        first = 0
        while self._count + rows.num_rows - first >= self.rows:
            lacking = self.rows - self._count
            held, self._held, self._count = self._held, [], 0
            held.append(rows.slice(first, lacking))
            first += lacking
            full = pa.concat_tables(held).combine_chunks()
            del held
            yield full
            del full
        if not first:
            self._held.append(rows.slice())
        elif first < rows.num_rows:
            self._held.append(copied(rows.slice(first)))
        self._count += rows.num_rows - first

    def rest(self) -> Iterator[pa.Table]:
        """What is left at the end."""
        if self._count:
            yield pa.concat_tables(self._held).combine_chunks()
