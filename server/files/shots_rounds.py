"""The rounds of a shots table: which rows are one round, and what they must agree on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from itertools import chain, groupby
from operator import itemgetter
from typing import Any, Final

from server.files.far_positions import far_from_each_other
from server.files.shots_blocks import PACKED, TableRow
from server.files.table_faults import FaultCounts, FileRow, RowFault
from server.game.hole_lengths import is_unusual
from server.game.order_of_play import ERROR, check_bag, check_round
from server.game.shots_in_columns import InColumns

ROUND_KEY: Final = ("played_on", "kind", "course", "tees", "round_id", "round")
"""Rows that agree in all of these are one round."""
MOST_PLAYED: Final = 30_000
"""Rounds of one import that are listed."""
MOST_MADE: Final = 1_000
"""Names met first that are listed one by one."""


@dataclass(frozen=True)
class ImportedRound:
    """A round as a table tells it; `row` is its first."""

    row: int
    played_on: date
    kind: str
    course: str | None
    tees: str | None
    holes: int
    shots: int


@dataclass
class Imported:
    """What an import did (or would do): counts, how the file was read, and what it made or met. `made`: the first names
    that it met, one by one; `news`: all of them, counted; `played`: the first rounds."""

    rows: int = 0
    rounds: int = 0
    changes: int = 0
    kept: int = 0
    made: list[str] = field(default_factory=list)
    news: FaultCounts = field(default_factory=FaultCounts)
    played: list[ImportedRound] = field(default_factory=list)
    remarks: FaultCounts = field(default_factory=FaultCounts)
    ignored: list[str] = field(default_factory=list)
    taken: str = ""

    def met(self, names: Iterable[tuple[int, str, str]]) -> None:
        """Names that were met first, as (row, column, words)."""
        for row, column, words in names:
            self.news.add(RowFault(row, column, words))
            if len(self.made) < MOST_MADE:
                self.made.append(words)

    @property
    def notes(self) -> list[str]:
        """What wants a look, in words; what is equal is counted in one line."""
        passed = [f"column {name} is not known and was ignored" for name in self.ignored]
        return [*passed, *self.remarks.words]


RoundKey = tuple[Any, ...]
Columns = dict[str, Sequence[Any]]


class Rounds:
    """The rows of one player. `columns`: those of `PACKED` and `picked_up`, the rows of a round behind each other;
    `of`: of each round, by what its rows agree in (`ROUND_KEY`), its part of them."""

    def __init__(self, columns: Columns) -> None:
        self.columns, runs = _together(columns)
        self.columns["picked_up"] = picked_up = [False] * len(self.columns["row"])
        self.of: dict[RoundKey, InColumns] = {}
        begin = 0
        for key, count in runs:
            self.of[key] = shots = InColumns(self.columns, begin, begin + count)
            if False in shots.column("holed"):
                picked_up[begin : begin + count] = _picked_up(shots)
            begin += count


def rounds_of(rows: Iterable[TableRow]) -> Rounds:
    """The rounds of rows that are all of one player."""
    return Rounds(dict(zip(PACKED, zip(*map(itemgetter(*PACKED), rows), strict=True), strict=True)))


def _together(columns: Columns) -> tuple[Columns, list[tuple[RoundKey, int]]]:
    """The columns with the rows of each round behind each other, and how many rows each round has."""
    keys = list(zip(*(columns[name] for name in ROUND_KEY), strict=True))
    runs = [(key, len(list(same))) for key, same in groupby(keys)]
    if len(dict(runs)) == len(runs):
        return columns.copy(), runs
    places: dict[RoundKey, list[int]] = {}
    for place, key in enumerate(keys):
        places.setdefault(key, []).append(place)
    order = list(chain.from_iterable(places.values()))
    in_order: Columns = {name: list(map(column.__getitem__, order)) for name, column in columns.items()}
    return in_order, [(key, len(own)) for key, own in places.items()]


def in_the_future(rounds: Rounds) -> Iterator[RowFault]:
    """Rows of days that have not begun anywhere on earth."""
    latest = datetime.now(UTC).date() + timedelta(days=1)
    for (played_on, *_), shots in rounds.of.items():
        for row in shots.column("row") if played_on > latest else ():
            yield RowFault(row, "played_on", "are the days right?", played_on.isoformat(), kind="days in the future")


def check_rounds(rounds: Rounds, result: Imported) -> list[RowFault]:
    """Faults between the rows of each round of one player; warnings go to the remarks."""
    faults: list[RowFault] = []
    for (played_on, kind, course, tees, *_), shots in rounds.of.items():
        holes = _holes(shots)
        wrong = _unlike_holes(shots, holes)
        wrong += [fault for column in ("ball_label", "lengths_taken") for fault in _two_words(shots, column)]
        wrong += _named_twice(shots)
        wrong += far_from_each_other(shots) if any(shots.column("position")) else []
        for problem in check_round(shots, holes, kind):
            place = problem.place or 0
            words = problem.message
            if problem.field == "shot" and shots.column("order")[place] == 1 and len(_files(shots)) < 2:
                words += "; two rounds of one day are separated by the column round"
            fault = RowFault(shots.column("row")[place], problem.field, words)
            if problem.severity == ERROR:
                wrong.append(fault)
            else:
                result.remarks.add(fault)
        result.rounds += 1
        if len(result.played) < MOST_PLAYED:
            played = ImportedRound(shots.column("row")[0], played_on, kind, course, tees, len(holes), len(shots))
            result.played.append(played)
        _remark(shots, holes, kind, result)
        faults += _in_two_files(shots, wrong) if wrong else ()
    return faults


Hole = tuple[int, int, float]
"""The row that speaks of a hole first, par and length in yards."""


def _holes(shots: InColumns) -> dict[int, Hole]:
    """Each hole as its first row has it."""
    told = zip(*map(shots.column, ("row", "par", "length_yd")), strict=True)
    found: dict[int, Hole] = {}
    for hole, of_row in zip(shots.column("hole"), told, strict=True):
        found.setdefault(hole, of_row)
    return found


def _unlike_holes(shots: InColumns, holes: dict[int, Hole]) -> list[RowFault]:
    """Rows whose hole is another than it was in the first row of it."""
    told = set(zip(*map(shots.column, ("hole", "par", "length_yd")), strict=True))
    if len(told) == len(holes):
        return []
    faults = []
    for row in shots:
        first, *of_first = holes[row["hole"]]
        for name, value in zip(("par", "length_yd"), of_first, strict=True):
            if row[name] != value:
                words = f"{row[name]:g} differs from {value:g} of the same hole in row {first}"
                faults.append(RowFault(row["row"], name, words))
    return faults


def _remark(shots: InColumns, holes: dict[int, Hole], kind: str, result: Imported) -> None:
    """What wants a look in a round."""
    result.remarks.extend(
        RowFault(row, "length_yd", f"a par {par} of {length:g} yd is unusual")
        for row, par, length in holes.values()
        if is_unusual(par, length)
    )
    problems = check_bag(set(shots.column("club")), kind)
    result.remarks.extend(
        RowFault(shots[0]["row"], "club", f"round of {shots[0]['played_on']}: {problem.message}")
        for problem in problems
    )


def _files(shots: InColumns) -> dict[int, FileRow]:
    """The first row from each of several files, by the place of the file."""
    return {row.place: row for row in reversed(shots.column("row")) if isinstance(row, FileRow)}


def _in_two_files(shots: InColumns, faults: list[RowFault]) -> list[RowFault]:
    """The faults of a round; where its rows come from more than one file that is mostly why, and is named."""
    places = _files(shots)
    if len(places) < 2:
        return faults
    begins = " and ".join(f"in row {row}" for _, row in sorted(places.items()))
    words = f"the round begins {begins}; leave one out, or name the two rounds differently in the column round"
    return [replace(one, message=f"{one.message}; {words}", kind="a round that is in two files") for one in faults]


def _two_words(shots: InColumns, column: str) -> list[RowFault]:
    """Rows whose word of the round differs from that of its first row that has one; a blank cell says nothing."""
    if len({*shots.column(column), None, ""}) <= 3:
        return []
    named = [row for row in shots if row[column]]
    return [
        RowFault(
            row["row"],
            column,
            f"{row[column]!r} differs from {named[0][column]!r} of the same round in row {named[0]['row']}",
            row[column],
        )
        for row in named
        if row[column] != named[0][column]
    ]


def _named_twice(shots: InColumns) -> list[RowFault]:
    """Rows that claim to be a shot that an earlier row already is."""
    first: dict[str, int] = {}
    faults = []
    for row, shot_id in zip(shots.column("row"), shots.column("shot_id"), strict=True):
        if shot_id and first.setdefault(shot_id, row) != row:
            words = f"{shot_id} is in row {first[shot_id]} too"
            faults.append(RowFault(row, "shot_id", words))
    return faults


def _picked_up(shots: InColumns) -> list[bool]:
    """ "holed: no" on the last shot of a ball says that the ball was picked up."""
    orders, holed = shots.column("order"), shots.column("holed")
    last: dict[tuple[int, int], int] = {}
    for place, key in enumerate(zip(shots.column("hole"), shots.column("ball"), strict=True)):
        if key not in last or orders[place] > orders[last[key]]:
            last[key] = place
    found = [False] * len(shots)
    for place in last.values():
        found[place] = holed[place] is False
    return found
