"""Storing a great many changes without holding up the other writers.

Everything that takes time is worked out while others write: parsing, numbers, derived records, checks of full rounds.
What is left is one short transaction that stores all or nothing. It is made for a log as it was seen; when the player's
log has moved on since, nothing is stored, and it is prepared again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from types import SimpleNamespace
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import Change
from server.records.new_shots import Brought
from server.records.validation import InvalidError
from server.store.collecting import uncollected
from server.store.cursors import START
from server.store.derive import rederived, remove, shot_columns
from server.store.engine import (
    NewRow,
    Ready,
    insert_ready,
    reading,
    ready_columns,
    ready_rows,
    roomy,
    select_in,
    unindexed,
    writing,
)
from server.store.log import ADVANCE, ErasedError, lock_player
from server.store.numbering import Numbering, numbering, room_for
from server.store.quarantine import resolve
from server.store.quotas import Use, changes_bytes, quotas_of
from server.store.tables import CHANGE, KIND_TABLES, PLAYER, ROUND_HOLE, SHOT
from server.store.unavailable import BusyError, CollisionError

ClashingIds = sa.exc.IntegrityError

TRIES: Final = 3
"""How often changes are prepared for a log that others write to."""

Rows = dict[sa.Table, list[NewRow]]

_NO_ROUNDS: Final[Mapping[str, int]] = {}
_HELD: Final = sa.select(PLAYER).where(PLAYER.c.player_id == sa.bindparam("of"))
_NEW: Final = {"last_seq": 0, "chain": START, "log_bytes": 0, "quarantine_bytes": 0, "erased_at": None}


class ConcurrentChangeError(RuntimeError):
    """The player's log is no longer as it was when the changes were prepared. Nothing was stored."""


@dataclass(frozen=True)
class Prepared:
    """Changes of one player, ready to be stored after `after` (number and chain). `rows`: what comes into each table of
    records, without the `new_shots`, which are columns; `gone`: records whose rows are replaced, with their kinds, a
    few hundred at a time; `whole`: new rounds whose rows were checked together, and how many shots that were."""

    player_id: str
    after: tuple[int, str]
    accepted: Numbering
    change_ids: Sequence[str]
    records: frozenset[str]
    log_bytes: int
    rows: Rows
    new_shots: Mapping[str, Sequence[Any]]
    gone: list[tuple[list[str], set[str]]]
    inserts: list[Ready]
    whole: Mapping[str, int]

    def to_store(self) -> Prepared:
        """What `store` needs of it, without what only checks look at."""
        bare = replace(self.accepted, known={}, before={}, numbered={})
        return replace(self, accepted=bare, records=frozenset(), rows={}, new_shots={}, whole={})

    @property
    def replaced(self) -> set[str]:
        """The records among them whose rows are there already."""
        return {record_id for ids, _ in self.gone for record_id in ids}


def prepare(
    connection: sa.Connection,
    player_id: str,
    brought: Brought[Change],
    received: datetime,
    whole: Mapping[str, int] = _NO_ROUNDS,
) -> Prepared:
    """Work out all that storing these changes needs, reading only; no two of them are of one record. Raises
    InvalidError with every fault, ErasedError and QuotaError. What the records of a round must agree on,
    `server.store.round_checks.check_prepared` finds. `whole`: as in `Prepared`."""
    held: Any = connection.execute(_HELD, {"of": player_id}).first()
    held = held or SimpleNamespace(**_NEW)
    if held.erased_at is not None:
        raise ErasedError(player_id)
    accepted = numbering(connection, player_id, held, list(brought.single), received)
    if faults := accepted.faults(brought.single):
        raise InvalidError(faults)
    after = (int(held.last_seq), str(held.chain))
    come = brought.without(accepted.known)
    if not come:
        return Prepared(player_id, after, accepted, (), frozenset(), held.log_bytes, defaultdict(list), {}, [], [], {})
    log = accepted.columns(come)
    added = changes_bytes(log["body"], log["parents"])
    log_bytes = held.log_bytes + room_for(added, Use(held.log_bytes, held.quarantine_bytes), quotas_of(connection))
    new_shots = shot_columns(player_id, come.shots) if come.shots else {}
    places = [place + at for place, at in enumerate(come.before)]
    typed = {change.change_id: change.fields for change in come.single}
    of_log = [{name: column[place] for name, column in log.items()} for place in places]
    rows: Rows = defaultdict(list)
    gone = []
    for ids, kinds, made in rederived(connection, player_id, of_log, accepted.before, typed):
        if ids:
            gone.append((ids, kinds))
        for table, row in made:
            rows[table].append(row)
    inserts = [ready_columns(connection.dialect, CHANGE, log)]
    # owners before what hangs on them
    for table in (*KIND_TABLES.values(), ROUND_HOLE):
        if table is SHOT and new_shots:
            inserts.append(ready_columns(connection.dialect, SHOT, new_shots))
        if rows[table]:
            inserts.append(ready_rows(connection.dialect, table, rows[table]))
    return Prepared(
        player_id,
        after,
        accepted,
        log["change_id"],
        frozenset(log["record_id"]),
        log_bytes,
        rows,
        new_shots,
        gone,
        inserts,
        whole,
    )


