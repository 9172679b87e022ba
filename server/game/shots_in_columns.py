"""Shots of a round that are kept a column after the other: a sequence that makes a row only where one is asked for."""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping, Sequence
from itertools import repeat
from typing import Any, overload

Row = MutableMapping[str, Any]


class InColumns(Sequence[Row]):
    """A stretch of columns that are as long as each other: `begin` belongs to it, `end` does not."""

    def __init__(self, columns: MutableMapping[str, Sequence[Any]], begin: int, end: int) -> None:
        self._columns, self._begin, self._end = columns, begin, end
        self._cut: dict[str, Sequence[Any]] = {}

    def column(self, name: str) -> Sequence[Any]:
        """What the rows say under a name."""
        found = self._cut.get(name)
        if found is None:
            found = self._cut[name] = self._columns[name][self._begin : self._end]
        return found

    def rows(self, places: Sequence[int], names: Sequence[str]) -> list[Row]:
        """The rows at some places, as far as these names go."""
        columns = [self.column(name) for name in names]
        return [{name: column[place] for name, column in zip(names, columns, strict=True)} for place in places]

    def __len__(self) -> int:
        return self._end - self._begin

    @overload
    def __getitem__(self, place: int) -> Row: ...

    @overload
    def __getitem__(self, place: slice) -> list[Row]: ...

    def __getitem__(self, place: int | slice) -> Row | list[Row]:
        if isinstance(place, slice):
            return list(self)[place]
        return {name: self.column(name)[place] for name in self._columns}

    def __iter__(self) -> Iterator[Row]:
        names = tuple(self._columns)
        return map(dict, map(zip, repeat(names), zip(*map(self.column, names), strict=True)))
