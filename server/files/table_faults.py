"""What is wrong with a table: each bad cell by row, column, value and range, and many equal ones in one line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

ONE_BY_ONE: Final = 3
"""Up to so many equal faults are listed one by one; more are counted in one line."""

_VALUES: Final = re.compile(r"'[^']*'|\d+(?:\.\d+)?")


@dataclass(frozen=True)
class RowFault:
    """One bad cell, or one that wants a look. `row` counts as a spreadsheet does: the header is row 1. `message` says
    all, with the value as it is in the cell and the range, which are also given by themselves. `kind`: faults of one
    kind are counted together over all columns; without it those of one column whose words differ in numbers and quoted
    words alone. `option`: the option of the import that settles it."""

    row: int
    column: str
    message: str
    value: str = ""
    range: str = ""
    kind: str = ""
    option: str = ""

    def __str__(self) -> str:
        return f"row {self.row}, {self.column}: {self.message}"

    @property
    def alike(self) -> tuple[str, str]:
        """Equal for faults that are counted together."""
        return ("", self.kind) if self.kind else (self.column, _VALUES.sub("#", self.message))


class TableError(ValueError):
    """A table that cannot be read at all, or whose rows have faults. `option`: the option that settles it."""

    def __init__(self, message: str, faults: Sequence[RowFault] = (), option: str = "") -> None:
        super().__init__(message)
        self.faults = list(faults)
        self.option = option


@dataclass
class Alike:
    """Faults that are equal but for row and value: the first of them, and how many there are."""

    first: RowFault
    count: int = 1
    last_row: int = 0

    @property
    def more(self) -> str:
        """How many more there are, in words; empty for a single one."""
        return f"{self.count - 1} more like it, the last in row {self.last_row}" if self.count > 1 else ""

    def __str__(self) -> str:
        first = self.first
        if not first.kind:
            return f"{first}; {self.more}" if self.more else str(first)
        cells = "cell" if self.count == 1 else "cells"
        value = f" ({first.value})" if first.value else ""
        return f"{first.kind} in {self.count} {cells}, first row {first.row}, {first.column}{value}: {first.message}"


def grouped(faults: Iterable[RowFault]) -> list[Alike]:
    """The faults, equal ones together where there are more than `ONE_BY_ONE` or they have a kind, in the order of
    their first rows."""
    groups: dict[tuple[str, str], list[RowFault]] = {}
    counts: dict[tuple[str, str], Alike] = {}
    for fault in faults:
        key = fault.alike
        few = groups.setdefault(key, [])
        if len(few) < ONE_BY_ONE:
            few.append(fault)
        if key in counts:
            counts[key].count += 1
            counts[key].last_row = max(counts[key].last_row, fault.row)
        else:
            counts[key] = Alike(fault, 1, fault.row)
    found: list[Alike] = []
    for key, few in groups.items():
        together = counts[key]
        found += [together] if together.count > ONE_BY_ONE or together.first.kind else [Alike(one) for one in few]
    return sorted(found, key=lambda one: one.first.row)
