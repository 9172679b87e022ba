"""What is wrong with a table: each bad cell by row, column, value and range, and many equal ones in one line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

ONE_BY_ONE: Final = 3
"""Up to so many equal faults are listed one by one; more are counted in one line."""

MOST_KINDS: Final = 1_000
"""Kinds of faults of a large table that are listed apart; of those beyond it is only known how many they are."""

_VALUES: Final = re.compile(r"'[^']*'|\"[^\"]*\"|\d+(?:\.\d+)?")
_FILE_BITS: Final = 40


def unread(cells: int) -> str:
    """That so many cells cannot be read."""
    return "1 cell cannot be read" if cells == 1 else f"{cells} cells cannot be read"


def unfit(rows: int) -> str:
    """That so many rows contradict others."""
    return "1 row does not fit the others" if rows == 1 else f"{rows} rows do not fit together"


class FileRow(int):
    """A row of one of several files: "3 of b.csv" in words, in the order of files and rows."""

    file: str

    def __new__(cls, row: int, place: int, file: str) -> FileRow:
        """Row `row` of the file that is number `place` of them."""
        made = super().__new__(cls, (place << _FILE_BITS) + row)
        made.file = file
        return made

    @classmethod
    def again(cls, number: int, files: Sequence[str]) -> FileRow:
        """A row whose number alone was kept."""
        place = number >> _FILE_BITS
        return cls(number - (place << _FILE_BITS), place, files[place])

    @property
    def place(self) -> int:
        """Which of the files."""
        return int(self) >> _FILE_BITS

    def __str__(self) -> str:
        return f"{int(self) & ((1 << _FILE_BITS) - 1)} of {self.file}"

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)


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


@dataclass
class FaultCounts:
    """Faults that are counted as they come: of each kind the first ones and how many there are. With `most_kinds` the
    memory does not grow with their number; `beyond`: how many are of later kinds."""

    most_kinds: int | None = MOST_KINDS
    total: int = 0
    beyond: int = 0
    _few: dict[tuple[str, str], list[RowFault]] = field(default_factory=dict)
    _counts: dict[tuple[str, str], Alike] = field(default_factory=dict)

    def add(self, fault: RowFault, count: int = 1, last_row: int | None = None) -> None:
        """Count a fault; with `count` so many equal ones, of which it is the first."""
        self.total += count
        key = fault.alike
        last = fault.row if last_row is None else last_row
        together = self._counts.get(key)
        if together is not None:
            together.count += count
            together.last_row = max(together.last_row, last)
            if fault.row < together.first.row:
                together.first = fault
        elif self.most_kinds is not None and len(self._counts) >= self.most_kinds:
            self.beyond += count
            return
        else:
            self._counts[key] = Alike(fault, count, last)
        few = self._few.setdefault(key, [])
        if len(few) < ONE_BY_ONE:
            few.append(fault)

    def extend(self, faults: Iterable[RowFault]) -> None:
        """Count them all."""
        for fault in faults:
            self.add(fault)

    def add_all(self, others: FaultCounts) -> None:
        """Count what others have counted."""
        for together in others._counts.values():
            self.add(together.first, together.count, together.last_row)
        self.total += others.beyond
        self.beyond += others.beyond

    def groups(self) -> list[Alike]:
        """The faults, equal ones together where there are more than `ONE_BY_ONE` or they have a kind, in the order of
        their first rows."""
        found: list[Alike] = []
        for key, few in self._few.items():
            together = self._counts[key]
            found += [together] if together.count > ONE_BY_ONE or together.first.kind else [Alike(one) for one in few]
        return sorted(found, key=lambda one: one.first.row)

    @property
    def first_ones(self) -> list[RowFault]:
        """The first ones of each kind, in the order in which they came."""
        return [one for few in self._few.values() for one in few]

    @property
    def words(self) -> list[str]:
        """The groups, each in a line."""
        more = [f"... and {self.beyond} more"] if self.beyond else []
        return [*map(str, self.groups()), *more]


class TableError(ValueError):
    """A table that cannot be read at all, or whose rows have faults. `faults`: each, or the first of each kind where
    they were `counts`. `option`: the option that settles it."""

    def __init__(self, message: str, faults: Sequence[RowFault] | FaultCounts = (), option: str = "") -> None:
        super().__init__(message)
        self.counts = faults if isinstance(faults, FaultCounts) else _counted(faults)
        self.faults = self.counts.first_ones if isinstance(faults, FaultCounts) else list(faults)
        self.option = option


def _counted(faults: Iterable[RowFault]) -> FaultCounts:
    counts = FaultCounts(None)
    counts.extend(faults)
    return counts


def grouped(faults: Iterable[RowFault]) -> list[Alike]:
    """The groups of faults that are held already."""
    return _counted(faults).groups()
