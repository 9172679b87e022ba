"""Reading a table of practice balls (CSV or XLSX): plain column names, units by column, row or table; every bad cell is
named by row, column, value and range.

Columns, in any order and in either case: `club`; `carry`, `total`, `offline`, `target` (yards by default);
`length`, `left` (feet by default), `holed`; and if wanted `units`, `date`, `place`, `swing`, `lie`,
`strike`, `planned_shape`, `actual_shape`. A row with a length is a putt. A unit may be in the header, as in
"carry (m)".
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import Any, Final

from server.files.sheet_texts import MOST_COLUMNS
from server.files.shots_blocks import LONGEST_LABEL
from server.files.shots_cells import NO, YES
from server.files.shots_rows import MOST_FAULTS
from server.files.spreadsheet_cells import freed
from server.files.spreadsheets import PLAIN, Reading, Sheet, Source, open_sheet
from server.files.table_days import ISO, day_of, forms_of
from server.files.table_faults import RowFault, TableError, unread
from server.game.practice import PLACES, PUTTING_GREEN, RANGE, practice_fault
from server.game.units import FOOT, METRE, YARD, from_yards, to_yards
from server.records.json_types import RecordBody
from server.records.practice_fields import BALL_FIELDS
from server.records.shot_fields import ShotField
from server.records.validation import shown

MOST_ROWS: Final = 30_000
UNIT_WORDS: Final = {
    "yd": YARD, "yds": YARD, "yard": YARD, "yards": YARD, "m": METRE, "metre": METRE, "metres": METRE, "meter": METRE,
    "meters": METRE, "ft": FOOT, "foot": FOOT, "feet": FOOT,
}  # fmt: skip
"""What a cell or a header may call a unit."""

FIELDS: Final = {one.name: one for one in BALL_FIELDS}
LENGTHS: Final = {"carry": "carry_yd", "total": "total_yd", "offline": "right_yd", "target": "target_yd"}
PUTT_LENGTHS: Final = {"length": "length_ft", "left": "left_ft"}
WORDS: Final = ("swing", "lie", "strike", "planned_shape", "actual_shape")
COLUMNS: Final = ("club", *LENGTHS, *PUTT_LENGTHS, "holed", "units", "date", "place", *WORDS)
NUMBERS: Final = frozenset({*LENGTHS, *PUTT_LENGTHS})
COLUMN_OF: Final = {name: column for column, name in (LENGTHS | PUTT_LENGTHS).items()}

_SIDE: Final = re.compile(r"([+-]?)([0-9]+(?:\.[0-9]*)?|\.[0-9]+)(r|right|l|left)?", re.IGNORECASE)
_BRACKETS: Final = {")": "(", "]": "["}


@dataclass(frozen=True)
class PracticeRow:
    """One ball of a table. `row` counts as a spreadsheet does; `body`: its fields but session, order and club."""

    row: int
    day: date
    place: str
    club: str | None
    body: RecordBody


@dataclass
class PracticeTable:
    """The rows that were read, the columns that were passed over, and how the file was read, in one line."""

    rows: list[PracticeRow] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    taken: str = ""


class _CellError(ValueError):
    """What is wrong with one cell, and what may stand there."""

    def __init__(self, message: str, range_: str = "") -> None:
        super().__init__(message)
        self.range = range_


def read_practice(
    source: Source,
    *,
    day: date | None = None,
    place: str | None = None,
    unit: str | None = None,
    reading: Reading = PLAIN,
) -> PracticeTable:
    """Read every row of a file or its bytes. Raises TableError with all faults. `day`, `place`, `unit`: of rows that
    say none themselves; without a place a putt is of the putting green, another ball of the range."""
    sheet = open_sheet(source, COLUMNS, NUMBERS, reading, lambda title: _name_and_unit(title)[0])
    units, ignored = _header(sheet)
    days = reading.date_format
    table = PracticeTable(ignored=ignored, taken=f"{sheet.taken}, days {days}" if days else sheet.taken)
    faults: list[RowFault] = []
    for number, cells in sheet.rows():
        if len(cells) > len(sheet.header):
            faults.append(RowFault(number, "row", f"{len(cells)} cells are under {len(sheet.header)} columns"))
        else:
            unsettled = sheet.numbers(number, cells)
            record = dict(zip(sheet.header, cells, strict=False))
            row, found = _Row(number, record, units, unit, days).read(day, place)
            named = {fault.column for fault in unsettled}
            faults += [*unsettled, *(fault for fault in found if fault.column not in named)]
            if row is not None:
                table.rows.append(row)
        if len(faults) >= MOST_FAULTS:
            raise TableError(f"{unread(len(faults))} up to row {number}, where reading stopped", faults)
        if len(table.rows) > MOST_ROWS:
            raise TableError(f"the table has more than {MOST_ROWS} balls; split it")
    if faults:
        raise TableError(unread(len(faults)), faults)
    if not table.rows:
        raise TableError("the file has a header and no balls")
    return table


def _name_and_unit(title: str) -> tuple[str, str | None]:
    """The plain name of a column, and the unit that its title tells, as in "carry (m)"."""
    name = " ".join(title.lower().split())
    before, _, inside = name.rpartition(_BRACKETS.get(name[-1:], "\0"))
    unit = UNIT_WORDS.get(inside[:-1].strip()) if before else None
    name = (before if unit else name).strip().replace(" ", "_")
    return {"unit": "units", "distance": "length"}.get(name, name), unit


def _header(sheet: Sheet) -> tuple[dict[str, str], list[str]]:
    """The units that the header tells, and the columns that are not known."""
    names = sheet.header
    if len(names) > MOST_COLUMNS:
        raise TableError(f"row 1: {len(names)} columns; the most is {MOST_COLUMNS}")
    units = {name: unit for name, unit in map(_name_and_unit, sheet.titles) if unit}
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise TableError(f"row 1: column {', '.join(twice)} is there twice")
    if not {*LENGTHS, "length"} & set(names):
        known = ", ".join(COLUMNS)
        raise TableError(f"row 1: no column shows where a ball finished; the columns are {known}")
    return units, [name for name in names if name and name not in COLUMNS]


class _Row:
    """Reads the cells of one row."""

    def __init__(
        self, number: int, record: dict[str, str], units: dict[str, str], unit: str | None, days: str | None
    ) -> None:
        self.number, self.record, self.units, self.unit, self.days = number, record, units, unit, days
        self.faults: list[RowFault] = []

    def read(self, day: date | None, place: str | None) -> tuple[PracticeRow | None, list[RowFault]]:
        """The row, None with its faults."""
        self.unit = self._cell("units", _unit) or self.unit
        putt = bool(self.record.get("length"))
        found: dict[str, Any] = {}
        for column, name in (LENGTHS | PUTT_LENGTHS).items():
            found[name] = self._cell(column, partial(self._length, column, FIELDS[name]))
        for name in WORDS:
            found[name] = self._cell(name, partial(_choice, FIELDS[name].one_of))
        found["holed"] = bool(self._cell("holed", _yes_or_no))
        played = self._cell("date", partial(_day, self.days)) or day
        if played is None and not self._has("date"):
            self.faults.append(
                RowFault(self.number, "date", "is missing: name the day of the session", "", "YYYY-MM-DD")
            )
        where = self._cell("place", partial(_choice, PLACES)) or place
        club = self._cell("club", _label)
        if club is None and not putt and not self._has("club"):
            self.faults.append(RowFault(self.number, "club", "is missing", "", f"1 to {LONGEST_LABEL} characters"))
        body = {name: value for name, value in found.items() if value is not None and value is not False}
        if not self.faults and not {*LENGTHS.values(), "length_ft", "left_ft"} & body.keys():
            self.faults.append(RowFault(self.number, "row", "does not show where the ball finished"))
        if not self.faults and (wrong := practice_fault(body)):
            column = COLUMN_OF.get(wrong[0], wrong[0])
            self.faults.append(RowFault(self.number, column, wrong[1], shown(self.record.get(column, ""))))
        if self.faults or played is None:
            return None, self.faults
        usual = PUTTING_GREEN if putt else RANGE
        return PracticeRow(self.number, played, where or usual, club, body), []

    def _has(self, column: str) -> bool:
        return any(fault.column == column for fault in self.faults)

    def _cell(self, column: str, read: Callable[[str], Any]) -> Any:
        cell = self.record.get(column, "")
        if not cell:
            return None
        try:
            return read(cell)
        except _CellError as wrong:
            self.faults.append(RowFault(self.number, column, str(wrong), shown(cell), wrong.range))
            return None

    def _length(self, column: str, of: ShotField, cell: str) -> float:
        """A length in the unit of the field; the range is named in the unit of the cell."""
        usual = FOOT if column in PUTT_LENGTHS else YARD
        unit = self.units.get(column) or self.unit or usual
        low, high = (from_yards(to_yards(end, of.unit), unit) for end in (of.low, of.high))
        between = f"{low:g} to {high:g} {unit}"
        allowed = f"above {between}" if of.above else between
        number = _side(cell, allowed) if column == "offline" else _number(cell, allowed)
        if not low <= number <= high or (of.above and number == low):
            raise _CellError(f"{shown(cell)} {unit} is outside {between}", allowed)
        return number if unit == of.unit else from_yards(to_yards(number, unit), of.unit)


def _number(cell: str, allowed: str) -> float:
    try:
        if "_" in cell or not cell.isascii():
            raise ValueError
        number = float(cell)
    except ValueError as error:
        raise _CellError(f"{shown(cell)!r} is not a number", allowed) from error
    if not math.isfinite(number):
        raise _CellError(f"{shown(cell)!r} is not a finite number", allowed)
    return number


def _side(cell: str, allowed: str) -> float:
    """Right of the line is positive: "12", "-8", "12 R", "8L"."""
    found = _SIDE.fullmatch("".join(freed(cell).split()))
    if found is None:
        raise _CellError(f"{shown(cell)!r} is not a number such as -8, 12 R or 8L", allowed)
    sign, digits, side = found.groups()
    if side and sign:
        raise _CellError(f"{shown(cell)!r} has a sign and a side: give one of them", allowed)
    left = sign == "-" or (side or "").lower().startswith("l")
    return -float(digits) if left else float(digits)


def _unit(cell: str) -> str:
    if cell.lower() not in UNIT_WORDS:
        raise _CellError(f"{shown(cell)!r} is not yards, metres or feet", "yards, metres, feet")
    return UNIT_WORDS[cell.lower()]


def _choice(names: tuple[str, ...], cell: str) -> str:
    word = cell.lower().replace(" ", "_")
    if word not in names:
        raise _CellError(f"{shown(cell)!r} is not one of {', '.join(names)}", ", ".join(names))
    return word


def _yes_or_no(cell: str) -> bool:
    if cell.lower() not in YES | NO:
        raise _CellError(f"{shown(cell)!r} is neither yes nor no", "yes, no")
    return cell.lower() in YES


def _day(form: str | None, cell: str) -> date:
    day = day_of(cell, form)
    if day is None:
        words = f"{shown(cell)!r} is not a day such as {form or '2026-05-31'}"
        if forms := forms_of(cell):
            words += f"; it may be {' or '.join(forms)}: choose one"
        raise _CellError(words, form or ISO)
    return day


def _label(cell: str) -> str:
    words = freed(cell)
    if not 0 < len(words) <= LONGEST_LABEL:
        raise _CellError(f"{len(words)} characters are not 1 to {LONGEST_LABEL}", f"1 to {LONGEST_LABEL} characters")
    return words
