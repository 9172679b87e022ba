"""Importing a shots table that is held in memory: rows become players, courses, clubs, rounds, shots, all or none.

Record and change ids follow from what the rows say, so the same file imported twice changes nothing, and what was
edited after an import is never turned back by importing it again. Files of any size: `server.files.shots_stream`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Set
from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Final, NamedTuple
from uuid import UUID, uuid5

import sqlalchemy as sa

from server.files.far_positions import far_from_course
from server.files.import_records import Newcomers, RecordMaker, Told, merge
from server.files.shots_blocks import TableRow
from server.files.shots_rounds import Imported, ImportedRound, Rounds, check_rounds, in_the_future, rounds_of
from server.files.shots_rows import Table
from server.files.table_faults import FaultCounts, RowFault, TableError, unfit
from server.records.changes import Change, change_named, iso, parse_time, put_of, words_of
from server.records.json_types import RecordBody
from server.records.many_shots import Ready, ShotColumns, many_shots
from server.records.new_shots import Brought, new_shots
from server.records.validation import Fault, InvalidError, load
from server.store.collecting import uncollected
from server.store.engine import reading
from server.store.log import known_ids, known_records
from server.store.players import Head, Player, club_ids, courses, heads, map_places, player_by_id, players_by_name
from server.store.prepared import Prepared, prepare, store_all
from server.store.round_checks import check_prepared

DEVICE: Final = "import"
NAMESPACE: Final = UUID("6f1b5a52-3c0e-5a0f-9d5e-0d2f6c1f7a11")
MOST_FAULTS_LISTED: Final = 5
_FRESH_LISTED: Final = 5

NOT_GIVEN: Final = Newcomers()


@dataclass(frozen=True)
class Taking:
    """How tables are to be taken. `strict` refuses players, courses and clubs met for the first time. `player_id`: all
    rows are this player's, whoever else has the same name; else players are found by name. `newcomers`: hand and unit
    of players met for the first time; a hand that is named is that of one new player."""

    strict: bool = False
    player_id: str | None = None
    newcomers: Newcomers = NOT_GIVEN


@dataclass
class Met:
    """What refuses the players of an import when all of them were looked at."""

    far: FaultCounts = field(default_factory=FaultCounts)
    new_names: FaultCounts = field(default_factory=FaultCounts)
    fresh: int = 0
    fresh_names: list[str] = field(default_factory=list)

    def refuse(self, taking: Taking) -> None:
        """Raise TableError where there is a reason."""
        if self.far.total:
            raise TableError(f"{self.far.total} positions are not on their course", self.far)
        if self.new_names.total:
            raise TableError(f"{self.new_names.total} names are not known", self.new_names)
        if taking.newcomers.plays and self.fresh > 1:
            listed = ", ".join(repr(name) for name in self.fresh_names)
            words = f"a hand was given, and {self.fresh} players are new ({listed}): import them one by one"
            raise TableError(words, option="left")


def import_table(
    engine: sa.Engine,
    table: Table,
    *,
    dry_run: bool = False,
    strict: bool = False,
    player_id: str | None = None,
    newcomers: Newcomers = NOT_GIVEN,
) -> Imported:
    """Store every row or none. Raises TableError with all faults. `dry_run` checks and counts without storing; the
    rest as in `Taking`."""
    taking = Taking(strict, player_id, newcomers)
    result = Imported(rows=len(table.rows), ignored=table.ignored, taken=table.taken)
    result.remarks = deepcopy(table.remarks)
    by_player: dict[str, list[TableRow]] = defaultdict(list)
    for row in table.rows:
        by_player[row["player"]].append(row)
    rounds = {name: rounds_of(rows) for name, rows in by_player.items()}
    for of_player in rounds.values():
        result.remarks.extend(in_the_future(of_player))
    faults = [fault for of_player in rounds.values() for fault in check_rounds(of_player, result)]
    if faults:
        raise TableError(unfit(len(faults)), sorted(faults, key=lambda fault: fault.row))
    tried = result

    def ready(_clashed: bool) -> list[Prepared]:
        nonlocal tried
        tried, met = replace(result, made=list(result.made), news=FaultCounts()), Met()
        with uncollected(), reading(engine) as connection:
            plans = [
                plan_player(connection, name, of_player, lambda _: table.lacking, taking, tried, met)
                for name, of_player in rounds.items()
            ]
            met.refuse(taking)
            return prepared(connection, plans)

    if dry_run:
        ready(False)
    else:
        store_all(engine, ready)
    return tried


class Plan(NamedTuple):
    """A player's id, the changes that are to come, what is wrong with others, and of each round of the table how many
    rows were checked together (`Prepared.whole`)."""

    player_id: str
    brought: Brought[Change]
    faults: list[Fault]
    whole: Mapping[str, int]


def prepared(connection: sa.Connection, plans: Iterable[Plan]) -> list[Prepared]:
    """All that is to be stored, worked out and checked while others write."""
    ready: list[Prepared] = []
    others: set[str] = set()
    for whose, brought, wrong, whole in plans:
        faults = wrong + [
            Fault("record_id", record_id, "a record of this player", "belongs to another player")
            for record_id in (brought.record_ids() if others else ())
            if record_id in others
        ]
        if not faults:
            try:
                ready.append(prepare(connection, whose, brought, datetime.now(UTC), whole))
                faults = check_prepared(connection, ready[-1])
                others |= ready[-1].records
            except InvalidError as invalid:
                faults = list(invalid.faults)
        if faults:
            more = len(faults) - MOST_FAULTS_LISTED
            reported = "; ".join(map(str, faults[:MOST_FAULTS_LISTED])) + (f"; and {more} more" if more > 0 else "")
            raise TableError(f"the rows do not fit what is already stored: {reported}")
    return ready


def plan_player(
    connection: sa.Connection,
    name: str,
    rounds: Rounds,
    lacking_of: Callable[[int], Collection[str]],
    taking: Taking,
    result: Imported,
    met: Met,
) -> Plan:
    """A player's id and the changes that the rows ask for beyond what the log holds. `lacking_of`: the fields for which
    the file of a row has no column. Raises TableError."""
    whose = taking.player_id
    found = players_by_name(connection, name) if whose is None else _one(connection, whose)
    if len(found) > 1:
        raise TableError(f"player: {len(found)} players are called {name!r}; rename one first")
    # a player who was asked for and is not there was erased in between: the log refuses what comes for the id
    player_id = found[0].player_id if found else whose or str(uuid5(NAMESPACE, f"player|{name}"))
    known = courses(connection, player_id)
    foreign = _foreign(connection, player_id, rounds)
    maker = RecordMaker(player_id, club_ids(connection, player_id), known, rounds, foreign)
    if not found:
        met.fresh += 1
        met.fresh_names += [name] if met.fresh <= _FRESH_LISTED else []
        maker.make_player(name, rounds.columns["row"][0], taking.newcomers)
    for key, shots in rounds.of.items():
        maker.make_round(key, shots)
        if key[2] in known and any(shots.column("position")):
            met.far.extend(far_from_course(shots, map_places(connection, player_id, known[key[2]][0])))
    if taking.strict:
        met.new_names.extend(RowFault(row, column, f"{words} (--strict)") for row, column, words in maker.new_names)
    result.met(maker.new_names)

    def lacking(record_id: str) -> Collection[str]:
        return lacking_of(maker.rows[record_id]) if record_id in maker.rows else ()

    brought, faults, kept = changes_of(connection, player_id, maker.told(), lacking, iso(datetime.now(UTC)))
    result.changes += len(brought)
    result.kept += kept
    return Plan(player_id, brought, faults, maker.whole)


def _one(connection: sa.Connection, player_id: str) -> list[Player]:
    found = player_by_id(connection, player_id)
    return [] if found is None else [found]


def _foreign(connection: sa.Connection, player_id: str, rounds: Rounds) -> set[str]:
    """The ids of rounds and shots in the table that belong to another player here."""
    named = {*rounds.columns["round_id"], *rounds.columns["shot_id"]} - {None}
    return {record_id for record_id, head in heads(connection, sorted(named)).items() if head.player_id != player_id}


class _Asked(NamedTuple):
    """A change that a table asks for, before the record is looked at: the change before it and the words of what the
    table says."""

    change_id: str
    record_id: str
    kind: str
    body: RecordBody
    head: Head | None
    words: str


def changes_of(
    connection: sa.Connection,
    player_id: str,
    told: Told,
    lacking: Callable[[str], Collection[str]],
    now: str,
) -> tuple[Brought[Change], list[Fault], int]:
    """Changes that turn the records into what the table says, what is wrong with the others, and how many records were
    edited since and are kept. `lacking`: of shots, the fields that their table has no column for."""
    ids = [*told.records, *told.shots.record_ids]
    if len(set(ids)) < len(ids):
        told = told.one_by_one()
    spoken_of = known_records(connection, ids)
    current = heads(connection, sorted(spoken_of))
    moment = parse_time(now, "client_time")
    fresh, ready, apart = _fresh(told.shots, spoken_of)
    asked: list[_Asked] = []
    before: list[int] = []
    for at, record_id, kind, body in told.single(apart):
        head = current.get(record_id)
        held = None if head is None else head.body
        merged = body if held is None else merge(kind, held, body, lacking(record_id))
        if head is None or held is None or load(kind, merged) != load(kind, held):
            words = words_of(body)
            asked.append(_Asked(change_named(record_id, words), record_id, kind, merged, head, words))
            before.append(at)
    every = Brought(asked, before, new_shots(fresh.record_ids, ready, DEVICE, now, moment))
    known = known_ids(connection, [*(one.change_id for one in asked), *every.shots.change_ids])
    brought = every.without(known)
    changes: list[Change] = []
    places: list[int] = []
    faults: list[Fault] = []
    for (change_id, record_id, kind, body, head, words), at in zip(brought.single, brought.before, strict=True):
        parents = () if head is None else (head.change_id,)
        content = words if head is None else words_of(body)
        try:
            changes.append(put_of(change_id, record_id, kind, body, content, parents, DEVICE, now, moment))
            places.append(at)
        except InvalidError as invalid:
            faults += invalid.faults
    return Brought(changes, places, brought.shots), faults, len(known)


def _fresh(shots: ShotColumns, spoken_of: Set[str]) -> tuple[ShotColumns, Ready, set[int]]:
    """Shots of which no log says anything, made ready together; and the places of the others, and of those that are to
    be looked at by themselves."""
    apart: set[int] = set()
    if not spoken_of.isdisjoint(shots.record_ids):
        apart.update(place for place, record_id in enumerate(shots.record_ids) if record_id in spoken_of)
    while True:
        places = [place for place in range(len(shots)) if place not in apart] if apart else range(len(shots))
        fresh = shots.chosen(places) if apart else shots
        ready = many_shots(fresh.values)
        if not ready.doubtful:
            return fresh, ready, apart
        apart.update(places[place] for place in ready.doubtful)


__all__ = ["Imported", "ImportedRound", "import_table"]
