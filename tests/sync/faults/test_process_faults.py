"""The server's process is killed while three devices push: nothing is lost, nothing is stored twice.

In the long tier 200 kills on SQLite, of which 150 at random moments (seeded) and 50 right before or after a commit, and
20 more on PostgreSQL; by default 18 and 8. A killed process proves atomic commits and answers after them; it says
nothing about a loss of power.
"""

from __future__ import annotations

import json
import random
import threading
import uuid
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from server.records.fold import PUT
from server.store.engine import open_database, reading
from server.store.rebuild import check_database
from server.store.tables import CHANGE
from tests.records.made import body_of
from tests.sync.device import Device
from tests.sync.faults.launching import AFTER_COMMIT, BEFORE_COMMIT
from tests.sync.faults.servers import HttpWire, Launcher, Running
from tests.tiers import count

ARTIFACTS = Path(__file__).resolve().parents[3] / ".artifacts"
DEVICES = 3
LONGEST_LIFE_S = 0.08
"""A server lives this long at most once the devices push; a push takes a few milliseconds."""

HEALING = 6


class Noting(HttpWire):
    """The wire, with notes of what the server promised and of the push whose fate is not known."""

    def __init__(self, port: int, promised: dict[str, str]) -> None:
        super().__init__(port)
        self.promised = promised
        self.lost = False
        self.unanswered: list[str] = []

    def ask(self, method: str, path: str, sent: Any = None) -> tuple[int, dict[str, str], Any]:
        if sent is not None:
            fresh = [change["change_id"] for change in sent["changes"] if change["change_id"] not in self.promised]
            self.unanswered = fresh
        try:
            found = super().ask(method, path, sent)
        except ConnectionError:
            self.lost = True
            raise
        self.unanswered = []
        return found

    def push(self, player_id: str, sent: dict[str, Any], drop: str = "") -> dict[str, Any]:
        done = super().push(player_id, sent, drop)
        assert done["quarantined"] == []
        for change_id in done["acknowledged"]:
            self.promised.setdefault(change_id, done["received_at"])
        return done


@dataclass
class Storm:
    """Three devices of one player, and one server after another."""

    launcher: Launcher
    url: str
    seed: int
    player_id: str = field(default_factory=lambda: str(uuid.uuid4()))
    written: dict[str, dict[str, Any]] = field(default_factory=dict)
    promised: dict[str, str] = field(default_factory=dict)
    silent: set[str] = field(default_factory=set)
    fates: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.chooser = random.Random(self.seed)
        self.devices = [Device(self.player_id) for _ in range(DEVICES)]
        self.engine = open_database(self.url)

    def write(self, device: Device, chooser: random.Random) -> None:
        """A new club, or another label for one that the device knows."""
        known = device.records("club")
        again = bool(known) and chooser.random() < 0.3
        record_id = chooser.choice(known) if again else str(uuid.uuid4())
        change = device.write(record_id, "club", PUT, body_of("club", label=f"club {chooser.random():.6f}"))
        self.written[change["change_id"]] = change

    def life(self, dies: str | None = None) -> None:
        """One server: devices write, push and pull until it dies."""
        server = self.launcher.start(self.url, dies=dies)
        wires = [Noting(server.port, self.promised) for _ in self.devices]
        going = threading.Barrier(DEVICES + 1)
        seeds = [self.chooser.random() for _ in self.devices]
        threads = [
            threading.Thread(target=self._use, args=(device, wire, random.Random(seed), going))
            for device, wire, seed in zip(self.devices, wires, seeds, strict=True)
        ]
        for thread in threads:
            thread.start()
        going.wait(60)
        if dies:
            self.launcher.wait(server)
        else:
            threading.Event().wait(self.chooser.uniform(0, LONGEST_LIFE_S))
            self.launcher.kill(server)
        for thread in threads:
            thread.join(120)
            assert not thread.is_alive()
        self._note_fates(wires)

    def _use(self, device: Device, wire: Noting, chooser: random.Random, going: threading.Barrier) -> None:
        for _ in range(chooser.randint(1, 3)):
            self.write(device, chooser)
        going.wait(60)
        device.push(wire, chooser, 1000)
        while not wire.lost:
            device.push(wire, chooser, chooser.randint(1, 6))
            if not wire.lost and chooser.random() < 0.3:
                device.pull(wire, 200)
            if not device.outbox:
                self.write(device, chooser)
        wire.close()

    def _note_fates(self, wires: list[Noting]) -> None:
        """What became of the pushes that were under way: all of each, or nothing. `silent`: stored, never answered."""
        self._settle()
        for wire in wires:
            fresh = [change_id for change_id in wire.unanswered if change_id not in self.silent]
            if not fresh:
                continue
            stored = self.stored(fresh)
            assert stored in (0, len(fresh)), "a push was stored by half"
            self.fates["stored, not answered" if stored else "not stored"] += 1
            if stored:
                self.silent.update(fresh)

    def _settle(self) -> None:
        """Wait until PostgreSQL has noticed that its client died: a commit that was sent may still be at work."""
        if self.engine.dialect.name == "sqlite":
            return
        others = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
        for _ in range(1000):
            with reading(self.engine) as connection:
                if not connection.exec_driver_sql(others).scalar():
                    return
            threading.Event().wait(0.01)
        raise AssertionError("PostgreSQL holds on to a dead client")

    def stored(self, change_ids: list[str]) -> int:
        """How many of these changes the log holds, asked of the database itself."""
        with reading(self.engine) as connection:
            query = sa.select(sa.func.count()).where(CHANGE.c.change_id.in_(change_ids))
            return int(connection.execute(query).scalar() or 0)

    def heal(self, server: Running) -> None:
        """Everybody has signal again."""
        wire = HttpWire(server.port)
        for _ in range(HEALING):
            for device in self.devices:
                device.push(wire, self.chooser, 1000)
                while device.pull(wire, 500):
                    pass
        wire.close()

    def reckon(self) -> dict[str, int]:
        """What the log holds of all that was written; every device must hold the same."""
        with reading(self.engine) as connection:
            query = sa.select(CHANGE).where(CHANGE.c.player_id == self.player_id).order_by(CHANGE.c.seq)
            log = connection.execute(query).mappings().all()
        assert [row["seq"] for row in log] == list(range(1, len(log) + 1))
        times = {row["change_id"]: row["received_at"] for row in log}
        # A change that was promised, lost and pushed again would bear a later time than the promise.
        broken = [one for one, promised in self.promised.items() if times.get(one, "9") > promised]
        assert broken == []
        for row in log:
            sent = self.written[row["change_id"]]
            assert (json.loads(row["body"]), row["device_id"]) == (sent["body"], sent["device_id"])
        report = check_database(self.engine)
        assert (report.faults, report.changes) == (0, len(log)), report.differences
        for device in self.devices:
            assert device.outbox == {}
            assert device.held.keys() == self.written.keys()
            assert device.view() == self.devices[0].view()
        return {
            "changes": len(self.written),
            "lost": len(self.written.keys() - times.keys()),
            "doubled": len(log) - len(times),
        }


