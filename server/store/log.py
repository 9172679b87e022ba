"""The change log: append what devices push (`server.store.pulling` hands it out). Append-only, numbered per player.

A push is one transaction, answered only after its commit. Known changes are acknowledged again, bad ones are
kept raw in the quarantine, and one bad change never blocks the rest. Numbers are given under the player's
lock, so they appear in the order of commits and a cursor never passes a change that comes later.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Final, Protocol

import sqlalchemy as sa

from server.records.changes import Change, iso, parse_change, parse_time
from server.records.validation import Fault, InvalidError, listed, shown
from server.store.cursors import START
from server.store.derive import rederive
from server.store.engine import insert_rows, writing
from server.store.far_positions import far_in_push
from server.store.numbering import Numbering, numbering, room_for
from server.store.places import known_changes
from server.store.quarantine import keep_raw, resolve, waiting
from server.store.quotas import QUARANTINE_SETTING, Quotas, Use, change_bytes, quotas_of
from server.store.tables import CHANGE, PLAYER
from server.store.unavailable import CollisionError

MOST_CHANGES_A_PUSH: Final = 1000
TRIES: Final = 6
"""How often a push is begun that met others with the same new changes, each time after a pause by chance: two that wait
for each other would meet again."""
PAUSE_S: Final = 0.02
"""The longest first pause; each further one may be twice as long."""


class ErasedError(LookupError):
    """The player was erased: nothing of it is kept, and nothing more is accepted."""


@dataclass
class Pushed:
    """What became of a push. `acknowledged`: ids that the log holds or the quarantine keeps; `quarantined`: the
    bad ones with their faults; `new`: how many changes the log gained."""

    received_at: str
    acknowledged: list[str] = field(default_factory=list)
    quarantined: list[tuple[str | None, list[Fault]]] = field(default_factory=list)
    new: int = 0


class Admission(Protocol):
    """What somebody else than the player may change, asked inside the transaction of a push.

    What it does not admit, and what is bad, is named in the answer and kept nowhere: the quarantine is the player's.
    """

    def faults(self, change: Change, accepted: Numbering) -> list[Fault]:
        """What speaks against a change that the log does not hold yet."""

    def took(self, change: Change) -> None:
        """The log takes this change."""

    def charge(self, connection: sa.Connection, added: int) -> None:
        """The log gains so many bytes. Raises an error that undoes the push when that is too much."""


Admit = Callable[[sa.Connection, Sequence[Change]], Admission]
"""Makes the admission of a push, in its transaction and under the player's lock."""

Check = Callable[[sa.Connection, set[str]], list[Fault]]
"""Looks at the records that a push touched, inside its transaction; faults undo all of the push."""


def push(
    engine: sa.Engine,
    player_id: str,
    device_id: str,
    raw_changes: Sequence[Any],
    *,
    device_now: str | None = None,
    strict: bool = False,
    check: Check | None = None,
    admit: Admit | None = None,
) -> Pushed:
    """Append changes to a player's log.

    `device_now`: the device's clock as it sent them; its difference from ours is the offset of effective times.
    `strict`: any fault (also one that `check` finds) raises InvalidError and nothing at all is stored.
    `admit`: what is allowed to somebody who is not the player.
    """
    received = datetime.now(UTC)
    offset = _offset(device_now, received)
    parsed: list[tuple[Any, Change | InvalidError]] = [(raw, parsed_or_faults(raw)) for raw in raw_changes]
    for attempt in range(TRIES):
        try:
            with writing(engine) as connection:
                return append(
                    connection,
                    player_id,
                    device_id,
                    parsed,
                    received,
                    offset=offset,
                    strict=strict,
                    check=check,
                    admit=admit,
                )
        except (sa.exc.IntegrityError, CollisionError):
            # Another process stored the same change or record in the same moment: look again.
            if attempt == TRIES - 1:
                raise
            time.sleep(random.uniform(0, PAUSE_S * 2**attempt))
    raise AssertionError("the loop returns or raises")


def parsed_or_faults(raw: Any) -> Change | InvalidError:
    """A raw change parsed, or what is wrong with it."""
    try:
        return parse_change(raw)
    except InvalidError as invalid:
        return invalid


def _offset(device_now: str | None, received: datetime) -> timedelta:
    if device_now is None:
        return timedelta(0)
    return received - parse_time(device_now, "now")


