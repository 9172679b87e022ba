"""Season tables as XLSX: a frozen header with a row of units under it, typed cells, and a sheet about the columns.

Words are written as text, never as formulas; words that a spreadsheet would run when somebody edits the cell carry the
mark "quote prefix", its own way of keeping them text, and stay the same words. Rows go to disk as they come.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import pyarrow as pa
import xlsxwriter

from server.files.season_tables.dictionary import BOOLEAN, DATE, STRING, Column, TableWords
from server.files.spreadsheet_cells import is_at_risk

HEADER_ROWS: Final = 2
MOST_ROWS: Final = 1_048_576 - HEADER_ROWS
"""Rows that a sheet holds below the header and the units."""

NO_DAY: Final = datetime(1980, 1, 1)  # noqa: DTZ001
"""Written where the format wants the day of making, so that the same table is the same file."""

_PIECE: Final = 1 << 16


class TooManyRowsError(ValueError):
    """More rows than a sheet holds."""


def xlsx_pieces(table: TableWords, chunks: Iterable[pa.Table], about: Mapping[str, str]) -> Iterator[bytes]:
    """The file in pieces; it is made in a temporary folder first. Raises TooManyRowsError."""
    with TemporaryDirectory(prefix="pencilbag-") as folder:
        path = Path(folder) / "table.xlsx"
        with closing(_workbook(path, about)) as book:
            _write_rows(book, table, chunks)
            _write_about(book, table, about)
        with path.open("rb") as file:
            while piece := file.read(_PIECE):
                yield piece


def _workbook(path: Path, about: Mapping[str, str]) -> Any:
    book = xlsxwriter.Workbook(str(path), {"constant_memory": True, "tmpdir": str(path.parent)})
    comments = "; ".join(f"{name}: {words}" for name, words in about.items())
    book.set_properties({"title": about.get("title", ""), "comments": comments, "created": NO_DAY})
    return book


def _write_rows(book: Any, table: TableWords, chunks: Iterable[pa.Table]) -> None:
    sheet = book.add_worksheet(table.name)
    sheet.freeze_panes(HEADER_ROWS, 0)
    bold, pale = book.add_format({"bold": True}), book.add_format({"italic": True, "font_color": "#555555"})
    writers = []
    for place, column in enumerate(table.columns):
        sheet.set_column(place, place, max(10, min(len(column.name) + 2, 24)))
        writers.append(_cell_writer(book, sheet, column))
    for place, column in enumerate(table.columns):
        sheet.write_string(0, place, column.name, bold)
    for place, column in enumerate(table.columns):
        sheet.write_string(1, place, column.unit, pale)
    row = HEADER_ROWS
    for chunk in chunks:
        if row - HEADER_ROWS + chunk.num_rows > MOST_ROWS:
            raise TooManyRowsError(f"a sheet holds {MOST_ROWS} rows; take csv or parquet")
        for cells in zip(*(chunk.column(name).to_pylist() for name in table.names), strict=True):
            for place, (value, write) in enumerate(zip(cells, writers, strict=True)):
                if value is not None:
                    write(row, place, value)
            row += 1


def _cell_writer(book: Any, sheet: Any, column: Column) -> Callable[[int, int, Any], Any]:
    """How a value of the column is written."""
    if column.type == DATE:
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        return lambda row, place, value: sheet.write_datetime(row, place, value, day)
    if column.type == BOOLEAN:
        return sheet.write_boolean  # type: ignore[no-any-return]
    if column.type != STRING:
        return sheet.write_number  # type: ignore[no-any-return]
    if not column.is_free_text:
        return sheet.write_string  # type: ignore[no-any-return]
    quoted = book.add_format({"quote_prefix": True})
    return lambda row, place, value: sheet.write_string(row, place, value, quoted if is_at_risk(value) else None)


def _write_about(book: Any, table: TableWords, about: Mapping[str, str]) -> None:
    """A second sheet: what the file is, then every column with its type, unit, range and meaning."""
    sheet = book.add_worksheet("about")
    sheet.set_column(0, 3, 22)
    sheet.set_column(4, 4, 100)
    bold = book.add_format({"bold": True})
    rows: list[tuple[str, ...]] = [*about.items(), (), ("column", "type", "unit", "range", "meaning")]
    heading = len(rows) - 1
    rows += [(one.name, one.type, one.unit, one.range, one.meaning) for one in table.columns]
    for row, cells in enumerate(rows):
        for place, words in enumerate(cells):
            sheet.write_string(row, place, words, bold if row == heading or (row < heading and place == 0) else None)
