"""Numbering changes: each that a log takes gets its number, its effective time and its place in the chain."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import repeat
from operator import attrgetter
from typing import Any

import sqlalchemy as sa

from server.records.changes import Change, effective, iso
from server.records.fold import PUT
from server.records.json_types import RecordBody
from server.records.new_shots import KIND, SCHEMA_VERSION, Brought
from server.records.validation import Fault
from server.store.cursors import chained, chains
from server.store.places import select_changes
from server.store.players import not_erased
from server.store.quotas import QuotaError, Quotas, Use
from server.store.rows import LogRow
from server.store.tables import CHANGE

LogColumns = dict[str, Sequence[Any]]
"""Rows of the log by their columns."""


@dataclass
class Numbering:
    """Changes that a player's log takes after number `seq`, whose chain is `chain`. `rows`: those accepted, as the log
    keeps them; `typed`: their fields; `before`: the records among them that the log spoke of already, and whose."""

    player_id: str
    received: datetime
    offset: timedelta
    seq: int
    chain: str
    known: dict[str, tuple[str, str]]
    before: dict[str, tuple[str, str]]
    numbered: dict[str, int]
    rows: list[LogRow] = field(default_factory=list)
    # Of the changes that are accepted alone: one that only borrows the id of another must not speak for it.
    typed: dict[str, RecordBody] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.owners = dict(self.before)
        self.received_at = iso(self.received)
        self._effective: dict[datetime, str] = {}

    def clashes(self, change: Change) -> list[Fault]:
        """What speaks against a sound change in this log."""
        return _clashes(change, self.player_id, self.known, self.owners)

    def add(self, change: Change) -> None:
        """Take a change against which nothing speaks; one that the log holds is held once."""
        if change.change_id in self.known:
            return
        self.seq += 1
        moment = self._effective.get(change.moment) or self._effective_at(change.moment)
        self.chain = chained(self.chain, change.change_id, moment)
        self.numbered[change.record_id] = self.numbered.get(change.record_id, 0) + 1
        numbers = (self.seq, self.numbered[change.record_id])
        self.rows.append(_row(change, self.player_id, numbers, moment, self.received_at, self.chain))
        self.known[change.change_id] = (self.player_id, change.digest)
        self.owners[change.record_id] = (self.player_id, change.kind)
        self.typed[change.change_id] = change.fields

    def faults(self, changes: Sequence[Change]) -> list[Fault]:
        """What speaks against some of these changes."""
        return [fault for one in changes for fault in self.clashes(one)]

    def columns(self, brought: Brought[Change]) -> LogColumns:
        """What `add` makes of very many changes, a column after the other: against none of them speaks anything, none
        is held, and no two are of one record."""
        shots, together, count = brought.shots, brought.together, len(brought)
        columns = zip(*brought.single, strict=True) if brought.single else repeat((), len(Change._fields))
        given: dict[str, Sequence[Any]] = dict(zip(Change._fields, columns, strict=True))
        of_shots = {
            "change_id": shots.change_ids,
            "record_id": shots.record_ids,
            "kind": [KIND] * len(shots),
            "op": [PUT] * len(shots),
            "body": shots.bodies,
            "device_id": [shots.device_id] * len(shots),
            "client_time": [shots.client_time] * len(shots),
            "schema_version": [SCHEMA_VERSION] * len(shots),
            "digest": shots.digests,
        }
        log = {name: together(given[name], column) for name, column in of_shots.items()}
        times = {moment: effective(moment, self.offset, self.received) for moment in {*given["moment"], shots.moment}}
        moments = together([times[moment] for moment in given["moment"]], [times[shots.moment]] * len(shots))
        first, number_of = self.seq + 1, self.numbered.get
        chain = chains(self.chain, log["change_id"], moments)
        self.seq, self.chain = self.seq + count, chain[-1]
        return {
            "player_id": [self.player_id] * count,
            "seq": range(first, first + count),
            **log,
            "parents": together(map(_parents, given["parents"]), [_parents(())] * len(shots)),
            "effective_time": moments,
            "received_at": [self.received_at] * count,
            "chain": chain,
            "record_seq": together([number_of(one, 0) + 1 for one in given["record_id"]], [1] * len(shots)),
        }

    def _effective_at(self, moment: datetime) -> str:
        """The effective time of a client time; an import has one for all of its changes."""
        found = effective(moment, self.offset, self.received)
        self._effective = {moment: found}
        return found


def numbering(
    connection: sa.Connection,
    player_id: str,
    held: Any,
    changes: list[Change],
    received: datetime,
    offset: timedelta = timedelta(0),
) -> Numbering:
    """Begin after what the player's row records (`held`), knowing what the log holds of these changes."""
    known = _known(connection, changes)
    before, numbered = _owners(connection, changes)
    return Numbering(player_id, received, offset, int(held.last_seq), str(held.chain), known, before, numbered)


