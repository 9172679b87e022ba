"""Reading a shots table (CSV or XLSX) cell by cell; every bad cell is named by row, column, value and range."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import zip_longest
from typing import Any, Final, TypeAlias

from server.files.season_tables.dictionary import tables
from server.files.sheet_texts import MOST_COLUMNS
from server.files.shots_columns import COMPUTED_COLUMNS, NUMBER_COLUMNS, READ_COLUMNS, REQUIRED_COLUMNS
from server.files.spreadsheet_cells import freed
from server.files.spreadsheets import PLAIN, Reading, Source, open_sheet, plain_name
from server.files.table_days import ISO, day_of, forms_of
from server.files.table_faults import RowFault, TableError
from server.game import positions, ranges
from server.game.carry import carry_fault
from server.game.lengths_taken import LENGTHS_TAKEN
from server.game.lies import GREEN
from server.game.order_of_play import KINDS, PRACTICE
from server.game.penalties import REASONS
from server.game.units import FOOT, METRE, UNITS, YARD, default_unit, from_yards, to_yards
from server.records import shot_fields
from server.records.schemas import LONGEST_BALL_LABEL
from server.records.shot_fields import BY_NAME, SHOT_FIELDS, ShotField
from server.records.validation import shown

LONGEST_LABEL: Final = 60
MOST_FAULTS: Final = 20_000
"""Where reading stops: a table with as many bad cells is another table."""
YES: Final = frozenset({"yes", "y", "true", "1"})
NO: Final = frozenset({"no", "n", "false", "0"})
FIRST_ROW: Final = 2
FIRST_ROUND: Final = "1"
"""The round of a row that does not say which of its day it belongs to."""
WORDS_OF: Final = {FOOT: "feet", YARD: "yards"}


TableRow: TypeAlias = MutableMapping[str, Any]
"""A row of a table without faults: one shot. Its keys are the fields of `SHOT_FIELDS`, those of the round and the hole,
and `row`, which counts as a spreadsheet does; `picked_up` follows from the rows of the same ball."""


@dataclass
class Table:
    """The rows that were read, the columns that were passed over, and the fields of a shot whose columns it lacks.
    `taken`: how the file was read, in one line; `remarks`: what wants a look though it can be read."""

    rows: list[TableRow] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    lacking: frozenset[str] = frozenset()
    taken: str = ""
    remarks: list[RowFault] = field(default_factory=list)


class _CellError(ValueError):
    """What is wrong with one cell, and what may stand there. `kind` and `option` as in `RowFault`."""

    def __init__(self, message: str, range_: str = "", kind: str = "", option: str = "") -> None:
        super().__init__(message)
        self.range, self.kind, self.option = range_, kind, option


def read_table(source: Source, player: str | None = None, reading: Reading = PLAIN) -> Table:
    """Read every row of a file or its bytes. Raises TableError with all faults.

    `player`: the rows belong to this player; the column `player` may then be missing, and must not name another.
    """
    if player is not None and not player.isprintable():
        raise TableError(f"--player: {player!r} holds characters that cannot be stored")
    sheet = open_sheet(source, READ_COLUMNS, NUMBER_COLUMNS, reading)
    header = sheet.header
    _check_header(header, player)
    days = reading.date_format
    table = Table(
        ignored=[name for name in header if name not in READ_COLUMNS and name not in COMPUTED_COLUMNS],
        lacking=frozenset(one.name for one in SHOT_FIELDS if not set(header) & set(one.cells)),
        taken=f"{sheet.taken}, days {days}" if days else sheet.taken,
    )
    faults: list[RowFault] = []
    for number, cells in sheet.rows():
        if number == FIRST_ROW and sheet.is_book and _are_units(header, cells):
            continue
        if len(cells) > len(header):
            faults.append(RowFault(number, "row", f"{len(cells)} cells are under {len(header)} columns"))
        else:
            unsettled = sheet.numbers(number, cells)
            row, found = _read_row(dict(zip(header, cells, strict=False)), number, player, days)
            table.rows.append(row)
            if unsettled:
                named = {fault.column for fault in unsettled}
                found = [*unsettled, *(fault for fault in found if fault.column not in named)]
            faults += found
        if len(faults) >= MOST_FAULTS:
            raise TableError(f"{len(faults)} cells cannot be read up to row {number}, where reading stopped", faults)
    if faults:
        raise TableError(f"{len(faults)} cells cannot be read", faults)
    if not table.rows:
        raise TableError("the file has a header and no shots")
    table.remarks = _remarks(table.rows)
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
        raise TableError(f"row 1: missing column {', '.join(missing)} (the header has {', '.join(header)[:200]})")
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        raise TableError(f"row 1: column {', '.join(twice)} is there twice")
    if "length" in header and "length_yd" in header:
        raise TableError("row 1: the columns length and length_yd both give the length of the hole; leave one out")


def _remarks(rows: Sequence[TableRow]) -> list[RowFault]:
    """Units that a metric table leaves to be assumed."""
    if not any(METRE in (row["unit"], row["end_unit"], row["length_unit"]) for row in rows):
        return []
    return [
        RowFault(
            row["row"],
            unit,
            f"the table has lengths in metres; where the column {unit} is blank, feet are taken on the green and yards "
            "elsewhere",
            kind=f"{WORDS_OF[default_unit(row[lie])]} assumed{' on the green' if row[lie] == GREEN else ''}",
        )
        for row in rows
        for unit, lie, length in (("unit", "lie", "distance_yd"), ("end_unit", "end_lie", "end_distance_yd"))
        if row[unit] is None and row[length] is not None
    ]


def _read_row(
    record: dict[str, str], number: int, player: str | None, days: str | None
) -> tuple[TableRow, list[RowFault]]:
    row: TableRow = {"row": number}
    faults: list[RowFault] = []

    def read_cell(column: str, name: str, read: Callable[[str], Any]) -> None:
        try:
            row[name] = read(record.get(column, ""))
        except _CellError as wrong:
            cell = shown(record.get(column, ""))
            faults.append(RowFault(number, column, str(wrong), cell, wrong.range, wrong.kind, wrong.option))
            row[name] = None

    read_cell("player", "player", lambda cell: _player(cell, player))
    read_cell("round_id", "round_id", lambda cell: _text(cell, 60))
    read_cell("shot_id", "shot_id", lambda cell: _text(cell, 60))
    read_cell("round", "round", lambda cell: (_text(cell, LONGEST_LABEL) or FIRST_ROUND).lower())
    read_cell("played_on", "played_on", lambda cell: _day(cell, days))
    read_cell("kind", "kind", lambda cell: _choice(cell, KINDS) or PRACTICE)
    read_cell("course", "course", lambda cell: _text(cell, 120))
    read_cell("tees", "tees", lambda cell: _text(cell, 60))
    read_cell("ball_label", "ball_label", lambda cell: _text(cell, LONGEST_BALL_LABEL))
    read_cell("lengths_taken", "lengths_taken", lambda cell: _choice(cell, LENGTHS_TAKEN))
    read_cell("hole", "hole", lambda cell: _of_field(BY_NAME["hole"], cell))
    read_cell("par", "par", lambda cell: _whole(cell, ranges.LOWEST_PAR, ranges.HIGHEST_PAR))
    row["length_unit"] = None
    if "length" in record:
        read_cell("length_unit", "length_unit", lambda cell: _choice(cell, UNITS, required=True))
        unit = row["length_unit"] or YARD
        read_cell("length", "length_yd", lambda cell: _length(cell, unit))
    else:
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
    if field_.type == shot_fields.POSITION:
        _read_position(row, read_cell)
    elif units:
        lie = row["end_lie" if field_.name.startswith("end_") else "lie"]
        read_cell(units[0], units[0], lambda cell: _choice(cell, UNITS))
        unit = row[units[0]]
        read_cell(column, field_.name, lambda cell: _distance(cell, unit, lie, required=field_.required))
    elif field_.type == shot_fields.ID and column:
        read_cell(column, column, lambda cell: _text(cell, LONGEST_LABEL, required=True))
    elif column:
        read_cell(column, field_.name, lambda cell: _of_field(field_, cell))


def _read_position(row: TableRow, read_cell: Callable[..., None]) -> None:
    """Longitude, latitude and accuracy of one shot: `position` is their list, None where neither degree is given."""
    east, north, most = positions.FARTHEST_EAST_DEG, positions.FARTHEST_NORTH_DEG, positions.MOST_ACCURACY_M
    read_cell("lon", "lon", lambda cell: _number(cell, -east, east, "degrees", required=False))
    read_cell("lat", "lat", lambda cell: _latitude(cell, north, east))
    read_cell("accuracy_m", "accuracy_m", lambda cell: _number(cell, 0, most, "m", required=False))
    given = [row[name] for name in ("lon", "lat", "accuracy_m") if row[name] is not None]
    row["position"] = given if row["lon"] is not None and row["lat"] is not None else None


def _latitude(cell: str, north: float, east: float) -> float | None:
    degrees = _number(cell, -east, east, "degrees", required=False)
    if degrees is not None and abs(degrees) > north:
        allowed = f"-{north:g} to {north:g} degrees"
        raise _CellError(f"{shown(cell)} degrees is outside {allowed}: {positions.SWAPPED}", allowed)
    return degrees


def _position_disagreements(row: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What the three cells of a position say against each other."""
    lon, lat = row["lon"], row["lat"]
    if lon is None and lat is None:
        return [] if row["accuracy_m"] is None else [("accuracy_m", "an accuracy needs both lon and lat")]
    if lon is None or lat is None:
        name = "lon" if lon is None else "lat"
        return [(name, "is missing: a position needs both lon and lat")]
    if fault := positions.position_fault(row["position"]):
        return [("lon", fault)]
    if positions.is_rounded(lon, lat):
        words = f"{lon:g} and lat {lat:g} have {positions.ROUNDED_DECIMALS} decimals or fewer, which is right to 111 m"
        return [("lon", f"{words}; a position needs 4 or more, or none is given")]
    return []


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
    if row["lie"] is not None and row["distance_yd"] is not None and (fault := carry_fault(row)):
        found.append(("carry_yd", fault))
    if row["provisional"] and row["ball"] == 1:
        found.append(("provisional", "a provisional ball has a number above 1"))
    return found + _position_disagreements(row)


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
    if cell in names:
        return cell
    word = plain_name(cell)
    if word not in names:
        raise _CellError(f"{shown(cell)!r} is not one of {', '.join(names)}", ", ".join(names))
    return word


def _yes_or_no(cell: str) -> bool | None:
    if not cell:
        return None
    if cell.lower() not in YES | NO:
        raise _CellError(f"{shown(cell)!r} is neither yes nor no", "yes, no")
    return cell.lower() in YES


def _day(cell: str, form: str | None = None) -> date:
    day = day_of(cell, form)
    if day is None:
        usual = form or ISO
        example = "2026-05-31" if usual == ISO else usual
        words = f"{shown(cell)!r} is not a day such as {example}"
        if forms := forms_of(cell):
            raise _CellError(
                f"{words}; it may be {' or '.join(forms)}: choose one", usual, f"days other than {usual}", "date-format"
            )
        raise _CellError(words, usual)
    return day


def _length(cell: str, unit: str) -> float | None:
    """The length of a hole in yards; the range is stated in the unit of the cell."""
    number = _number(cell, 0, from_yards(ranges.FARTHEST_YD, unit), unit, above=True)
    return None if number is None else to_yards(number, unit)


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