def append(
    connection: sa.Connection,
    player_id: str,
    device_id: str,
    parsed: Sequence[tuple[Any, Change | InvalidError]],
    received: datetime,
    *,
    offset: timedelta = timedelta(0),
    strict: bool = False,
    check: Check | None = None,
    admit: Admit | None = None,
) -> Pushed:
    """`push` in a write transaction that the caller holds; `parsed` pairs raw changes with what parsing gave."""
    result = Pushed(iso(received))
    held = lock_player(connection, player_id, result.received_at)
    use, quotas = Use(held.log_bytes, held.quarantine_bytes), quotas_of(connection)
    quarantined = 0
    sound = [change for _, change in parsed if isinstance(change, Change)]
    accepted = numbering(connection, player_id, held, sound, received, offset)
    far = far_in_push(connection, player_id, [one for one in sound if one.change_id not in accepted.known])
    admission = admit(connection, sound) if admit else None
    for raw, change in parsed:
        faults = _faults(change, accepted, admission) or far.get(_id_of(raw) or "", [])
        if faults and admission is not None:
            result.quarantined.append((_id_of(raw), faults))
            continue
        if faults:
            room = quotas.quarantine - use.quarantine - quarantined
            quarantined += _set_aside(connection, player_id, device_id, raw, faults, room, result)
            continue
        if isinstance(change, Change):
            if admission is not None and change.change_id not in accepted.known:
                admission.took(change)
            accepted.add(change)
        result.acknowledged.append(raw["change_id"])
    if strict and result.quarantined:
        raise InvalidError([fault for _, faults in result.quarantined for fault in faults])
    rows = accepted.rows
    result.new = len(rows)
    added = room_for(sum(map(change_bytes, rows)), use, quotas)
    if admission is not None:
        admission.charge(connection, added)
    if rows or quarantined:
        counts = {"log_bytes": use.log + added, "quarantine_bytes": use.quarantine + quarantined}
        connection.execute(ADVANCE, {"of": player_id, "last_seq": accepted.seq, "chain": accepted.chain, **counts})
    if rows:
        insert_rows(connection, CHANGE, rows)
        rederive(connection, player_id, rows, accepted.before, accepted.typed)
        resolve(connection, player_id, [row["change_id"] for row in rows], result.received_at)
    if strict and check and (found := check(connection, {row["record_id"] for row in rows})):
        raise InvalidError(found)
    return result


def _faults(change: Change | InvalidError, accepted: Numbering, admission: Admission | None) -> list[Fault]:
    """What speaks against a change; one that the log holds already was admitted once."""
    if isinstance(change, InvalidError):
        return change.faults
    if admission is not None and change.change_id not in accepted.known:
        return admission.faults(change, accepted) or accepted.clashes(change)
    return accepted.clashes(change)


def _set_aside(
    connection: sa.Connection, player_id: str, device_id: str, raw: Any, faults: list[Fault], room: int, result: Pushed
) -> int:
    """Keep a bad change in the quarantine while that has `room` bytes for it, and record it in the result. Returns the
    bytes that were added."""
    kept = keep_raw(connection, player_id, device_id, raw, faults, result.received_at, room)
    change_id = _id_of(raw)
    result.quarantined.append((change_id, faults if kept >= 0 else listed([_full(quotas_of(connection)), *faults])))
    if kept >= 0 and change_id is not None:
        result.acknowledged.append(change_id)
    return max(kept, 0)


_THIS: Final = PLAYER.c.player_id == sa.bindparam("of")
_LOCK: Final = sa.select(PLAYER).where(_THIS).with_for_update()
_MOVED: Final = ("last_seq", "chain", "log_bytes", "quarantine_bytes")
ADVANCE: Final = sa.update(PLAYER).where(_THIS).values({name: sa.bindparam(name) for name in _MOVED})


def _full(quotas: Quotas) -> Fault:
    """Why a bad change was not kept: a device that holds it goes on holding it."""
    allowed = f"up to {quotas.quarantine} bytes of quarantine a player ({QUARANTINE_SETTING})"
    return Fault("quarantine", "full", allowed, "has no room: this change was not kept here, only where it was made")


def lock_player(connection: sa.Connection, player_id: str, now: str) -> Any:
    """Lock the player's row, made when new, until commit; returns it. ErasedError for an erased player."""
    last = connection.execute(_LOCK, {"of": player_id}).first()
    if last is None:
        row = {"player_id": player_id, "last_seq": 0, "chain": START, "created_at": now}
        connection.execute(sa.insert(PLAYER), row)
        return connection.execute(_LOCK, {"of": player_id}).one()
    if last.erased_at is not None:
        raise ErasedError(player_id)
    return last


def known_ids(connection: sa.Connection, ids: Sequence[str]) -> set[str]:
    """Of these change ids the ones that the log holds."""
    return known_changes(connection, CHANGE.c.change_id, ids)


def known_records(connection: sa.Connection, ids: Sequence[str]) -> set[str]:
    """Of these records the ones that some log speaks of, also that of an erased player."""
    return known_changes(connection, CHANGE.c.record_id, ids)


def _id_of(raw: Any) -> str | None:
    found = raw.get("change_id") if isinstance(raw, dict) else None
    return shown(found) if isinstance(found, str) else None


def retake_quarantined(engine: sa.Engine) -> int:
    """Push again what the quarantine holds: a newer server may understand it now. Returns how many were accepted."""
    accepted = 0
    for player_id, device_id, raw in waiting(engine):
        if isinstance(parsed_or_faults(raw), Change):
            accepted += push(engine, player_id, device_id, [raw]).new
    return accepted
