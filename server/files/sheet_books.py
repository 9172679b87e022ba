"""Workbooks (XLSX, ECMA-376) as rows of cells, one row at a time, within bounds that a zip bomb does not pass.

What a cell shows is its last result: formulas are not worked out. A workbook whose formulas were never worked out is
refused, since their cells would be empty. So is one with a document type declaration, which ECMA-376 part 2 forbids.
"""

from __future__ import annotations

import re
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any, BinaryIO, Final
from xml.etree.ElementTree import ParseError

from server.files.decimal_marks import Typed
from server.files.sheet_texts import LONGEST_CELL, MOST_COLUMNS
from server.files.table_faults import TableError

BOOK: Final = b"PK\x03\x04"
"""How a workbook begins: it is a zip (local file header)."""
OLD_BOOK: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""How a workbook of the old kind begins (compound file binary format)."""
MOST_PARTS: Final = 2_000
LARGEST_SHEET: Final = 600_000_000
"""Bytes of a sheet unpacked: about 300,000 shots. Sheets are read as a stream."""
LARGEST_PART: Final = 40_000_000
"""Bytes of any other part unpacked: words and formats are held in memory."""
FEWEST_KNOWN: Final = 3
"""A sheet is one of the tables asked for from so many known columns on, where there are several sheets."""
MOST_SHEETS: Final = 50
MOST_ROWS: Final = 1_048_576
"""Rows of a sheet, the format's own bound."""
INTEGRAL_BELOW: Final = 1e15
"""Numbers of a workbook are binary floating point; whole ones below this are written without a point."""

_PIECE: Final = 1 << 20
_OVERLAP: Final = 2_000
_DECLARED: Final = ("<!DOCTYPE", "<!ENTITY", "<\0!\0D\0O\0C", "\0<\0!\0D\0O\0C")
_NO_RESULT: Final = re.compile(r"<f[^<>]{0,200}(?:/>|>[^<]{0,1000}</f>)(?:<v ?/>|<v></v>)?</c>")
"""A formula without the result that a spreadsheet keeps beside it; words may be empty (`_EMPTY_WORDS` in its cell)."""
_EMPTY_WORDS: Final = 't="str"'
_NOT_READ: Final = (
    zipfile.BadZipFile,
    zlib.error,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    ParseError,
    OSError,
    RuntimeError,
    EOFError,
)
"""What the library raises where a workbook is broken."""


class Book:
    """An opened workbook. `header`: the first row of its sheet; `make`: how it is read, in words."""

    may_hold_commas = True

    def __init__(
        self, opened: Callable[[], BinaryIO], known_of: Callable[[Sequence[str]], int], sheet: str | None, largest: int
    ) -> None:
        self._opened = opened
        with opened() as stream, _in_words():
            _look_through(stream, largest)
        with self._workbook() as book:
            self._sheet = _chosen(book, known_of, sheet)
            self.header = next(_rows(book[self._sheet]), [])
        if len(self.header) > MOST_COLUMNS:
            raise TableError(f"row 1: more than {MOST_COLUMNS} columns; the most is {MOST_COLUMNS}")
        self.make = f"XLSX, sheet {self._sheet!r}"

    def rows(self) -> Iterator[list[str]]:
        """The cells of every row below the header."""
        with self._workbook() as book:
            rows = _rows(book[self._sheet])
            next(rows, None)
            yield from rows

    @contextmanager
    def _workbook(self) -> Iterator[Any]:
        from openpyxl import load_workbook  # noqa: PLC0415 - only where there is a workbook

        with self._opened() as stream, _in_words(), warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles that are not kept
            book = load_workbook(stream, read_only=True, data_only=True, keep_links=False)
            try:
                yield book
            finally:
                book.close()


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except TableError:
        raise
    except _NOT_READ as error:
        words = " ".join(str(error).split())[:200] or type(error).__name__
        raise TableError(f"the file is not an XLSX that can be read: {words}") from error


