"""Systems broken in one way each. The machine must notice every one of them, or it proves nothing."""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch

import sqlalchemy as sa

from server.records.changes import Change
from server.store import log, pulling
from server.store.derive import remove
from server.store.engine import reading, writing
from server.store.players import heads
from server.store.tables import CHANGE, KIND_TABLES, PLAYER
from tests.sync.device import Device, Habits
from tests.sync.machine import Exchange


class RetiresOnSend(Exchange):
    """The device forgets a change as soon as it is sent."""

    habits = Habits(retires_on_send=True)


class RetiresOnAcknowledgement(Exchange):
    """The device forgets a change when the server says that it has it: a restored backup has it no more."""

    habits = Habits(retires_on_acknowledgement=True)


class SavesCursorBeforePage(Exchange):
    """The cursor is saved, then the app is killed before the page is."""

    habits = Habits(saves_cursor_before_page=True)


class NumbersBeforeCommit(Exchange):
    """Numbers are given before the transaction: a later push commits first, and a cursor passes the earlier."""

    def overlap(self, first: Device, second: Device, puller: Device) -> None:
        with reading(self.house.engine) as connection:
            query = sa.select(PLAYER.c.last_seq, PLAYER.c.chain).where(PLAYER.c.player_id == self.player_id)
            found = connection.execute(query).first()
        if found is None or not first.outbox:
            super().overlap(first, second, puller)
            return
        self._set_last(found.last_seq + len(first.outbox))
        super().overlap(self.stranger, second, puller)
        whole = log.lock_player

        def numbered_before(*asked: Any) -> SimpleNamespace:
            return SimpleNamespace(**whole(*asked)._asdict() | found._asdict())

        with patch.object(log, "lock_player", numbered_before):
            first.push(self.house, random.Random(0), 1_000)
        with reading(self.house.engine) as connection:
            query = sa.select(sa.func.max(CHANGE.c.seq)).where(CHANGE.c.player_id == self.player_id)
            highest = connection.execute(query).scalar()
        self._set_last(highest or 0)

    def _set_last(self, seq: int) -> None:
        with writing(self.house.engine) as connection:
            connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == self.player_id).values(last_seq=seq))


@contextmanager
def no_dedupe() -> Iterator[None]:
    """A change that is sent again is stored again, as if it were new."""
    whole = log.append

    def append(connection: sa.Connection, player_id: str, device_id: str, parsed: Any, *rest: Any, **more: Any) -> Any:
        known = log.known_ids(connection, [one.change_id for _, one in parsed if isinstance(one, Change)])
        again = [
            (
                raw,
                one._replace(change_id=str(uuid.uuid4()))
                if isinstance(one, Change) and one.change_id in known
                else one,
            )
            for raw, one in parsed
        ]
        return whole(connection, player_id, device_id, again, *rest, **more)

    with patch.object(log, "append", append):
        yield


@contextmanager
def unchecked_cursor() -> Iterator[None]:
    """A cursor is only a number."""

    def sequence_of(_connection: sa.Connection, _player_id: str, cursor: str | None) -> int:
        return int(cursor.split(":")[0]) if cursor else 0

    with patch.object(pulling, "sequence_of", sequence_of):
        yield


@contextmanager
def loser_dropped() -> Iterator[None]:
    """The version that loses a conflict is thrown away."""

    def drop(connection: sa.Connection, record_id: str) -> None:
        head = heads(connection, [record_id])[record_id].change_id
        named = set()
        rows = connection.execute(sa.select(CHANGE).where(CHANGE.c.record_id == record_id)).mappings().all()
        for row in rows:
            named |= {one.strip('" ') for one in row["parents"].strip("[]").split(",")}
        losers = [row["change_id"] for row in rows if row["change_id"] not in named and row["change_id"] != head]
        connection.execute(sa.delete(CHANGE).where(CHANGE.c.change_id.in_(losers)))

    with _after_rederive(drop):
        yield


@contextmanager
def tombstones_purged() -> Iterator[None]:
    """A deleted record is cleared out of the log."""

    def purge(connection: sa.Connection, record_id: str) -> None:
        if heads(connection, [record_id])[record_id].body is None:
            connection.execute(sa.delete(CHANGE).where(CHANGE.c.record_id == record_id))
            remove(connection, [record_id], KIND_TABLES)

    with _after_rederive(purge):
        yield


@contextmanager
def _after_rederive(act: Any) -> Iterator[None]:
    whole = log.rederive

    def rederive(connection: sa.Connection, player_id: str, new_rows: Any, known: Any, typed: Any) -> None:
        whole(connection, player_id, new_rows, known, typed)
        for record_id in {row["record_id"] for row in new_rows}:
            act(connection, record_id)

    with patch.object(log, "rederive", rederive):
        yield