def room_for(added: int, use: Use, quotas: Quotas) -> int:
    """The bytes that new rows count. QuotaError when the log may not hold them too."""
    if added and use.log + added > quotas.log:
        raise QuotaError(use.log, added, quotas.log)
    return added


def _known(connection: sa.Connection, changes: list[Change]) -> dict[str, tuple[str, str]]:
    """Of these changes the ones that the log holds: id -> (player, digest)."""
    ids = [change.change_id for change in changes]
    columns = (CHANGE.c.change_id, CHANGE.c.player_id, CHANGE.c.digest)
    return {row[0]: (row[1], row[2]) for row in select_changes(connection, columns, CHANGE.c.change_id, ids)}


def _owners(connection: sa.Connection, changes: list[Change]) -> tuple[dict[str, tuple[str, str]], dict[str, int]]:
    """Of the records that these changes touch the ones that the log speaks of: id -> (player, kind), and id -> the
    number of the last change. What an erased player had is nobody's, and keeps its numbers."""
    ids = sorted({change.record_id for change in changes})
    columns = (CHANGE.c.record_id, CHANGE.c.player_id, CHANGE.c.kind, CHANGE.c.record_seq)
    rows = select_changes(connection, columns, CHANGE.c.record_id, ids)
    owners = {row.record_id: (row.player_id, row.kind) for row in not_erased(connection, rows)}
    return owners, {row.record_id: row.record_seq for row in sorted(rows, key=attrgetter("record_seq"))}


def _clashes(
    change: Change, player_id: str, known: dict[str, tuple[str, str]], owners: dict[str, tuple[str, str]]
) -> list[Fault]:
    """What speaks against a sound change in this log."""
    if change.change_id in known:
        if known[change.change_id] == (player_id, change.digest):
            return []
        return [Fault("change_id", change.change_id, "a new id", "is already used by another change")]
    owner, kind = owners.get(change.record_id, (player_id, change.kind))
    if owner != player_id:
        return [Fault("record_id", change.record_id, "a record of this player", "belongs to another player")]
    if kind != change.kind:
        return [Fault("kind", change.kind, kind, "differs from the kind of the record")]
    if change.kind == "player" and change.record_id != player_id:
        return [Fault("record_id", change.record_id, player_id, "is not the id of this player")]
    return []


def _parents(ids: Sequence[str]) -> str:
    return json.dumps(ids) if ids else "[]"


def _row(change: Change, player_id: str, numbers: tuple[int, int], moment: str, received_at: str, chain: str) -> LogRow:
    """The row of the log. `numbers`: its place in the player's log and among the changes of its record."""
    seq, record_seq = numbers
    return {
        "change_id": change.change_id,
        "player_id": player_id,
        "seq": seq,
        "record_id": change.record_id,
        "kind": change.kind,
        "parents": _parents(change.parents),
        "op": change.op,
        "body": change.body,
        "device_id": change.device_id,
        "client_time": change.client_time,
        "effective_time": moment,
        "received_at": received_at,
        "schema_version": change.schema_version,
        "digest": change.digest,
        "chain": chain,
        "record_seq": record_seq,
    }