def _look_through(stream: BinaryIO, largest: int) -> None:
    """Refuse a workbook that is too large unpacked, declares entities or lacks its results."""
    with zipfile.ZipFile(stream) as parts:
        entries = parts.infolist()
        if len(entries) > MOST_PARTS:
            raise TableError(f"the workbook has {len(entries)} parts; the most is {MOST_PARTS}")
        if "xl/workbook.xml" not in {entry.filename for entry in entries} and not any(
            entry.filename == "[Content_Types].xml" for entry in entries
        ):
            raise TableError("the file is a zip and not an XLSX")
        for entry in entries:
            of_sheet = entry.filename.startswith("xl/worksheets/")
            most = largest if of_sheet else LARGEST_PART
            if entry.file_size > most:
                size = f"{entry.file_size / 1e6:.0f} MB unpacked; the most is {most / 1e6:.0f} MB"
                raise TableError(f"the workbook's part {entry.filename[:60]!r} has {size}")
        if sum(entry.file_size for entry in entries) > largest + LARGEST_PART:
            raise TableError(f"the workbook is larger unpacked than {(largest + LARGEST_PART) / 1e6:.0f} MB")
        for entry in entries:
            if entry.filename.endswith((".xml", ".rels")):
                _look_at_part(parts, entry)


def _look_at_part(parts: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
    before = ""
    of_sheet = entry.filename.startswith("xl/worksheets/")
    with parts.open(entry) as part:  # reads no more than the size that the zip declares
        while piece := part.read(_PIECE):
            words = before + piece.decode("latin-1")  # only ASCII is looked for
            if any(mark in words for mark in _DECLARED):
                raise TableError("the workbook declares a document type, which an XLSX may not")
            if of_sheet and any(_lacks(words, found.start()) for found in _NO_RESULT.finditer(words)):
                raise TableError(
                    "the workbook has formulas without results: open it in a spreadsheet and save it, or write values"
                )
            before = words[-_OVERLAP:]


def _lacks(words: str, formula: int) -> bool:
    """True unless the result of the formula at this place is words that are empty."""
    begin = words.rfind("<c", max(0, formula - 300), formula)
    return begin >= 0 and _EMPTY_WORDS not in words[begin:formula]


def _chosen(book: Any, known_of: Callable[[Sequence[str]], int], asked: str | None) -> str:
    """The name of the sheet to read: the one asked for, the only one, or the only one with known columns."""
    names = [sheet.title for sheet in book.worksheets][: MOST_SHEETS + 1]
    if not names:
        raise TableError("the workbook has no sheet of cells")
    if len(names) > MOST_SHEETS:
        raise TableError(f"the workbook has more than {MOST_SHEETS} sheets; save the one with the table by itself")
    listed = ", ".join(repr(name[:40]) for name in names[:10])
    if asked is not None:
        if asked not in names:
            raise TableError(f"{asked!r} is not one of its sheets: {listed}", option="sheet")
        return asked
    if len(names) == 1:
        return str(names[0])
    fitting = [name for name in names if known_of(next(_rows(book[name]), [])) >= FEWEST_KNOWN]
    if len(fitting) != 1:
        which = "none of them has the columns" if not fitting else f"{len(fitting)} of them have the columns"
        raise TableError(f"the workbook has sheets {listed}, and {which} of the table", option="sheet")
    return str(fitting[0])


def _rows(sheet: Any) -> Iterator[list[str]]:
    sheet.reset_dimensions()  # a file may claim a million rows of 16,384 columns
    for number, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True)):
        if number >= MOST_ROWS:
            raise TableError(f"the sheet has more than {MOST_ROWS} rows")
        if cells.count(None) == len(cells):  # quickly, for a sheet may have a million of them
            yield []
            continue
        length = len(cells)
        while cells[length - 1] is None:
            length -= 1
        yield [_words(cell) for cell in cells[:length]]


def _words(value: Any) -> str:
    """The words of a typed cell: numbers with a decimal point, days as YYYY-MM-DD, yes and no."""
    match value:
        case None:
            return ""
        case str():
            if len(value) > LONGEST_CELL:
                raise TableError(f"a cell has more than {LONGEST_CELL} characters")
            return value.strip()
        case bool():
            return "yes" if value else "no"
        case int() | float():
            integral = isinstance(value, float) and value.is_integer() and abs(value) < INTEGRAL_BELOW
            return Typed(int(value) if integral else value)
        case datetime():
            at_midnight = (value.hour, value.minute, value.second) == (0, 0, 0)
            return (value.date() if at_midnight else value).isoformat()
        case _:
            return str(value)
