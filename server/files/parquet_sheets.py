"""Parquet files as rows of cells, some thousands of rows at a time.

Typed cells become the words that a CSV would have; numbers keep every digit. Free words get the apostrophe that import
takes away again (`server.files.spreadsheet_cells`), for in a Parquet file nothing is guarded. Columns that nobody reads
are not looked at, whatever their type.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq

from server.files.decimal_marks import Typed
from server.files.sheet_texts import LONGEST_CELL, MOST_COLUMNS
from server.files.spreadsheet_cells import guarded
from server.files.table_faults import TableError

PARQUET: Final = b"PAR1"
"""How the file begins (https://parquet.apache.org/docs/file-format/)."""
LARGEST_GROUP: Final = 4_000_000_000
"""Bytes of one row group unpacked, as the file states it. Its pages are read one after the other."""
_ROWS: Final = 4_096
_BUFFER: Final = 1 << 20
_MOST_KEPT: Final = 10_000
_INTEGRAL_BELOW: Final = 1e15


class Columns:
    """An opened Parquet file. `header`: the names of its columns; `make`: how it is read, in words."""

    may_hold_commas = False

    def __init__(self, file: Path, is_known: Callable[[str], bool], is_number: Callable[[str], bool]) -> None:
        self._file = file
        with self._opened() as found:
            about, schema = found.metadata, found.schema_arrow
            sizes = [about.row_group(place).total_byte_size for place in range(about.num_row_groups)]
        self.header = [name.strip() for name in schema.names]
        if len(self.header) > MOST_COLUMNS:
            raise TableError(f"{len(self.header)} columns; the most is {MOST_COLUMNS}")
        if max(sizes, default=0) > LARGEST_GROUP:
            words = f"a row group of {max(sizes) / 1e6:.0f} MB unpacked; the most is {LARGEST_GROUP / 1e6:.0f} MB"
            raise TableError(words)
        self._read: dict[int, _Words] = {}
        for place, field in enumerate(schema):
            if is_known(self.header[place]):
                if not _is_readable(field.type):
                    words = f"column {field.name} is {field.type}: text, numbers, days, and yes or no can be read"
                    raise TableError(words)
                self._read[place] = _Words(free=not is_number(self.header[place]))
        self.make = "Parquet"

    def rows(self) -> Iterator[list[str]]:
        """The cells of every row."""
        with self._opened() as found:
            names = found.schema_arrow.names
            for batch in found.iter_batches(_ROWS, columns=[names[place] for place in self._read], use_threads=False):
                blank = [""] * batch.num_rows
                cells = [blank] * len(self.header)
                for (place, words), column in zip(self._read.items(), batch.columns, strict=True):
                    cells[place] = list(map(words.__getitem__, column.to_pylist()))
                yield from map(list, zip(*cells, strict=True))

    @contextmanager
    def _opened(self) -> Iterator[Any]:
        try:
            with pq.ParquetFile(self._file, buffer_size=_BUFFER, pre_buffer=False) as found:
                yield found
        except TableError:
            raise
        except (pa.ArrowException, OSError, ValueError, OverflowError) as error:
            words = " ".join(str(error).split())[:200] or type(error).__name__
            raise TableError(f"the file is not a Parquet file that can be read: {words}") from error


def _is_readable(kind: pa.DataType) -> bool:
    kind = kind.value_type if pa.types.is_dictionary(kind) else kind
    tests = (
        *(pa.types.is_string, pa.types.is_large_string, pa.types.is_string_view, pa.types.is_boolean),
        *(pa.types.is_integer, pa.types.is_floating, pa.types.is_decimal),
        *(pa.types.is_date, pa.types.is_timestamp, pa.types.is_null),
    )
    return any(test(kind) for test in tests)


class _Words(dict[Any, str]):
    """The words of the values of one column, each made once. `free`: any words may stand in it."""

    def __init__(self, *, free: bool) -> None:
        super().__init__()
        self._free = free

    def __missing__(self, value: Any) -> str:
        words = self._made(value)
        if len(self) < _MOST_KEPT:
            self[value] = words
        return words

    def _made(self, value: Any) -> str:
        if isinstance(value, str):
            if len(value) > LONGEST_CELL:
                raise TableError(f"a cell has more than {LONGEST_CELL} characters")
            return guarded(value.strip()) if self._free else value.strip()
        return "" if value is None else _of_typed(value)


def _of_typed(value: Any) -> str:
    match value:
        case bool():
            return "yes" if value else "no"
        case float():
            return Typed(int(value) if value.is_integer() and abs(value) < _INTEGRAL_BELOW else value)
        case datetime():
            at_midnight = (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)
            return (value.date() if at_midnight else value).isoformat()
        case date():
            return value.isoformat()
        case _:
            return Typed(value)
