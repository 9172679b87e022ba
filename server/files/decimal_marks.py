"""Decimal comma or decimal point: one mark for a file, settled by its number cells or by an option.

12,5 has a decimal comma and 12.5 a decimal point; 1,234 may be either a thousand or a decimal comma. A file with commas
that are decimal and no points has a decimal comma. One with both, or with commas that may be either alone, is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from server.files.table_faults import RowFault
from server.records.validation import shown

DECIMALS: Final = {"point": ".", "comma": ","}
OPTION: Final = "decimal"

# A side may follow, as in "8,5 R".
_WITH_POINT: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?(?: ?[A-Za-z]{1,9})?")
_WITH_COMMA: Final = re.compile(r"[+-]?(?:[0-9]+(?:,[0-9]*)?|,[0-9]+)(?:[eE][+-]?[0-9]+)?(?: ?[A-Za-z]{1,9})?")
_COMMA_GROUPS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?(?: ?[A-Za-z]{1,9})?")
_POINT_GROUPS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+(?:,[0-9]*)?(?: ?[A-Za-z]{1,9})?")
_PLAIN: Final = {".": _WITH_POINT, ",": _WITH_COMMA}
_THOUSANDS: Final = {".": _COMMA_GROUPS, ",": _POINT_GROUPS}
"""Numbers in groups of three, by their decimal mark."""


class Typed(str):
    """A cell that a file holds as a number, written with a decimal point: no mark is in question."""

    __slots__ = ()


@dataclass(frozen=True)
class Marks:
    """The decimal mark of a file. `mark`: None where nothing settles it; `given`: it was named by the option; `matter`:
    whether any number cell may hold a comma; `places`: the columns of numbers."""

    mark: str | None
    given: bool
    matter: bool
    places: tuple[int, ...]
    both: bool = False

    @property
    def words(self) -> str:
        """The mark in words."""
        return {".": "decimal point", ",": "decimal comma", None: "decimal mark not settled"}[self.mark]

    def settle(self, row: int, cells: list[str], names: Sequence[str]) -> list[RowFault]:
        """Write the number cells of a row with a decimal point, in place; a fault for each that is not settled."""
        faults = []
        for place in self.places:
            if place >= len(cells):
                break
            cell = cells[place]
            if type(cell) is Typed or ("," not in cell and "." not in cell):
                continue
            wrong = self._wrong(cell)
            if wrong is None:
                cells[place] = _with_point(cell, self.mark or ".")
            elif wrong:
                faults.append(RowFault(row, names[place], wrong[1], shown(cell), kind=wrong[0], option=OPTION))
        return faults

    def _wrong(self, cell: str) -> tuple[str, str] | tuple[()] | None:
        """Kind and words of what is wrong, None for a number, empty for what is no number anyway."""
        if self.mark is None:
            return self._unsettled(cell)
        if _PLAIN[self.mark].fullmatch(cell) or (self.given and _THOUSANDS[self.mark].fullmatch(cell)):
            return None
        other = "," if self.mark == "." else "."
        return _OTHER_MARK[other] if _PLAIN[other].fullmatch(cell) else ()

    def _unsettled(self, cell: str) -> tuple[str, str] | tuple[()]:
        if "," not in cell or not any(one.fullmatch(cell) for one in (_PLAIN[","], *_THOUSANDS.values())):
            return ()
        if self.both:
            return "decimal comma beside decimal points", "one file has one decimal mark: choose it"
        return "a comma that may be decimal or part thousands", "say which decimal mark the file has"


_OTHER_MARK: Final = {
    ",": ("decimal comma", "the decimal mark is the point: write 12.5, or choose the comma"),
    ".": ("decimal point", "the decimal mark is the comma: write 12,5, or choose the point"),
}
"""Kind and words of a number with the other mark, by that mark."""


def _with_point(cell: str, mark: str) -> str:
    if mark == ".":
        return cell.replace(",", "")
    return cell.replace(".", "").replace(",", ".")


def marks_of(
    rows: Callable[[], Iterable[list[str]]], places: Sequence[int], given: str | None, *, commas: bool
) -> Marks:
    """The decimal mark of the number cells in these columns. `commas`: whether any cell may hold a comma; without one
    the rows need not be looked at."""
    if given is not None:
        return Marks(given, given=True, matter=True, places=tuple(places))
    if not commas:
        return Marks(".", given=False, matter=False, places=tuple(places))
    decimal = doubtful = point = False
    for cells in rows():
        if point and "," not in "".join(cells):
            continue  # most rows, looked at as one
        for place in places:
            if place >= len(cells) or type(cells[place]) is Typed:
                continue
            cell = cells[place]
            if "," in cell:
                if _THOUSANDS["."].fullmatch(cell) or _THOUSANDS[","].fullmatch(cell):
                    doubtful = True
                elif _PLAIN[","].fullmatch(cell):
                    decimal = True
            elif not point and "." in cell and _PLAIN["."].fullmatch(cell):
                point = True
    if decimal and not point:
        return Marks(",", given=False, matter=True, places=tuple(places))
    if decimal or doubtful:
        return Marks(None, given=False, matter=True, places=tuple(places), both=point)
    return Marks(".", given=False, matter=False, places=tuple(places))
