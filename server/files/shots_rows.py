"""Reading a shots table (CSV, UTF-8) cell by cell; every bad cell is named by row, column, value and range."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, TypeAlias

from server.files.shots_columns import COMPUTED_COLUMNS, IMPORT_COLUMNS, REQUIRED_COLUMNS
from server.files.spreadsheet_cells import freed
from server.game import ranges
from server.game.lies import GREEN
from server.game.order_of_play import KINDS, PRACTICE
from server.game.penalties import REASONS
from server.game.units import UNITS, YARD, default_unit, from_yards, to_yards
from server.records import shot_fields
from server.records.schemas import LONGEST_BALL_LABEL
from server.records.shot_fields import BY_NAME, SHOT_FIELDS, ShotField
from server.records.validation import shown

LONGEST_CELL: Final = 131_072
LONGEST_LABEL: Final = 60
MOST_COLUMNS: Final = 200
MOST_FAULTS: Final = 20_000
"""Where reading stops: a table with as many bad cells is another table."""
LARGEST_FILE: Final = 100_000_000
"""Bytes of one file: about 1,000,000 shots."""
YES: Final = frozenset({"yes", "y", "true", "1"})
NO: Final = frozenset({"no", "n", "false", "0"})


@dataclass(frozen=True)
class RowFault:
    """One bad cell. `row` counts as a spreadsheet does: the header is row 1. `message` says all, with the value as it
    stands in the cell and the range, which are also told by themselves."""

    row: int
    column: str
    message: str
    value: str = ""
    range: str = ""

    def __str__(self) -> str:
        return f"row {self.row}, {self.column}: {self.message}"


class TableError(ValueError):
    """A table that cannot be read at all, or whose rows have faults."""

    def __init__(self, message: str, faults: Sequence[RowFault] = ()) -> None:
        super().__init__(message)
        self.faults = list(faults)


TableRow: TypeAlias = MutableMapping[str, Any]
"""A row of a table without faults: one shot. Its keys are the fields of `SHOT_FIELDS`, those of the round and the hole,
and `row`, which counts as a spreadsheet does; `picked_up` follows from the rows of the same ball."""


@dataclass
class Table:
    """The rows that were read, the columns that were passed over, and the fields of a shot whose columns it lacks."""

    rows: list[TableRow] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    lacking: frozenset[str] = frozenset()


class _CellError(ValueError):
    """What is wrong with one cell, and what may stand there."""

    def __init__(self, message: str, range_: str = "") -> None:
        super().__init__(message)
        self.range = range_


def read_table(content: bytes, player: str | None = None) -> Table:
    """Read every row. Raises TableError with all faults.

    `player`: the rows belong to this player; the column `player` may then be missing, and must not name another.
    """
    if len(content) > LARGEST_FILE:
        raise TableError(f"the file has {len(content) / 1e6:.0f} MB; the most is {LARGEST_FILE / 1e6:.0f} MB")
    try:
        words = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise TableError(f"the file is not UTF-8: byte {error.start} cannot be read") from error
    if not words.strip():
        raise TableError("the file is empty: a header and at least one shot are needed")
    if "\0" in words:
        raise TableError("the file holds NUL characters: it is not a CSV")
    if player is not None and not player.isprintable():
        raise TableError(f"--player: {player!r} holds characters that cannot be kept")
    try:
        csv.field_size_limit(LONGEST_CELL)  # other libraries raise this limit for the whole process
        return _read_rows(csv.reader(io.StringIO(words, newline=""), strict=True), player)
    except csv.Error as error:
        if "field limit" in str(error):
            raise TableError(f"a cell has more than {LONGEST_CELL} characters, or a quote is not closed") from error
        raise TableError(f"the file is not a CSV: {error}") from error


def _read_rows(reader: Any, player: str | None) -> Table:
    """The header and every row below it. Raises as `read_table`; csv.Error where quotes do not match."""
    header = [name.strip() for name in next(reader, [])]
    _check_header(header, player)
    known = set(IMPORT_COLUMNS)
    table = Table(
        ignored=[name for name in header if name not in known and name not in COMPUTED_COLUMNS],
        lacking=frozenset(one.name for one in SHOT_FIELDS if not set(header) & set(one.cells)),
    )
    faults: list[RowFault] = []
    for number, cells in enumerate(reader, start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(header):
            faults.append(RowFault(number, "row", f"{len(cells)} cells stand under {len(header)} columns"))
        else:
            record = dict(zip(header, (cell.strip() for cell in cells), strict=False))
            row, found = _read_row(record, number, player)
            table.rows.append(row)
            faults += found
        if len(faults) >= MOST_FAULTS:
            raise TableError(f"{len(faults)} cells cannot be taken up to row {number}, where reading stopped", faults)
    if faults:
        raise TableError(f"{len(faults)} cells cannot be taken", faults)
    if not table.rows:
        raise TableError("the file has a header and no shots")
    return table


def _check_header(header: list[str], player: str | None) -> None:
    if len(header) > MOST_COLUMNS:
        raise TableError(f"row 1: {len(header)} columns; the most is {MOST_COLUMNS}")
    missing = [name for name in REQUIRED_COLUMNS if name not in header and not (player and name == "player")]
    if missing:
        raise TableError(f"row 1: missing column {', '.join(missing)} (the header has {', '.join(header)[:200]})")
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        raise TableError(f"row 1: column {', '.join(twice)} stands twice")


def _read_row(record: dict[str, str], number: int, player: str | None) -> tuple[TableRow, list[RowFault]]:
    row: TableRow = {"row": number}
    faults: list[RowFault] = []

    def read_cell(column: str, name: str, read: Callable[[str], Any]) -> None:
        try:
            row[name] = read(record.get(column, ""))
        except _CellError as wrong:
            faults.append(RowFault(number, column, str(wrong), shown(record.get(column, "")), wrong.range))
            row[name] = None

    read_cell("player", "player", lambda cell: _player(cell, player))
    read_cell("round_id", "round_id", lambda cell: _text(cell, 60))
    read_cell("shot_id", "shot_id", lambda cell: _text(cell, 60))
    read_cell("played_on", "played_on", _day)
    read_cell("kind", "kind", lambda cell: _choice(cell, KINDS) or PRACTICE)
    read_cell("course", "course", lambda cell: _text(cell, 120))
    read_cell("tees", "tees", lambda cell: _text(cell, 60))
    read_cell("ball_label", "ball_label", lambda cell: _text(cell, LONGEST_BALL_LABEL))
    read_cell("hole", "hole", lambda cell: _of_field(BY_NAME["hole"], cell))
    read_cell("par", "par", lambda cell: _whole(cell, ranges.LOWEST_PAR, ranges.HIGHEST_PAR))
    read_cell("length_yd", "length_yd", lambda cell: _number(cell, 0, ranges.FARTHEST_YD, "yd", above=True))
    for field_ in SHOT_FIELDS:
        if field_.name != "hole":
            _read_field(field_, row, read_cell)
    for column, message in _disagreements(row):
        faults.append(RowFault(number, column, message, shown(record.get(column, ""))))
    return row, faults


def _read_field(field_: ShotField, row: TableRow, read_cell: Callable[..., None]) -> None:
    """Read the cells of one field of a shot."""
    column, *units = field_.cells or ("",)
    if units:
        lie = row["end_lie" if field_.name.startswith("end_") else "lie"]
        read_cell(units[0], units[0], lambda cell: _choice(cell, UNITS))
        unit = row[units[0]]
        read_cell(column, field_.name, lambda cell: _distance(cell, unit, lie, required=field_.required))
    elif field_.type == shot_fields.ID and column:
        read_cell(column, column, lambda cell: _text(cell, LONGEST_LABEL, required=True))
    elif column:
        read_cell(column, field_.name, lambda cell: _of_field(field_, cell))


def _of_field(field_: ShotField, cell: str) -> Any:
    """The value of a cell that holds one field of a shot. Raises _CellError."""
    cell = cell or field_.cell_default
    match field_.type:
        case shot_fields.INTEGER:
            return _whole(cell, int(field_.low), int(field_.high))
        case shot_fields.NUMBER:
            bounds = (field_.low, field_.high, field_.unit)
            return _number(cell, *bounds, above=field_.above, required=field_.required)
        case shot_fields.CHOICE:
            return _choice(cell, field_.one_of, required=field_.required)
        case shot_fields.FLAG:
            stated = _yes_or_no(cell)
            return (
                stated if field_.name == "holed" else bool(stated)
            )  # of a ball that is not holed nothing may be known
        case _:
            return _text(cell, field_.longest, required=field_.required)


def _disagreements(row: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What the cells of one row say against each other."""
    found = []
    if (row["end_lie"] is None) != (row["end_distance_yd"] is None):
        found.append(("end_distance", "an end needs both end_lie and end_distance"))
    if row["holed"] and row["end_lie"] is not None:
        found.append(("holed", "a holed shot has no other end"))
    if row["penalty_strokes"] and row["penalty_reason"] is None:
        words = f"{row['penalty_strokes']} penalty strokes need a reason ({', '.join(REASONS)})"
        found.append(("penalty_reason", words))
    if row["provisional"] and row["ball"] == 1:
        found.append(("provisional", "a provisional ball has a number above 1"))
    return found


