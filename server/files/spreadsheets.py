"""A table as people keep it, opened as rows of text cells: CSV of any usual make, XLSX, or a Parquet file.

What the file says itself is taken and reported in one line (`Sheet.taken`): the character set by its byte order mark,
else UTF-8 where it is sound UTF-8, else Windows-1252; the separator by the header; the decimal mark by the number
cells. Where two ways are possible the file is refused with the option that settles it (`Reading`), never guessed.
Rows come one by one and can be asked for again: the memory does not grow with their number.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

from server.files.decimal_marks import DECIMALS, Marks, marks_of
from server.files.parquet_sheets import PARQUET, Columns
from server.files.sheet_books import BOOK, LARGEST_SHEET, OLD_BOOK, Book
from server.files.sheet_texts import MOST_COLUMNS, SEPARATORS, Text
from server.files.table_faults import RowFault, TableError

LARGEST_FILE: Final = 20_000_000_000
"""Bytes of one file: some 160 million shots. Rows are read as a stream."""

Source = bytes | Path


@dataclass(frozen=True)
class Reading:
    """How a file is to be read where it does not say so itself. `separator`: a word of `SEPARATORS`; `decimal`: a word
    of `DECIMALS`; `date_format`: a word of `table_days.FORMATS`; `sheet`: the name of a sheet of a workbook. None:
    as in the file. `largest_sheet`: bytes of a sheet of a workbook when it is unpacked."""

    separator: str | None = None
    decimal: str | None = None
    date_format: str | None = None
    sheet: str | None = None
    largest_sheet: int = LARGEST_SHEET


PLAIN: Final = Reading()


@dataclass
class Sheet:
    """An opened table. `titles`: the cells of its header; `header`: their plain names, for example "Played on" as
    played_on."""

    titles: list[str]
    header: list[str]
    make: str
    marks: Marks
    is_book: bool
    _rows: Callable[[], Iterator[list[str]]]
    _untrimmed: Callable[[], Iterator[list[str]]]

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Number and cells of every row that holds something; the header is row 1."""
        for number, cells in enumerate(self._rows(), start=2):
            if any(cells):
                yield number, cells

    def untrimmed(self) -> Iterator[tuple[int, list[str]]]:
        """Number and cells of every row: who reads each different cell once trims it then."""
        return enumerate(self._untrimmed(), start=2)

    def numbers(self, number: int, cells: list[str]) -> list[RowFault]:
        """Turn the number cells of a row into numbers with a decimal point; what cannot be settled is a fault."""
        return self.marks.settle(number, cells, self.header) if self.marks.matter else []

    @property
    def taken(self) -> str:
        """How the file was read, in one line."""
        return f"{self.make}, {self.marks.words}" if self.marks.matter else self.make


def plain_name(cell: str) -> str:
    """The name of a column, or a word of a list, whatever its case: "Played on" and "played-on" are played_on."""
    return "_".join(cell.replace("-", " ").replace("_", " ").split()).lower()


def open_sheet(
    source: Source,
    known: Collection[str],
    numbers: Collection[str],
    reading: Reading = PLAIN,
    name_of: Callable[[str], str] = plain_name,
) -> Sheet:
    """Open a table. Raises TableError, also while rows are read.

    `known`: the columns that such a table may have, by which separator and sheet are chosen; `numbers`: those that hold
    numbers; `name_of`: the plain name of a cell of the header.
    """
    size = len(source) if isinstance(source, bytes) else source.stat().st_size
    if size > LARGEST_FILE:
        raise TableError(f"the file has {size / 1e6:.0f} MB; the most is {LARGEST_FILE / 1e6:.0f} MB")
    with opened(source) as stream:
        begin = stream.read(len(OLD_BOOK))
    if begin == OLD_BOOK:
        raise TableError("the file is a workbook of an old kind (XLS): save it as XLSX or CSV")

    def known_of(cells: Sequence[str]) -> int:
        return len({name_of(cell) for cell in cells} & set(known))

    found: Book | Text | Columns
    if begin.startswith(PARQUET):
        found = _columns(source, known, numbers, reading, name_of)
    elif begin.startswith(BOOK):
        found = Book(lambda: opened(source), known_of, reading.sheet, reading.largest_sheet)
    else:
        if reading.sheet is not None:
            raise TableError("a CSV has no sheets to choose from", option="sheet")
        found = Text(lambda: opened(source), known_of, SEPARATORS[reading.separator] if reading.separator else None)
    names = [name_of(cell) for cell in found.header]
    places = [place for place, name in enumerate(names) if name in numbers]
    settled = DECIMALS[reading.decimal] if reading.decimal else None
    marks = marks_of(found.rows, places, settled, commas=found.may_hold_commas)
    untrimmed = found.untrimmed if isinstance(found, Text) else found.rows
    return Sheet(list(found.header), names, found.make, marks, isinstance(found, Book), found.rows, untrimmed)


def _columns(
    source: Source, known: Collection[str], numbers: Collection[str], reading: Reading, name_of: Callable[[str], str]
) -> Columns:
    if isinstance(source, bytes):
        raise TableError("the file is Parquet, which is read on the command line alone: send CSV or XLSX")
    if reading.sheet is not None:
        raise TableError("a Parquet file has no sheets to choose from", option="sheet")
    return Columns(source, lambda title: name_of(title) in known, lambda title: name_of(title) in numbers)


def opened(source: Source) -> BinaryIO:
    """The bytes from the beginning."""
    return io.BytesIO(source) if isinstance(source, bytes) else source.open("rb")


__all__ = ["LARGEST_FILE", "MOST_COLUMNS", "PLAIN", "Reading", "Sheet", "Source", "open_sheet", "plain_name"]
