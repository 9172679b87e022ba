"""The rows of a shots table, a block of some thousands at a time and a column after the other.

Most cells of a column say the same as one above them: each different one is read once (`_Memo`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from itertools import chain, repeat, zip_longest
from operator import itemgetter
from typing import Any, Final, NamedTuple, TypeAlias

from server.files import shots_cells as cells_of
from server.files.shots_cells import CellError
from server.files.table_faults import FaultCounts, RowFault
from server.game import positions, ranges
from server.game.lengths_taken import LENGTHS_TAKEN
from server.game.lies import GREEN
from server.game.order_of_play import KINDS, PRACTICE
from server.game.units import FOOT, METRE, UNITS, YARD, default_unit
from server.records import shot_fields
from server.records.schemas import LONGEST_BALL_LABEL
from server.records.shot_fields import BY_NAME, SHOT_FIELDS, ShotField
from server.records.validation import shown

LONGEST_LABEL: Final = 60
FIRST_ROUND: Final = "1"
"""The round of a row that does not say which of its day it belongs to."""
WORDS_OF: Final = {FOOT: "feet", YARD: "yards"}

TableRow: TypeAlias = MutableMapping[str, Any]
"""A row of a table without faults: one shot. Its keys are the fields of `SHOT_FIELDS`, those of the round and the hole,
and `row`, which counts as a spreadsheet does; `picked_up` follows from the rows of the same ball."""

Settle = Callable[[int, list[str]], list[RowFault]]
"""Writes the number cells of a row with a decimal point."""

_MOST_KEPT: Final = 10_000
"""Different cells of a column that are remembered."""
_LONGEST_KEPT: Final = 200
_WITH_OTHERS: Final = (
    *("end_lie", "end_distance_yd", "penalty_strokes", "carry_yd", "provisional"),
    *("lon", "lat", "accuracy_m"),
)
"""What `disagreements` speaks of: where all of these are blank, nought or no, there are none."""


class _Wrong(NamedTuple):
    """What is wrong with a cell."""

    message: str
    range: str
    kind: str
    option: str


class _Memo(dict[Any, Any]):
    """What cells say, each trimmed and read once; `_Wrong` for a bad one. `wrong`: whether there was one."""

    def __init__(self, read: Callable[..., Any], together: bool) -> None:
        super().__init__()
        self._read, self._together, self.wrong = read, together, False

    def __missing__(self, cell: Any) -> Any:
        try:
            found = self._read(cell[0].strip(), *cell[1:]) if self._together else self._read(cell.strip())
        except CellError as error:
            found = _Wrong(str(error), error.range, error.kind, error.option)
            self.wrong = True
        if len(self) < _MOST_KEPT and len(cell[0] if self._together else cell) < _LONGEST_KEPT:
            self[cell] = found
        return found


class _Column:
    """One thing that a row says. `name`: its key in a row; `cell`: the column in the file; `beside`: the keys of a row
    that decide how it is read."""

    def __init__(self, name: str, cell: str, read: Callable[..., Any], beside: Sequence[str] = ()) -> None:
        self.name, self.cell, self.beside = name, cell, beside
        self.memo = _Memo(read, bool(beside))

    def values(self, cells: Sequence[str], known: Mapping[str, list[Any]]) -> list[Any]:
        """What the cells say."""
        if cells and not any(cells) and not any(map(any, (known[name] for name in self.beside))):
            # most columns are blank from top to bottom
            key = ("", *(known[name][0] for name in self.beside)) if self.beside else ""
            return [self.memo[key]] * len(cells)
        keys: Any = zip(cells, *(known[name] for name in self.beside), strict=True) if self.beside else cells
        return list(map(self.memo.__getitem__, keys))


@dataclass
class Block:
    """Rows that were read: `columns` by their keys, and the faults of each row that has any."""

    columns: dict[str, list[Any]]
    faults: list[list[RowFault]]

    def rows(self) -> list[TableRow]:
        """The rows one by one."""
        return rows_of(self.columns)


def rows_of(columns: Mapping[str, Sequence[Any]]) -> list[TableRow]:
    """Columns as rows."""
    names = tuple(columns)
    return list(map(dict, map(zip, repeat(names), zip(*columns.values(), strict=True))))


Piece = list[list[Any] | None]
"""Some rows of one player: the columns of `PACKED` in their order, None for one that is blank from top to bottom."""


def packed(block: Block) -> Iterator[tuple[str, Piece]]:
    """The rows of a block by player: the name, and what they say."""
    columns = [list(map(int, block.columns["row"])) if name == "row" else block.columns[name] for name in PACKED]
    filled = [None if _is_blank(column) else column for column in columns]
    by_player: dict[str, list[int]] = {}
    for place, player in enumerate(block.columns["player"]):
        by_player.setdefault(player, []).append(place)
    for player, places in by_player.items():
        begin, end = places[0], places[-1] + 1
        if end - begin == len(places):
            yield player, [column and column[begin:end] for column in filled]
        else:
            of_player = itemgetter(*places)
            yield player, [column and list(of_player(column)) for column in filled]


def _is_blank(column: Sequence[Any]) -> bool:
    return not column or (column[0] is None is column[-1] and column.count(None) == len(column))


def unpacked(pieces: Iterable[Piece]) -> dict[str, Sequence[Any]]:
    """The columns that were packed, one piece behind the other."""
    together = dict(zip(PACKED, zip(*pieces, strict=True), strict=True))
    counts = [len(rows or ()) for rows in together["row"]]
    return {name: _joined(counts, columns) for name, columns in together.items()}


def _joined(counts: Sequence[int], columns: Sequence[list[Any] | None]) -> list[Any]:
    if not any(columns):
        return [None] * sum(counts)
    filled = ([None] * count if column is None else column for count, column in zip(counts, columns, strict=True))
    return list(chain.from_iterable(filled))


class BlockReader:
    """Reads blocks of rows under one header. `settle`: where numbers may have a decimal comma."""

    def __init__(self, header: Sequence[str], player: str | None, days: str | None, settle: Settle | None) -> None:
        self._header = list(header)
        self._columns = _columns(player, days, in_units="length" in header)
        self._settle = settle
        self._metres = False
        self._assumed = FaultCounts()

    def read(self, numbers: Sequence[int], rows: Sequence[list[str]]) -> Block:
        """The rows of these numbers; rows of more cells than the header has are faults and left out."""
        width = len(self._header)
        wide = [place for place, cells in enumerate(rows) if len(cells) > width]
        found: dict[int, list[RowFault]] = {}
        for place in wide:
            words = f"{len(rows[place])} cells are under {width} columns"
            found[numbers[place]] = [RowFault(numbers[place], "row", words)]
        if wide:
            left_out = set(wide)
            kept = [place for place in range(len(rows)) if place not in left_out]
            numbers, rows = [numbers[place] for place in kept], [rows[place] for place in kept]
        unsettled = self._settled(numbers, rows)
        full = not rows or min(map(len, rows)) == width
        turned = zip(*rows, strict=True) if full else zip_longest(*rows, fillvalue="")
        cells = dict(zip(self._header, turned, strict=False))
        block = Block({"row": list(numbers)}, [])
        faults = self._read_columns(cells, block.columns)
        for place, disagreeing in self._disagreements(cells, block.columns, set(faults)).items():
            faults.setdefault(place, []).extend(disagreeing)
        for place, settles in unsettled.items():
            named = {fault.column for fault in settles}
            faults[place] = [*settles, *(one for one in faults.get(place, ()) if one.column not in named)]
        found |= {numbers[place]: of_row for place, of_row in faults.items()}
        block.faults = [found[number] for number in sorted(found)]
        self._look_for_units(block.columns)
        return block

    def _settled(self, numbers: Sequence[int], rows: Sequence[list[str]]) -> dict[int, list[RowFault]]:
        if self._settle is None:
            return {}
        tried = ((place, self._settle(number, rows[place])) for place, number in enumerate(numbers))
        return {place: faults for place, faults in tried if faults}

    def _read_columns(
        self, cells: Mapping[str, Sequence[str]], columns: dict[str, list[Any]]
    ) -> dict[int, list[RowFault]]:
        """Fill the columns; what is wrong, by the place of the row, in the order of the columns."""
        numbers = columns["row"]
        blank = ("",) * len(numbers)
        faults: dict[int, list[RowFault]] = {}
        for column in self._columns:
            given = cells.get(column.cell, blank)
            values = column.values(given, columns)
            if column.memo.wrong:
                for place, value in enumerate(values):
                    if type(value) is _Wrong:
                        values[place] = None
                        fault = RowFault(
                            numbers[place],
                            column.cell,
                            value.message,
                            shown(given[place].strip()),
                            value.range,
                            value.kind,
                            value.option,
                        )
                        faults.setdefault(place, []).append(fault)
            columns[column.name] = values
        columns["position"] = [None] * len(numbers)
        if columns["lon"].count(None) < len(numbers):
            columns["position"] = [
                [one for one in place if one is not None] if place[0] is not None and place[1] is not None else None
                for place in zip(columns["lon"], columns["lat"], columns["accuracy_m"], strict=True)
            ]
        columns.setdefault("length_unit", [None] * len(numbers))
        return faults

    def _disagreements(
        self, cells: Mapping[str, Sequence[str]], columns: Mapping[str, list[Any]], more: set[int]
    ) -> dict[int, list[RowFault]]:
        """What the cells of one row say against each other. `more`: rows to look at besides."""
        looked_at = set(more)
        for name in _WITH_OTHERS:
            values = columns[name]
            if any(values) or (name in ("lon", "lat", "accuracy_m") and values.count(None) < len(values)):
                looked_at.update(place for place, value in enumerate(values) if value is not None and value != 0)
                if name in ("lon", "lat", "accuracy_m"):
                    looked_at.update(place for place, value in enumerate(values) if value is not None)
        found = {}
        for place in looked_at:
            row = {name: values[place] for name, values in columns.items()}
            if conflicts := cells_of.disagreements(row):
                found[place] = [
                    RowFault(row["row"], column, words, shown(cells[column][place].strip() if column in cells else ""))
                    for column, words in conflicts
                ]
        return found

    def _look_for_units(self, columns: Mapping[str, list[Any]]) -> None:
        """Count the lengths whose unit is left to be assumed."""
        for name in ("unit", "end_unit", "length_unit"):
            self._metres = self._metres or METRE in columns[name]
        for unit, lie, length in (("unit", "lie", "distance_yd"), ("end_unit", "end_lie", "end_distance_yd")):
            read = zip(columns["row"], columns[unit], columns[lie], columns[length], strict=True)
            blank = [(row, where) for row, given, where, far in read if given is None and far is not None]
            for where in dict.fromkeys(where for _, where in blank):
                rows = [row for row, lies in blank if lies == where]
                words = (
                    f"the table has lengths in metres; where the column {unit} is blank, feet are taken on the green "
                    "and yards elsewhere"
                )
                kind = f"{WORDS_OF[default_unit(where)]} assumed{' on the green' if where == GREEN else ''}"
                self._assumed.add(RowFault(rows[0], unit, words, kind=kind), len(rows), rows[-1])

    def assumed(self) -> FaultCounts:
        """Units that a metric table leaves to be assumed, in the blocks that were read."""
        return self._assumed if self._metres else FaultCounts()


def _columns(player: str | None, days: str | None, *, in_units: bool) -> list[_Column]:
    """What is read of a row, in the order of its listed faults. `in_units`: the length of a hole has a unit."""
    low, high = ranges.LOWEST_PAR, ranges.HIGHEST_PAR
    columns = [
        _Column("player", "player", lambda cell: cells_of.player(cell, player)),
        _Column("round_id", "round_id", lambda cell: cells_of.text(cell, 60)),
        _Column("shot_id", "shot_id", lambda cell: cells_of.text(cell, 60)),
        _Column("round", "round", lambda cell: (cells_of.text(cell, LONGEST_LABEL) or FIRST_ROUND).lower()),
        _Column("played_on", "played_on", lambda cell: cells_of.day(cell, days)),
        _Column("kind", "kind", lambda cell: cells_of.choice(cell, KINDS) or PRACTICE),
        _Column("course", "course", lambda cell: cells_of.text(cell, 120)),
        _Column("tees", "tees", lambda cell: cells_of.text(cell, 60)),
        _Column("ball_label", "ball_label", lambda cell: cells_of.text(cell, LONGEST_BALL_LABEL)),
        _Column("lengths_taken", "lengths_taken", lambda cell: cells_of.choice(cell, LENGTHS_TAKEN)),
        _Column("hole", "hole", lambda cell: cells_of.of_field(BY_NAME["hole"], cell)),
        _Column("par", "par", lambda cell: cells_of.whole(cell, low, high)),
    ]
    if in_units:
        columns += [
            _Column("length_unit", "length_unit", lambda cell: cells_of.choice(cell, UNITS, required=True)),
            _Column("length_yd", "length", lambda cell, unit: cells_of.length(cell, unit or YARD), ("length_unit",)),
        ]
    else:
        far = ranges.FARTHEST_YD
        columns.append(_Column("length_yd", "length_yd", lambda cell: cells_of.number(cell, 0, far, "yd", above=True)))
    return [*columns, *(one for field in SHOT_FIELDS if field.name != "hole" for one in _of_shot(field))]


def _of_shot(field: ShotField) -> list[_Column]:
    """What is read of one field of a shot."""
    cell, *units = field.cells or ("",)
    if field.type == shot_fields.POSITION:
        return _of_position()
    if units:
        lie = "end_lie" if field.name.startswith("end_") else "lie"
        needed = field.required
        return [
            _Column(units[0], units[0], lambda cell: cells_of.choice(cell, UNITS)),
            _Column(
                field.name,
                cell,
                lambda cell, unit, lies: cells_of.distance(cell, unit, lies, required=needed),
                (units[0], lie),
            ),
        ]
    if not cell:
        return []
    if field.type == shot_fields.ID:
        return [_Column(cell, cell, lambda cell: cells_of.text(cell, LONGEST_LABEL, required=True))]
    return [_Column(field.name, cell, lambda cell: cells_of.of_field(field, cell))]


def _of_position() -> list[_Column]:
    """Longitude, latitude and accuracy of one shot."""
    east, north, most = positions.FARTHEST_EAST_DEG, positions.FARTHEST_NORTH_DEG, positions.MOST_ACCURACY_M
    return [
        _Column("lon", "lon", lambda cell: cells_of.number(cell, -east, east, "degrees", required=False)),
        _Column("lat", "lat", lambda cell: cells_of.latitude(cell, north, east)),
        _Column("accuracy_m", "accuracy_m", lambda cell: cells_of.number(cell, 0, most, "m", required=False)),
    ]


_READ_ALREADY: Final = frozenset({"player", "unit", "end_unit", "length_unit", "lon", "lat", "accuracy_m"})
PACKED: Final = tuple(
    sorted({"row", "position", *(one.name for one in _columns(None, None, in_units=True))} - _READ_ALREADY)
)
"""The columns of the rows of one player, whose name is known; without what lengths and positions were read with."""