def _player(cell: str, player: str | None) -> str:
    cell = freed(cell)
    if player is not None and cell not in ("", player):
        raise _CellError(f"{shown(cell)!r} is not {player!r}, whose rounds are imported", player)
    return _within(player or cell, 80, required=True) or ""


def _text(cell: str, longest: int, *, required: bool = False) -> str | None:
    """Free words; what export guarded from a spreadsheet is as it was."""
    return _within(freed(cell), longest, required=required)


def _within(words: str, longest: int, *, required: bool = False) -> str | None:
    if not words:
        if required:
            raise _CellError("is missing")
        return None
    if len(words) > longest:
        raise _CellError(f"{len(words)} characters are more than {longest}", f"1 to {longest} characters")
    return words


def _choice(cell: str, names: Sequence[str], *, required: bool = False) -> str | None:
    if not cell and not required:
        return None
    if cell not in names:
        raise _CellError(f"{shown(cell)!r} is not one of {', '.join(names)}", ", ".join(names))
    return cell


def _yes_or_no(cell: str) -> bool | None:
    if not cell:
        return None
    if cell.lower() not in YES | NO:
        raise _CellError(f"{shown(cell)!r} is neither yes nor no", "yes, no")
    return cell.lower() in YES


def _day(cell: str) -> date:
    try:
        if len(cell) != len("2026-05-31") or "W" in cell:
            raise ValueError
        return date.fromisoformat(cell)
    except ValueError as error:
        raise _CellError(f"{shown(cell)!r} is not a day such as 2026-05-31", "YYYY-MM-DD") from error


