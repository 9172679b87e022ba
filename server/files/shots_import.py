"""Importing a shots table: rows become players, courses, clubs, rounds and shots, all or nothing.

Record and change ids follow from what the rows say, so the same file imported twice changes nothing, and what was
edited after an import is never turned back by importing it again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final
from uuid import UUID, uuid5

import sqlalchemy as sa

from server.files.far_positions import far_from_course, far_from_each_other
from server.files.import_records import Newcomers, Record, RecordMaker, merge
from server.files.shots_blocks import TableRow
from server.files.shots_rows import Table
from server.files.table_faults import FaultCounts, RowFault, TableError
from server.game.hole_lengths import is_unusual
from server.game.order_of_play import ERROR, check_bag, check_round
from server.records.changes import Change, digest, iso
from server.records.json_types import Envelope
from server.records.validation import Fault, InvalidError, load
from server.store.engine import reading, writing
from server.store.log import TRIES, known_ids, parsed_or_faults
from server.store.players import Player, club_ids, courses, heads, map_places, player_by_id, players_by_name
from server.store.prepared import ClashingIds, ConcurrentChangeError, Prepared, prepare, store
from server.store.round_checks import check_prepared
from server.store.unavailable import BusyError, CollisionError

DEVICE: Final = "import"
NAMESPACE: Final = UUID("6f1b5a52-3c0e-5a0f-9d5e-0d2f6c1f7a11")
MOST_FAULTS_TOLD: Final = 5
ROUND_KEY: Final = ("played_on", "kind", "course", "tees", "round_id", "round")
"""Rows that agree in all of these are one round."""


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
    """What an import did (or would do): counts, how the file was read, and what it made or met."""

    rows: int = 0
    rounds: int = 0
    changes: int = 0
    kept: int = 0
    made: list[str] = field(default_factory=list)
    played: list[ImportedRound] = field(default_factory=list)
    remarks: FaultCounts = field(default_factory=FaultCounts)
    ignored: list[str] = field(default_factory=list)
    taken: str = ""

    @property
    def notes(self) -> list[str]:
        """What wants a look, in words; what is equal is counted in one line."""
        passed = [f"column {name} is not known and was ignored" for name in self.ignored]
        return [*passed, *self.remarks.words]


NOBODY_SAID: Final = Newcomers()


def import_table(
    engine: sa.Engine,
    table: Table,
    *,
    dry_run: bool = False,
    strict: bool = False,
    player_id: str | None = None,
    newcomers: Newcomers = NOBODY_SAID,
) -> Imported:
    """Store every row or none. Raises TableError with all faults.

    `dry_run` checks and counts without storing. `strict` refuses players, courses and clubs met for the first time.
    `player_id`: all rows are this player's, whoever else has the same name; else players are found by name.
    `newcomers`: hand and unit of players met for the first time; a hand that is named is that of one new player.
    """
    result = Imported(rows=len(table.rows), ignored=table.ignored, taken=table.taken)
    result.remarks = deepcopy(table.remarks)
    result.remarks.extend(_in_the_future(table.rows))
    by_player: dict[str, list[TableRow]] = defaultdict(list)
    for row in table.rows:
        by_player[row["player"]].append(row)
    faults = [fault for rows in by_player.values() for fault in _check_rounds(rows, result)]
    if faults:
        raise TableError(f"{len(faults)} rows do not fit together", sorted(faults, key=lambda fault: fault.row))
    for _ in range(TRIES):
        tried = replace(result, made=list(result.made))
        with reading(engine) as connection:
            plans = _plan_all(connection, by_player, table.lacking, strict, player_id, newcomers, tried)
            ready = prepared(connection, plans)
        if dry_run or stored(engine, ready):
            return tried
    raise BusyError("the players of this table are being written to by others")


def prepared(connection: sa.Connection, plans: list[tuple[str, list[Envelope]]]) -> list[Prepared]:
    """All that is to be stored, worked out and checked while others write."""
    ready: list[Prepared] = []
    others: set[str] = set()
    for whose, changes in plans:
        parsed = [parsed_or_faults(change) for change in changes]
        faults = [fault for one in parsed if isinstance(one, InvalidError) for fault in one.faults]
        faults += [
            Fault("record_id", change["record_id"], "a record of this player", "belongs to another player")
            for change in changes
            if change["record_id"] in others
        ]
        if not faults:
            try:
                sound = [one for one in parsed if isinstance(one, Change)]
                ready.append(prepare(connection, whose, sound, datetime.now(UTC)))
                faults = check_prepared(connection, ready[-1])
                others |= ready[-1].records
            except InvalidError as invalid:
                faults = list(invalid.faults)
        if faults:
            more = len(faults) - MOST_FAULTS_TOLD
            reported = "; ".join(map(str, faults[:MOST_FAULTS_TOLD])) + (f"; and {more} more" if more > 0 else "")
            raise TableError(f"the rows do not fit what is already stored: {reported}")
    return ready


def stored(engine: sa.Engine, ready: list[Prepared]) -> bool:
    """Store all of it in one transaction; False when it must be prepared again."""
    try:
        with writing(engine) as connection:
            for one in ready:
                store(connection, one)
    except (ConcurrentChangeError, CollisionError, ClashingIds):
        return False
    return True


def _rounds_of(rows: list[TableRow]) -> dict[tuple[Any, ...], list[TableRow]]:
    rounds: dict[tuple[Any, ...], list[TableRow]] = defaultdict(list)
    for row in rows:
        rounds[tuple(row[name] for name in ROUND_KEY)].append(row)
    return rounds


def _in_the_future(rows: list[TableRow]) -> list[RowFault]:
    """Rows of days that have not begun anywhere on earth."""
    latest = datetime.now(UTC).date() + timedelta(days=1)
    return [
        RowFault(
            row["row"], "played_on", "are the days right?", row["played_on"].isoformat(), kind="days in the future"
        )
        for row in rows
        if row["played_on"] > latest
    ]


def _check_rounds(rows: list[TableRow], result: Imported) -> list[RowFault]:
    """Faults between the rows of each round of one player; warnings go to the remarks."""
    faults: list[RowFault] = []
    for (played_on, kind, course, tees, *_), shots in _rounds_of(rows).items():
        result.rounds += 1
        holes: dict[int, TableRow] = {}
        for row in shots:
            first = holes.setdefault(row["hole"], row)
            reported = (("par", row["par"], first["par"]), ("length_yd", row["length_yd"], first["length_yd"]))
            for name, here, there in reported:
                if here != there:
                    words = f"{here:g} differs from {there:g} of the same hole in row {first['row']}"
                    faults.append(RowFault(row["row"], name, words))
        faults += [fault for column in ("ball_label", "lengths_taken") for fault in _two_words(shots, column)]
        played = ImportedRound(shots[0]["row"], played_on, kind, course, tees, len(holes), len(shots))
        result.played.append(played)
        faults += _named_twice(shots)
        faults += far_from_each_other(shots)
        _mark_picked_up(shots)
        for problem in check_round(shots, holes, kind):
            number = shots[problem.place or 0]["row"]
            if problem.severity == ERROR:
                faults.append(RowFault(number, problem.field, problem.message))
            else:
                result.remarks.add(RowFault(number, problem.field, problem.message))
        result.remarks.extend(
            RowFault(row["row"], "length_yd", f"a par {row['par']} of {row['length_yd']:g} yd is unusual")
            for row in holes.values()
            if is_unusual(row["par"], row["length_yd"])
        )
        bag = {row["club"] for row in shots}
        first = shots[0]["row"]
        result.remarks.extend(
            RowFault(first, "club", f"round of {played_on}: {problem.message}") for problem in check_bag(bag, kind)
        )
    return faults


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


def _plan_all(
    connection: sa.Connection,
    by_player: dict[str, list[TableRow]],
    lacking: Collection[str],
    strict: bool,
    whose: str | None,
    newcomers: Newcomers,
    result: Imported,
) -> list[tuple[str, list[Envelope]]]:
    """Per player the changes that the rows ask for beyond what the log holds."""
    plans: list[tuple[str, list[Envelope]]] = []
    refused: list[RowFault] = []
    far: list[RowFault] = []
    fresh: list[str] = []
    now = iso(datetime.now(UTC))
    for name, rows in by_player.items():
        found = players_by_name(connection, name) if whose is None else _one(connection, whose)
        if len(found) > 1:
            raise TableError(f"player: {len(found)} players are called {name!r}; rename one first")
        # a player who was asked for and is not there was erased in between: the log refuses what comes for the id
        player_id = found[0].player_id if found else whose or str(uuid5(NAMESPACE, f"player|{name}"))
        known = courses(connection, player_id)
        maker = RecordMaker(player_id, club_ids(connection, player_id), known)
        maker.foreign = _foreign(connection, player_id, rows)
        if not found:
            fresh.append(name)
            maker.make_player(name, rows[0]["row"], newcomers)
        for key, shots in _rounds_of(rows).items():
            maker.make_round(key, shots)
            if any(row["position"] for row in shots) and key[2] in known:
                far += far_from_course(shots, map_places(connection, player_id, known[key[2]][0]))
        if strict:
            refused += [RowFault(row, column, f"{words} (--strict)") for row, column, words in maker.new_names]
        result.made += [words for _, _, words in maker.new_names]
        changes, kept = changes_of(connection, player_id, maker.records, lacking, now)
        result.changes += len(changes)
        result.kept += kept
        plans.append((player_id, changes))
    if far:
        raise TableError(f"{len(far)} positions are not on their course", sorted(far, key=lambda fault: fault.row))
    if refused:
        raise TableError(f"{len(refused)} names are not known", refused)
    if newcomers.plays and len(fresh) > 1:
        listed = ", ".join(repr(name) for name in fresh[:5])
        words = f"a hand was given, and {len(fresh)} players are new ({listed}): import them one by one"
        raise TableError(words, option="left")
    return plans


def _one(connection: sa.Connection, player_id: str) -> list[Player]:
    found = player_by_id(connection, player_id)
    return [] if found is None else [found]


def _foreign(connection: sa.Connection, player_id: str, rows: list[TableRow]) -> set[str]:
    """The ids of rounds and shots in the table that belong to another player here."""
    named = {words for row in rows for words in (row["round_id"], row["shot_id"]) if words}
    return {record_id for record_id, head in heads(connection, sorted(named)).items() if head.player_id != player_id}


def changes_of(
    connection: sa.Connection, player_id: str, records: Mapping[str, Record], lacking: Collection[str], now: str
) -> tuple[list[Envelope], int]:
    """Changes that turn the records into what the rows say, and how many rows were edited since and are kept."""
    current = heads(connection, list(records))
    asked = {}
    for record_id, (kind, body) in records.items():
        head = current.get(record_id)
        held = None if head is None else head.body
        merged = body if held is None else merge(kind, held, body, lacking)
        if head is None or held is None or load(kind, merged) != load(kind, held):
            asked[str(uuid5(UUID(record_id), digest(body)))] = (record_id, kind, merged, head)
    known = known_ids(connection, list(asked))
    changes: list[Envelope] = [
        {
            "change_id": change_id,
            "record_id": record_id,
            "kind": kind,
            "parents": [] if head is None else [head.change_id],
            "op": "put",
            "body": body,
            "device_id": DEVICE,
            "client_time": now,
            "schema_version": 1,
        }
        for change_id, (record_id, kind, body, head) in asked.items()
        if change_id not in known
    ]
    return changes, len(known)
