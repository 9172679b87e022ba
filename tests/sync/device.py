"""A Python twin of the phone's exchange: what a device holds, what it has still to send, how it pushes and pulls.

The twin follows `web/js/log/`: a change leaves the outbox only when it comes back by pull, a page and its cursor are
saved together, a reset queues everything held. Flags in `Habits` break one rule each, for the tests that must notice.
"""

from __future__ import annotations

import random
import uuid
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Protocol

from server.records.changes import iso
from server.records.fold import DELETE, PUT, Folded, Version, fold


class Wire(Protocol):
    """The way to a server. Both raise ConnectionError when the answer does not arrive."""

    def push(self, player_id: str, sent: dict[str, Any], drop: str) -> dict[str, Any]: ...

    def pull(self, player_id: str, cursor: str | None, limit: int, drop: str) -> dict[str, Any]: ...


@dataclass(frozen=True)
class Habits:
    """Ways in which a device can be broken."""

    retires_on_send: bool = False
    retires_on_acknowledgement: bool = False
    saves_cursor_before_page: bool = False


@dataclass
class Device:
    """One device of a player. Everything here survives a kill of the app; `wipe` is what a cleared storage does."""

    player_id: str
    skew: timedelta = timedelta(0)
    habits: Habits = Habits()
    device_id: str = field(default_factory=lambda: str(uuid.uuid4()))
    held: dict[str, dict[str, Any]] = field(default_factory=dict)
    outbox: dict[str, dict[str, Any]] = field(default_factory=dict)
    quarantined: dict[str, dict[str, Any]] = field(default_factory=dict)
    cursor: str | None = None
    offset: timedelta = timedelta(0)

    def now(self) -> datetime:
        """What the device's clock shows."""
        return datetime.now(UTC) + self.skew

    def wipe(self) -> None:
        """The browser cleared its storage: a new device, as far as anybody can tell."""
        self.device_id = str(uuid.uuid4())
        self.cursor, self.offset = None, timedelta(0)
        for store in (self.held, self.outbox, self.quarantined):
            store.clear()

    def folded(self, record_id: str) -> Folded | None:
        """The record as this device sees it."""
        versions = [self._version(change) for change in self.held.values() if change["record_id"] == record_id]
        return fold(versions) if versions else None

    def _version(self, change: dict[str, Any]) -> Version:
        guess = iso(datetime.fromisoformat(change["client_time"]) + self.offset)
        when = change.get("effective_time") or guess
        return Version(change["change_id"], tuple(change["parents"]), change["op"], when, change["body"])

    def write(self, record_id: str, kind: str, op: str, body: Any, parents: list[str] | None = None) -> dict[str, Any]:
        """Make a change and queue it. Its parents are the head that the device sees, unless others are named."""
        seen = self.folded(record_id)
        if parents is None:
            parents = [seen.head.change_id] if seen else []
        change = {
            "change_id": str(uuid.uuid4()),
            "record_id": record_id,
            "kind": kind,
            "parents": parents,
            "op": op,
            "body": body if op == PUT else None,
            "device_id": self.device_id,
            "client_time": iso(self.now()),
            "schema_version": 1,
        }
        self.held[change["change_id"]] = change
        self.outbox[change["change_id"]] = change
        return change

    def delete_round(self, round_id: str) -> list[dict[str, Any]]:
        """Delete a round and every shot of it that this device knows."""
        doomed = [(round_id, "round")]
        doomed += [(record_id, "shot") for record_id in self.records("shot") if self._in_round(record_id, round_id)]
        return [self.write(record_id, kind, DELETE, None) for record_id, kind in doomed if self.is_alive(record_id)]

    def records(self, kind: str) -> list[str]:
        """Ids of the records of a kind that this device knows."""
        found: dict[str, None] = {}
        for change in self.held.values():
            if change["kind"] == kind:
                found[change["record_id"]] = None
        return list(found)

    def is_alive(self, record_id: str) -> bool:
        """Whether the record exists and is not deleted."""
        seen = self.folded(record_id)
        return seen is not None and not seen.deleted

    def _in_round(self, record_id: str, round_id: str) -> bool:
        seen = self.folded(record_id)
        return bool(seen and seen.head.body and seen.head.body["round_id"] == round_id)

    def start(self) -> None:
        """The app starts: what was refused is sent again once, for a server that forgot it or has learnt to read it."""
        self.outbox |= self.quarantined
        self.quarantined.clear()

    def push(self, wire: Wire, chooser: random.Random, most: int, drop: str = "") -> None:
        """Send some of the outbox in any order. A lost answer changes nothing here."""
        batch = list(self.outbox.values())
        chooser.shuffle(batch)
        batch = batch[:most]
        if not batch:
            return
        if self.habits.retires_on_send:
            self._retire([change["change_id"] for change in batch])
        sent = {"device_id": self.device_id, "now": iso(self.now()), "changes": batch}
        try:
            done = wire.push(self.player_id, sent, drop)
        except ConnectionError:
            return
        self._learn_offset(done["now"])
        for bad in done["quarantined"]:
            change = self.outbox.pop(bad["change_id"], None)
            if change is not None:
                self.quarantined[bad["change_id"]] = change
                self.held.pop(bad["change_id"], None)
        if self.habits.retires_on_acknowledgement:
            self._retire(done["acknowledged"])

    def pull(self, wire: Wire, limit: int, drop: str = "", killed: bool = False) -> bool:
        """Take one page. `killed`: the app dies while saving it. Returns whether there is more."""
        try:
            page = wire.pull(self.player_id, self.cursor, limit, drop)
        except ConnectionError:
            return True
        if page is None:
            return False
        self._learn_offset(page["now"])
        if page["reset"]:
            self.cursor = None
            self.outbox |= self.held
            return True
        if killed:
            if self.habits.saves_cursor_before_page:
                self.cursor = page["cursor"]
            return True
        self.cursor = page["cursor"]
        for change in page["changes"]:
            self.held[change["change_id"]] = change
        self._retire([change["change_id"] for change in page["changes"]])
        return bool(page["more"])

    def _learn_offset(self, server_now: str) -> None:
        self.offset = datetime.fromisoformat(server_now) - self.now()

    def _retire(self, change_ids: list[str]) -> None:
        for change_id in change_ids:
            self.outbox.pop(change_id, None)

    def view(self) -> dict[str, tuple[str, ...]]:
        """Every record's leaves, best first."""
        versions: dict[str, list[Version]] = defaultdict(list)
        for change in self.held.values():
            versions[change["record_id"]].append(self._version(change))
        return {
            record_id: tuple(leaf.change_id for leaf in fold(changes).leaves) for record_id, changes in versions.items()
        }
