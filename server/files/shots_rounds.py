"""The rounds of a shots table: which rows are one round, and what they must agree on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from operator import itemgetter
from typing import Any, Final, TypeAlias

from server.files.far_positions import far_from_each_other
from server.files.shots_blocks import TableRow
from server.files.table_faults import FaultCounts, FileRow, RowFault
from server.game.hole_lengths import is_unusual
from server.game.order_of_play import ERROR, check_bag, check_round

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


Rounds: TypeAlias = dict[tuple[Any, ...], list[TableRow]]
"""The rows of each round, by what they agree in (`ROUND_KEY`)."""


def rounds_of(rows: Iterable[TableRow]) -> Rounds:
    """The rows of each round."""
    rounds: Rounds = defaultdict(list)
    key_of = itemgetter(*ROUND_KEY)
    for row in rows:
        rounds[key_of(row)].append(row)
    return rounds


def in_the_future(rows: Iterable[TableRow]) -> list[RowFault]:
    """Rows of days that have not begun anywhere on earth."""
    latest = datetime.now(UTC).date() + timedelta(days=1)
    return [
        RowFault(
            row["row"], "played_on", "are the days right?", row["played_on"].isoformat(), kind="days in the future"
        )
        for row in rows
        if row["played_on"] > latest
    ]


def check_rounds(rounds: Rounds, result: Imported) -> list[RowFault]:
    """Faults between the rows of each round of one player; warnings go to the remarks."""
    faults: list[RowFault] = []
    for (played_on, kind, course, tees, *_), shots in rounds.items():
        holes: dict[int, TableRow] = {}
        wrong = _unlike_holes(shots, holes)
        wrong += [fault for column in ("ball_label", "lengths_taken") for fault in _two_words(shots, column)]
        wrong += _named_twice(shots)
        wrong += far_from_each_other(shots)
        _mark_picked_up(shots)
        for problem in check_round(shots, holes, kind):
            fault = RowFault(shots[problem.place or 0]["row"], problem.field, problem.message)
            if problem.severity == ERROR:
                wrong.append(fault)
            else:
                result.remarks.add(fault)
        result.rounds += 1
        if len(result.played) < MOST_PLAYED:
            played = ImportedRound(shots[0]["row"], played_on, kind, course, tees, len(holes), len(shots))
            result.played.append(played)
        _remark(shots, holes, kind, result)
        faults += _in_two_files(shots, wrong) if wrong else ()
    return faults


def _unlike_holes(shots: list[TableRow], holes: dict[int, TableRow]) -> list[RowFault]:
    """Rows whose hole is another than it was in the first row of it; `holes`: takes those first rows."""
    faults = []
    for row in shots:
        first = holes.setdefault(row["hole"], row)
        for name in ("par", "length_yd"):
            if row[name] != first[name]:
                words = f"{row[name]:g} differs from {first[name]:g} of the same hole in row {first['row']}"
                faults.append(RowFault(row["row"], name, words))
    return faults


def _remark(shots: list[TableRow], holes: dict[int, TableRow], kind: str, result: Imported) -> None:
    """What wants a look in a round."""
    result.remarks.extend(
        RowFault(row["row"], "length_yd", f"a par {row['par']} of {row['length_yd']:g} yd is unusual")
        for row in holes.values()
        if is_unusual(row["par"], row["length_yd"])
    )
    result.remarks.extend(
        RowFault(shots[0]["row"], "club", f"round of {shots[0]['played_on']}: {problem.message}")
        for problem in check_bag({row["club"] for row in shots}, kind)
    )


def _in_two_files(shots: list[TableRow], faults: list[RowFault]) -> list[RowFault]:
    """The faults of a round; where its rows come from more than one file that is mostly why, and is named."""
    places = {row["row"].place: row["row"] for row in reversed(shots) if isinstance(row["row"], FileRow)}
    if len(places) < 2:
        return faults
    begins = " and ".join(f"in row {row}" for _, row in sorted(places.items()))
    words = f"the round begins {begins}; leave one out, or tell them apart by the column round"
    return [replace(one, message=f"{one.message}; {words}", kind="a round that is in two files") for one in faults]


def _two_words(shots: list[TableRow], column: str) -> list[RowFault]:
    """Rows whose word of the round differs from that of its first row that has one; a blank cell says nothing."""
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


def _named_twice(shots: list[TableRow]) -> list[RowFault]:
    """Rows that claim to be a shot that an earlier row already is."""
    first: dict[str, int] = {}
    faults = []
    for row in shots:
        if row["shot_id"] and first.setdefault(row["shot_id"], row["row"]) != row["row"]:
            words = f"{row['shot_id']} is in row {first[row['shot_id']]} too"
            faults.append(RowFault(row["row"], "shot_id", words))
    return faults


def _mark_picked_up(shots: list[TableRow]) -> None:
    """ "holed: no" on the last shot of a ball says that the ball was picked up."""
    last: dict[tuple[int, int], TableRow] = {}
    for row in shots:
        row["picked_up"] = False
        key = (row["hole"], row["ball"])
        if key not in last or row["order"] > last[key]["order"]:
            last[key] = row
    for row in last.values():
        row["picked_up"] = row["holed"] is False
