"""Storing a great many changes without holding up the other writers.

Everything that takes time is worked out while others write: parsing, numbers, derived records, checks of full rounds.
What is left is one short transaction that stores all or nothing. It is made for a log as it was seen; when the player's
log has moved on since, nothing is stored, and it is prepared again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from types import SimpleNamespace
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import Change
from server.records.validation import InvalidError
from server.store.cursors import START
from server.store.derive import rederived, remove
from server.store.engine import NewRow, Ready, insert_ready, ready_rows, roomy, select_in, writing
from server.store.log import ADVANCE, TRIES, ErasedError, lock_player
from server.store.numbering import Numbering, numbering, room_for
from server.store.quarantine import resolve
from server.store.quotas import Use, quotas_of
from server.store.tables import CHANGE, KIND_TABLES, PLAYER, ROUND_HOLE
from server.store.unavailable import BusyError, CollisionError

ClashingIds = sa.exc.IntegrityError

Rows = dict[sa.Table, list[NewRow]]

_NEW: Final = {"last_seq": 0, "chain": START, "log_bytes": 0, "quarantine_bytes": 0, "erased_at": None}


class ConcurrentChangeError(RuntimeError):
    """The player's log is no longer as it was when the changes were prepared. Nothing was stored."""


@dataclass(frozen=True)
class Prepared:
    """Changes of one player, ready to be stored after `after` (number and chain). `rows`: what comes into each table of
    records; `gone`: records whose rows are replaced, with their kinds, a few hundred at a time."""

    player_id: str
    after: tuple[int, str]
    accepted: Numbering
    change_ids: list[str]
    log_bytes: int
    rows: Rows
    gone: list[tuple[list[str], set[str]]]
    inserts: list[Ready]

    def to_store(self) -> Prepared:
        """What `store` needs of it, without what only checks look at."""
        bare = replace(self.accepted, rows=[], typed={}, known={}, before={}, numbered={})
        return replace(self, accepted=bare, rows={})

    @property
    def records(self) -> set[str]:
        """The records that the changes speak of."""
        return {row["record_id"] for row in self.accepted.rows}

    @property
    def replaced(self) -> set[str]:
        """The records among them whose rows are there already."""
        return {record_id for ids, _ in self.gone for record_id in ids}


def prepare(connection: sa.Connection, player_id: str, changes: Sequence[Change], received: datetime) -> Prepared:
    """Work out all that storing these changes needs, reading only. Raises InvalidError with every fault, ErasedError
    and QuotaError. What the records of a round must agree on, `server.store.round_checks.check_prepared` finds."""
    held: Any = connection.execute(sa.select(PLAYER).where(PLAYER.c.player_id == player_id)).first()
    held = held or SimpleNamespace(**_NEW)
    if held.erased_at is not None:
        raise ErasedError(player_id)
    accepted = numbering(connection, player_id, held, list(changes), received)
    if faults := accepted.take(changes):
        raise InvalidError(faults)
    log_bytes = held.log_bytes + room_for(accepted, Use(held.log_bytes, held.quarantine_bytes), quotas_of(connection))
    rows: Rows = defaultdict(list)
    gone = []
    for ids, kinds, come in rederived(connection, player_id, accepted.rows, accepted.before, accepted.typed):
        if ids:
            gone.append((ids, kinds))
        for table, row in come:
            rows[table].append(row)
    # owners before what hangs on them
    tables = [table for table in (*KIND_TABLES.values(), ROUND_HOLE) if rows[table]]
    inserts = [ready_rows(connection.dialect, CHANGE, accepted.rows)] if accepted.rows else []
    inserts += [ready_rows(connection.dialect, table, rows[table]) for table in tables]
    after = (int(held.last_seq), str(held.chain))
    change_ids = [row["change_id"] for row in accepted.rows]
    return Prepared(player_id, after, accepted, change_ids, log_bytes, rows, gone, inserts)


def moved_on(connection: sa.Connection, after: Mapping[str, tuple[int, str]]) -> set[str]:
    """Of these players those whose log is no longer as it was (number and chain)."""
    columns = (PLAYER.c.player_id, PLAYER.c.last_seq, PLAYER.c.chain)
    rows = select_in(connection, columns, PLAYER.c.player_id, list(after))
    now = {row.player_id: (int(row.last_seq), str(row.chain)) for row in rows}
    new = (0, START)
    return {player_id for player_id, seen in after.items() if now.get(player_id, new) != seen}


def store(connection: sa.Connection, prepared: Prepared) -> None:
    """Store it in a write transaction that the caller holds. Raises ConcurrentChangeError, and CollisionError when
    another player's change has taken one of the ids since: both are to undo the transaction."""
    accepted = prepared.accepted
    if not prepared.change_ids:
        return
    held = lock_player(connection, prepared.player_id, accepted.received_at)
    if (int(held.last_seq), str(held.chain)) != prepared.after:
        raise ConcurrentChangeError(prepared.player_id)
    counts = {"log_bytes": prepared.log_bytes, "quarantine_bytes": held.quarantine_bytes}
    connection.execute(ADVANCE, {"of": prepared.player_id, "last_seq": accepted.seq, "chain": accepted.chain, **counts})
    for ids, kinds in prepared.gone:
        remove(connection, ids, kinds)
    for ready in prepared.inserts:
        insert_ready(connection, ready)
    resolve(connection, prepared.player_id, prepared.change_ids, accepted.received_at)


def store_all(engine: sa.Engine, ready: Callable[[bool], Iterable[Prepared]]) -> None:
    """Store in one transaction all that `ready` gives, or nothing. Where a player's log has moved on since, `ready` is
    asked again: with True when somebody else's change has taken one of the ids, so that all of it is to be worked out
    anew. Raises BusyError when that happens each time."""
    clashed = False
    for _ in range(TRIES):
        come = ready(clashed)
        try:
            with writing(engine) as connection, roomy(connection):
                for one in come:
                    store(connection, one)
        except ConcurrentChangeError:
            clashed = False
        except (CollisionError, ClashingIds):
            clashed = True
        else:
            return
    raise BusyError("the players of this table are being written to by others")
