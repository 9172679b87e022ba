"""Reading a shots table (CSV, XLSX or Parquet) in blocks; every bad cell is named by row, column, value and range."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Final

from server.files.season_tables.dictionary import tables
from server.files.sheet_texts import MOST_COLUMNS
from server.files.shots_blocks import Block, BlockReader, TableRow
from server.files.shots_columns import COMPUTED_COLUMNS, KNOWN_COLUMNS, NUMBER_COLUMNS, READ_COLUMNS, REQUIRED_COLUMNS
from server.files.spreadsheets import PLAIN, Reading, Sheet, Source, open_sheet
from server.files.table_faults import FaultCounts, RowFault, TableError, unread
from server.records.shot_fields import SHOT_FIELDS
from server.store.collecting import uncollected

MOST_FAULTS: Final = 20_000
"""Where reading stops: a table with as many bad cells is another table."""
FIRST_ROW: Final = 2
MOST_ROWS_A_BLOCK: Final = 4_096
MOST_LETTERS_A_BLOCK: Final = 16_000_000
"""A block ends with the row that passes either: what it holds stays small, whatever the file holds."""


@dataclass
class Table:
    """The rows that were read, the columns that were passed over, and the fields of a shot whose columns it lacks.
    `taken`: how the file was read, in one line; `remarks`: what wants a look though it can be read."""

    rows: list[TableRow] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    lacking: frozenset[str] = frozenset()
    taken: str = ""
    remarks: FaultCounts = field(default_factory=FaultCounts)


class ShotsSheet:
    """A shots table that was opened: `ignored`, `lacking` and `taken` as in `Table`."""

    def __init__(
        self,
        source: Source,
        player: str | None = None,
        reading: Reading = PLAIN,
        row_of: Callable[[int], int] | None = None,
    ) -> None:
        """`player`: the rows belong to this player; the column `player` may then be missing, and must not name another.
        `row_of`: the row as it is named, where there are several files. Raises TableError."""
        if player is not None and not player.isprintable():
            raise TableError(f"--player: {player!r} holds characters that cannot be stored")
        self._sheet: Sheet = open_sheet(source, KNOWN_COLUMNS, NUMBER_COLUMNS, reading)
        header = self._sheet.header
        _check_header(header, player)
        days = reading.date_format
        self.ignored = [name for name in header if name not in READ_COLUMNS and name not in COMPUTED_COLUMNS]
        self.lacking = frozenset(one.name for one in SHOT_FIELDS if not set(header) & set(one.cells))
        self.taken = f"{self._sheet.taken}, days {days}" if days else self._sheet.taken
        self._row_of = row_of
        self._reader = BlockReader(header, player, days, self._sheet.numbers if self._sheet.marks.matter else None)

    def blocks(self) -> Iterator[Block]:
        """All rows, some thousands at a time, with what is wrong with them. Raises TableError where the file breaks."""
        rows = self._sheet.rows() if self._sheet.marks.matter else self._sheet.untrimmed()
        while True:
            with uncollected():
                block = self._next(rows)
            if block is None:
                return
            yield block

    def _next(self, of_sheet: Iterator[tuple[int, list[str]]]) -> Block | None:
        numbers: list[int] = []
        rows: list[list[str]] = []
        letters = 0
        for number, cells in of_sheet:
            words = "".join(cells)
            if not words or words.isspace():
                continue
            if number == FIRST_ROW and self._sheet.is_book and _are_units(self._sheet.header, cells):
                continue
            numbers.append(self._row_of(number) if self._row_of else number)
            rows.append(cells)
            letters += len(words)
            if len(rows) >= MOST_ROWS_A_BLOCK or letters >= MOST_LETTERS_A_BLOCK:
                break
        return self._reader.read(numbers, rows) if rows else None

    def remarks(self) -> FaultCounts:
        """What wants a look in the blocks that were read."""
        return self._reader.assumed()


def read_table(source: Source, player: str | None = None, reading: Reading = PLAIN) -> Table:
    """Read every row of a file or its bytes. Raises TableError with all faults. `player` as in `ShotsSheet`."""
    sheet = ShotsSheet(source, player, reading)
    table = Table(ignored=sheet.ignored, lacking=sheet.lacking, taken=sheet.taken)
    faults: list[RowFault] = []
    for block in sheet.blocks():
        for of_row in block.faults:
            faults += of_row
            if len(faults) >= MOST_FAULTS:
                words = f"{unread(len(faults))} up to row {of_row[0].row}, where reading stopped"
                raise TableError(words, faults)
        if not faults:
            table.rows += block.rows()
    if faults:
        raise TableError(unread(len(faults)), faults)
    if not table.rows:
        raise TableError("the file has a header and no shots")
    table.remarks = sheet.remarks()
    return table


def _are_units(header: list[str], cells: list[str]) -> bool:
    """True for the row of units that an exported workbook has under its header."""
    units = {column.name: column.unit for column in tables()["shots"].columns}
    return any(cells) and all(
        cell == units.get(name, "") for name, cell in zip_longest(header, cells, fillvalue="") if name
    )


def _check_header(header: list[str], player: str | None) -> None:
    if len(header) > MOST_COLUMNS:
        raise TableError(f"row 1: {len(header)} columns; the most is {MOST_COLUMNS}")
    held = {*header, *(("length_yd",) if "length" in header else ()), *(("player",) if player else ())}
    missing = [name for name in REQUIRED_COLUMNS if name not in held]
    if missing:
        words = f"row 1: missing column {', '.join(missing)} (the header has {', '.join(header)[:200]})"
        if "distance" in missing and any(one.startswith("distance") for one in header):
            words += "; the unit of a distance goes into a column of its own, unit"
        raise TableError(words)
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        raise TableError(f"row 1: column {', '.join(twice)} is there twice")
    if "length" in header and "length_yd" in header:
        raise TableError("row 1: the columns length and length_yd both give the length of the hole; leave one out")