@pytest.mark.parametrize(
    ("sort", "at_random", "at_commits"),
    [("sqlite", count(10, 150), count(4, 25)), ("postgresql", count(4, 10), count(2, 5))],
)
def test_a_killed_server_loses_nothing_and_stores_nothing_twice(
    launcher: Launcher,
    new_database: Callable[[str, Path], str],
    tmp_path: Path,
    sort: str,
    at_random: int,
    at_commits: int,
) -> None:
    storm = Storm(launcher, new_database(sort, tmp_path), seed=20260501)
    orders = [None] * at_random + [BEFORE_COMMIT, AFTER_COMMIT] * at_commits
    storm.chooser.shuffle(orders)
    before = after = 0
    for dies in orders:
        fates = storm.fates.copy()
        storm.life(dies)
        gained = storm.fates - fates
        if dies == BEFORE_COMMIT:
            before += 1
            assert gained["stored, not answered"] == 0, "a push was stored before its commit"
        elif dies == AFTER_COMMIT:
            after += 1
            assert gained["stored, not answered"] >= 1, "a push was answered before its commit, or not stored"
    with launcher.serving(storm.url) as server:
        storm.heal(server)
        newcomer = Device(storm.player_id)
        wire = HttpWire(server.port)
        while newcomer.pull(wire, 97):
            pass
        wire.close()
    assert newcomer.held.keys() == storm.written.keys()
    found = storm.reckon()
    storm.engine.dispose()
    figures = {
        "kills": len(orders),
        "before commit": before,
        "after commit": after,
        "pushes cut off": dict(storm.fates),
    }
    note(sort, figures | found)
    assert (found["lost"], found["doubled"]) == (0, 0)
    assert storm.fates["not stored"] > at_commits
    assert storm.fates["stored, not answered"] >= at_commits
    assert found["changes"] > 3 * len(orders)


def note(sort: str, figures: dict[str, Any]) -> None:
    """Write the figures of this run beside those of the other databases."""
    ARTIFACTS.mkdir(exist_ok=True)
    path = ARTIFACTS / "process_faults.json"
    known = json.loads(path.read_text()) if path.exists() else {}
    path.write_text(json.dumps(known | {sort: figures}, indent=2))