def moved_on(connection: sa.Connection, after: Mapping[str, tuple[int, str]]) -> set[str]:
    """Of these players those whose log is no longer as it was (number and chain)."""
    columns = (PLAYER.c.player_id, PLAYER.c.last_seq, PLAYER.c.chain)
    rows = select_in(connection, columns, PLAYER.c.player_id, list(after))
    now = {row.player_id: (int(row.last_seq), str(row.chain)) for row in rows}
    new = (0, START)
    return {player_id for player_id, seen in after.items() if now.get(player_id, new) != seen}


def store(connection: sa.Connection, prepared: Prepared, *, by_player: bool = False) -> None:
    """Store it in a write transaction that the caller holds. Raises ConcurrentChangeError, and CollisionError when
    another player's change has taken one of the ids since: both are to undo the transaction. `by_player`: the index by
    ids of shots is away."""
    accepted = prepared.accepted
    if not prepared.change_ids:
        return
    held = lock_player(connection, prepared.player_id, accepted.received_at)
    if (int(held.last_seq), str(held.chain)) != prepared.after:
        raise ConcurrentChangeError(prepared.player_id)
    counts = {"log_bytes": prepared.log_bytes, "quarantine_bytes": held.quarantine_bytes}
    connection.execute(ADVANCE, {"of": prepared.player_id, "last_seq": accepted.seq, "chain": accepted.chain, **counts})
    for ids, kinds in prepared.gone:
        remove(connection, ids, kinds, prepared.player_id if by_player else None)
    for ready in prepared.inserts:
        insert_ready(connection, ready)
    resolve(connection, prepared.player_id, prepared.change_ids, accepted.received_at)


MANY: Final = 20_000
"""New changes from which on indexes are made anew, where they are more than those that are there already."""


BY_RANDOM_IDS: Final = frozenset({"change_once", "change_by_record", "shot_once"})
"""Indexes of the log and of the shots, whose ids come in no order."""


@contextmanager
def _room(connection: sa.Connection, coming: int) -> Iterator[bool]:
    """What so many new changes want of the database while they are stored; whether indexes are away meanwhile."""
    with roomy(connection):
        if coming < MANY or connection.execute(_MORE_THAN, {"coming": coming}).first():
            yield False
        else:
            with unindexed(connection, BY_RANDOM_IDS) as away:
                yield away


def _is_first(engine: sa.Engine, coming: int) -> bool:
    """Whether so many new changes come into a log that is empty."""
    if coming < MANY:
        return False
    with reading(engine) as connection:
        return connection.execute(_MORE_THAN, {"coming": 0}).first() is None


_MORE_THAN: Final = sa.select(sa.literal(1)).select_from(CHANGE).offset(sa.bindparam("coming")).limit(1)


def store_all(engine: sa.Engine, ready: Callable[[bool], Iterable[Prepared]], coming: int = 0) -> None:
    """Store in one transaction all that `ready` gives, or nothing. Where a player's log has moved on since, `ready` is
    asked again: with True when somebody else's change has taken one of the ids, so that all of it is to be worked out
    anew. `coming`: about how many changes that will be. Raises BusyError when that happens each time."""
    clashed = False
    for _ in range(TRIES):
        come = ready(clashed)
        try:
            into_empty = _is_first(engine, coming)
            with writing(engine, into_empty=into_empty) as connection, _room(connection, coming) as away:
                for one in come:
                    with uncollected():
                        store(connection, one, by_player=away)
        except ConcurrentChangeError:
            clashed = False
        except (CollisionError, ClashingIds):
            clashed = True
        else:
            return
    raise BusyError("the players of this table are being written to by others")