def _plain(cell: str) -> float:
    """The number in a cell, written with the digits 0 to 9. ValueError for what only Python reads as one (1_000)."""
    if "_" in cell or not cell.isascii():
        raise ValueError
    return float(cell)


def _whole(cell: str, low: int, high: int) -> int:
    allowed = f"{low} to {high}"
    if not cell:
        raise _CellError("is missing", allowed)
    try:
        number = _plain(cell)
        whole = int(number)
    except (ValueError, OverflowError) as error:
        raise _CellError(f"{shown(cell)!r} is not a whole number", allowed) from error
    if whole != number:
        raise _CellError(f"{shown(cell)!r} is not a whole number", allowed)
    if not low <= whole <= high:
        raise _CellError(f"{shown(cell)} is outside {allowed}", allowed)
    return whole


def _number(
    cell: str, low: float, high: float, unit: str, *, above: bool = False, required: bool = True
) -> float | None:
    allowed = f"{low:g} to {high:g} {unit}"
    if not cell:
        if required:
            raise _CellError("is missing", allowed)
        return None
    try:
        number = _plain(cell)
    except ValueError as error:
        raise _CellError(f"{shown(cell)!r} is not a number", allowed) from error
    if not math.isfinite(number):
        raise _CellError(f"{shown(cell)!r} is not a finite number", allowed)
    if number < low or number > high or (above and number == low):
        raise _CellError(f"{shown(cell)} {unit} is outside {allowed}", allowed)
    return number


def _distance(cell: str, unit: str | None, lie: str | None, *, required: bool = False) -> float | None:
    """A distance to the hole in yards; the range is stated in the unit of the cell."""
    unit = unit or default_unit(lie or YARD)
    most = ranges.FARTHEST_ON_GREEN_YD if lie == GREEN else ranges.FARTHEST_YD
    high = from_yards(most, unit)
    number = _number(cell, 0, high, unit, above=True, required=required)
    return None if number is None else to_yards(number, unit)
