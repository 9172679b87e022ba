"""The cells of a shots table: what each may hold, and what is wrong with one that holds something else."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

from server.files.spreadsheet_cells import freed
from server.files.spreadsheets import plain_name
from server.files.table_days import ISO, day_of, forms_of
from server.game import positions, ranges
from server.game.carry import carry_fault
from server.game.lies import GREEN
from server.game.penalties import REASONS
from server.game.units import YARD, default_unit, from_yards, to_yards
from server.records import shot_fields
from server.records.shot_fields import ShotField
from server.records.validation import shown

YES: Final = frozenset({"yes", "y", "true", "1"})
NO: Final = frozenset({"no", "n", "false", "0"})


class CellError(ValueError):
    """What is wrong with one cell, and what may stand there. `kind` and `option` as in `RowFault`."""

    def __init__(self, message: str, range_: str = "", kind: str = "", option: str = "") -> None:
        super().__init__(message)
        self.range, self.kind, self.option = range_, kind, option


def latitude(cell: str, north: float, east: float) -> float | None:
    """Degrees north. Raises CellError, as all of these do."""
    degrees = number(cell, -east, east, "degrees", required=False)
    if degrees is not None and abs(degrees) > north:
        allowed = f"-{north:g} to {north:g} degrees"
        raise CellError(f"{shown(cell)} degrees is outside {allowed}: {positions.SWAPPED}", allowed)
    return degrees


def of_field(field_: ShotField, cell: str) -> Any:
    """The value of a cell that holds one field of a shot. Raises CellError."""
    cell = cell or field_.cell_default
    match field_.type:
        case shot_fields.INTEGER:
            return whole(cell, int(field_.low), int(field_.high))
        case shot_fields.NUMBER:
            bounds = (field_.low, field_.high, field_.unit)
            return number(cell, *bounds, above=field_.above, required=field_.required)
        case shot_fields.CHOICE:
            return choice(cell, field_.one_of, required=field_.required)
        case shot_fields.FLAG:
            stated = _yes_or_no(cell)
            return (
                stated if field_.name == "holed" else bool(stated)
            )  # of a ball that is not holed nothing may be known
        case _:
            return text(cell, field_.longest, required=field_.required)


def disagreements(row: Mapping[str, Any]) -> list[tuple[str, str]]:
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
    return found + _of_position(row)


def player(cell: str, whose: str | None) -> str:
    """The name of the player, `whose` where that is known beforehand."""
    cell = freed(cell)
    if whose is not None and cell not in ("", whose):
        raise CellError(f"{shown(cell)!r} is not {whose!r}, whose rounds are imported", whose)
    return _within(whose or cell, 80, required=True) or ""


def text(cell: str, longest: int, *, required: bool = False) -> str | None:
    """Free words; what export guarded from a spreadsheet is as it was."""
    return _within(freed(cell), longest, required=required)


def _within(words: str, longest: int, *, required: bool = False) -> str | None:
    if not words:
        if required:
            raise CellError("is missing")
        return None
    if len(words) > longest:
        raise CellError(f"{len(words)} characters are more than {longest}", f"1 to {longest} characters")
    return words


def choice(cell: str, names: Sequence[str], *, required: bool = False) -> str | None:
    """One word of a list, in any case."""
    if not cell and not required:
        return None
    if cell in names:
        return cell
    word = plain_name(cell)
    if word not in names:
        raise CellError(f"{shown(cell)!r} is not one of {', '.join(names)}", ", ".join(names))
    return word


def _yes_or_no(cell: str) -> bool | None:
    if not cell:
        return None
    if cell.lower() not in YES | NO:
        raise CellError(f"{shown(cell)!r} is neither yes nor no", "yes, no")
    return cell.lower() in YES


def day(cell: str, form: str | None = None) -> date:
    """A day, written as YYYY-MM-DD or in the form named."""
    found = day_of(cell, form)
    if found is None:
        usual = form or ISO
        example = "2026-05-31" if usual == ISO else usual
        words = f"{shown(cell)!r} is not a day such as {example}"
        if forms := forms_of(cell):
            raise CellError(
                f"{words}; it may be {' or '.join(forms)}: choose one", usual, f"days other than {usual}", "date-format"
            )
        raise CellError(words, usual)
    return found


def length(cell: str, unit: str) -> float | None:
    """The length of a hole in yards; the range is stated in the unit of the cell."""
    found = number(cell, 0, from_yards(ranges.FARTHEST_YD, unit), unit, above=True)
    return None if found is None else to_yards(found, unit)


def _plain(cell: str) -> float:
    """The number in a cell, written with the digits 0 to 9. ValueError for what only Python reads as one (1_000)."""
    if "_" in cell or not cell.isascii():
        raise ValueError
    return float(cell)


def whole(cell: str, low: int, high: int) -> int:
    """A whole number between two bounds, both included."""
    allowed = f"{low} to {high}"
    if not cell:
        raise CellError("is missing", allowed)
    try:
        real = _plain(cell)
        found = int(real)
    except (ValueError, OverflowError) as error:
        raise CellError(f"{shown(cell)!r} is not a whole number", allowed) from error
    if found != real:
        raise CellError(f"{shown(cell)!r} is not a whole number", allowed)
    if not low <= found <= high:
        raise CellError(f"{shown(cell)} is outside {allowed}", allowed)
    return found


def number(
    cell: str, low: float, high: float, unit: str, *, above: bool = False, required: bool = True
) -> float | None:
    """A finite number between two bounds, the lower one left out where `above`."""
    allowed = f"{low:g} to {high:g} {unit}"
    if not cell:
        if required:
            raise CellError("is missing", allowed)
        return None
    try:
        found = _plain(cell)
    except ValueError as error:
        raise CellError(f"{shown(cell)!r} is not a number", allowed) from error
    if not math.isfinite(found):
        raise CellError(f"{shown(cell)!r} is not a finite number", allowed)
    if found < low or found > high or (above and found == low):
        raise CellError(f"{shown(cell)} {unit} is outside {allowed}", allowed)
    return found


def distance(cell: str, unit: str | None, lie: str | None, *, required: bool = False) -> float | None:
    """A distance to the hole in yards; the range is stated in the unit of the cell."""
    unit = unit or default_unit(lie or YARD)
    most = ranges.FARTHEST_ON_GREEN_YD if lie == GREEN else ranges.FARTHEST_YD
    high = from_yards(most, unit)
    found = number(cell, 0, high, unit, above=True, required=required)
    return None if found is None else to_yards(found, unit)


def _of_position(row: Mapping[str, Any]) -> list[tuple[str, str]]:
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
