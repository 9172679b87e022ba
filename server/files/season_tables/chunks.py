"""Frames turned into Arrow tables exactly as the dictionary says: its columns, its order, its types."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Final

import pandas as pd
import pyarrow as pa

from server.files.season_tables.dictionary import ARROW_TYPES, DATE, STRING, Column, TableWords

# Arrow's own allocator keeps what was given back beside what Python's keeps: 40 MB more at the peak of a season
pa.set_memory_pool(pa.system_memory_pool())

ROWS_AT_ONCE: Final = 16_384
"""Rows that are written together: a row group of a Parquet file."""


def to_arrow(frame: pd.DataFrame, table: TableWords) -> pa.Table:
    """The rows of a frame under the table's schema; further columns are left out. KeyError names a column that the
    frame lacks; ValueError a required column with a gap; pyarrow.ArrowInvalid a value of another type."""
    missing = [name for name in table.names if name not in frame.columns]
    if missing:
        raise KeyError(f"table {table.name}: no column {', '.join(missing)}")
    schema = table.schema()
    arrays = [_array(frame[column.name], column) for column in table.columns]
    for column, array in zip(table.columns, arrays, strict=True):
        if column.required and array.null_count:
            raise ValueError(f"table {table.name}, {column.name}: {array.null_count} values are missing")
    return pa.Table.from_arrays(arrays, schema=schema)


def _array(series: pd.Series, column: Column) -> pa.Array:
    kind = ARROW_TYPES[column.type]
    if column.type == STRING:
        if isinstance(series.dtype, pd.CategoricalDtype):
            return _words(series.array)
        values = series.array if isinstance(series.dtype, pd.StringDtype) else series.astype("object")
        array = pa.array(values, from_pandas=True)
        joined = array.combine_chunks() if isinstance(array, pa.ChunkedArray) else array
        return joined.cast(kind)
    if column.type == DATE:
        return pa.array(pd.to_datetime(series).astype("datetime64[s]"), from_pandas=True).cast(pa.date32())
    return pa.array(series, from_pandas=True).cast(kind)


def _words(coded: pd.Categorical) -> pa.Array:
    """The word of each row. pandas' own way makes long strings of them first, which then are made short ones."""
    codes = coded.codes
    if not len(coded.categories):
        return pa.nulls(codes.size, pa.string())
    missing = codes < 0
    places = pa.array(codes, mask=missing if missing.any() else None)
    return pa.array(coded.categories.to_numpy(dtype="object"), pa.string()).take(places)


def even_chunks(frames: Iterable[pd.DataFrame], table: TableWords, rows: int = ROWS_AT_ONCE) -> Iterator[pa.Table]:
    """The rows of all frames in tables of `rows` rows, the last one shorter; nothing when there are no rows."""
    yield from evenly(map(partial(to_arrow, table=table), frames), rows)


def evenly(tables: Iterable[pa.Table], rows: int = ROWS_AT_ONCE) -> Iterator[pa.Table]:
    """As `even_chunks`, of tables already in Arrow."""
    even = EvenRows(rows)
    for one in tables:
        yield from even.add(one)
        del one
    yield from even.rest()


class EvenRows:
    """Rows that come in tables of any length and go on in tables of `rows` rows."""

    def __init__(self, rows: int = ROWS_AT_ONCE) -> None:
        self.rows = rows
        self._held: list[pa.Table] = []
        self._count = 0

    def add(self, table: pa.Table) -> Iterator[pa.Table]:
        """Take further rows; the tables that are full by them."""
        self._held.append(table)
        self._count += table.num_rows
        del table
        if self._count < self.rows:
            return
        joined = pa.concat_tables(self._held)
        self._held = []
        while self._count >= self.rows:
            yield joined.slice(joined.num_rows - self._count, self.rows).combine_chunks()
            self._count -= self.rows
        if self._count:
            # copied: a part of a table keeps all of it while the next rows are read
            rest = joined.slice(joined.num_rows - self._count)
            arrays = [pa.concat_arrays(column.chunks) for column in rest.columns]
            self._held = [pa.Table.from_arrays(arrays, schema=rest.schema)]

    def rest(self) -> Iterator[pa.Table]:
        """What is left at the end."""
        if self._count:
            yield pa.concat_tables(self._held).combine_chunks()
