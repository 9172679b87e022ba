"""A stateful machine over the real server and three devices of one player, with every fault the course can bring.

Devices write, push in any order and batch, pull pages of any size; requests and answers get lost, apps are killed while
they save, clocks are days off and jump, devices are wiped, the server restarts, an earlier backup is restored, bad
changes are pushed. At the end everything heals, and nothing may be lost, doubled or different anywhere.
"""

from __future__ import annotations

import random
import shutil
import tempfile
import uuid
from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from server.records.changes import canonical
from server.records.fold import DELETE, PUT, Version, fold
from server.store.engine import open_database
from tests.sync.device import Device, Habits
from tests.sync.house import AFTER, BEFORE, House

DEVICES = 3
CLUBS, ROUND, SHOTS = 2, 1, 3
ROUNDS_OF_HEALING = 12
DROPS = st.sampled_from(["", "", "", BEFORE, AFTER])
WHICH = st.integers(0, DEVICES - 1)
SEEDS = st.integers(0, 2**32 - 1)
PLACES = st.lists(st.integers(0, CLUBS + ROUND + SHOTS - 1), min_size=1, max_size=5)
MISHAPS = ("clock jumps", "server restarts", "backup restored", "device wiped")


@dataclass
class Tally:
    """What all runs of a machine did together."""

    runs: int = 0
    steps: int = 0
    faults: int = 0
    changes: int = 0
    lost: int = 0
    doubled: int = 0
    diverged: int = 0
    kinds: Counter[str] = field(default_factory=Counter)

    def fault(self, kind: str) -> None:
        """Count one injected fault."""
        self.faults += 1
        self.kinds[kind] += 1


_SPOT = Path("/dev/shm") if Path("/dev/shm").is_dir() else None


def template_database() -> Path:
    """An empty database of the newest version, made once and copied for every run."""
    path = Path(tempfile.mkdtemp(prefix="pencilbag-template-")) / "empty.sqlite"
    open_database(f"sqlite:///{path}").dispose()
    return path


class Exchange(RuleBasedStateMachine):
    """The correct system. Subclasses break one part of it."""

    habits = Habits()
    house_class = House
    tally = Tally()
    template: Path | None = None
    clock: Any = None

    def __init__(self) -> None:
        super().__init__()
        cls = type(self)
        if cls.template is None:
            cls.template = template_database()
        self.folder = Path(tempfile.mkdtemp(prefix="pencilbag-", dir=_SPOT))
        self.house = self.house_class(self.folder, cls.template)
        self.player_id = str(uuid.uuid4())
        self.stranger = Device(str(uuid.uuid4()))
        self.devices = [Device(self.player_id, habits=self.habits) for _ in range(DEVICES)]
        self.club_ids = [str(uuid.uuid4()) for _ in range(CLUBS)]
        self.round_id = str(uuid.uuid4())
        self.shot_ids = [str(uuid.uuid4()) for _ in range(SHOTS)]
        self.written: dict[str, dict[str, Any]] = {}
        self.must_survive: set[str] = set()
        self.poison: dict[str, set[str]] = {}
        self.in_sequence: dict[str, bool] = {}
        self.count = 0
        self.tally.runs += 1

    # What devices do

    @initialize(skews=st.lists(st.integers(-9, 9), min_size=DEVICES, max_size=DEVICES))
    def some_clocks_are_wrong(self, skews: list[int]) -> None:
        for device, days in zip(self.devices[1:], skews[1:], strict=True):
            device.skew = timedelta(days=days)

    def _note(self, device: Device, change: dict[str, Any]) -> None:
        record_id = change["record_id"]
        earlier = {one for one in self.must_survive if self.written[one]["record_id"] == record_id}
        # In sequence: the writer had seen every change of the record, and replaces the one version there was.
        seen = device.held.keys() - {change["change_id"]}
        self.in_sequence[record_id] = self.in_sequence.get(record_id, True) and earlier <= seen
        self.written[change["change_id"]] = change
        self.must_survive.add(change["change_id"])
        self.tally.changes += 1

    def _body(self, record_id: str) -> tuple[str, dict[str, Any]]:
        self.count += 1
        if record_id in self.club_ids:
            return "club", {"label": f"club {self.count}", "sort": "iron", "kept": {"nonce": self.count}}
        if record_id == self.round_id:
            holes = [{"number": 1, "par": 4, "length_yd": 400}]
            body = {"played_on": "2026-05-01", "kind": "practice", "holes": holes, "bag": [], "note": str(self.count)}
            return "round", body
        order = self.shot_ids.index(record_id) + 1
        shot = {
            "round_id": self.round_id,
            "hole": 1,
            "ball": 1,
            "order": order,
            "lie": "tee",
            "club_id": self.club_ids[0],
        }
        return "shot", shot | {"distance_yd": 400.0, "note": str(self.count)}

    @rule(which=WHICH, places=PLACES)
    def write(self, which: int, places: list[int]) -> None:
        self._step()
        self._write(which, places)

    @rule(which=WHICH, places=PLACES, seed=SEEDS, drop=DROPS)
    def write_and_push(self, which: int, places: list[int], seed: int, drop: str) -> None:
        self._step(drop and f"push lost {drop}")
        self._write(which, places)
        self.devices[which].push(self.house, random.Random(seed), 4, drop)

    @rule(both=st.lists(WHICH, min_size=2, max_size=2, unique=True), places=PLACES)
    def write_on_two_devices(self, both: list[int], places: list[int]) -> None:
        self._step()
        for which in both:
            self._write(which, places)

    def _write(self, which: int, places: list[int]) -> None:
        device = self.devices[which]
        for place in places:
            record_id = [*self.club_ids, self.round_id, *self.shot_ids][place]
            kind, body = self._body(record_id)
            self._note(device, device.write(record_id, kind, PUT, body))

    @rule(which=WHICH, place=st.integers(0, CLUBS + SHOTS - 1))
    def delete(self, which: int, place: int) -> None:
        self._step()
        record_id = [*self.club_ids, *self.shot_ids][place]
        device = self.devices[which]
        if device.is_alive(record_id):
            kind = "club" if record_id in self.club_ids else "shot"
            self._note(device, device.write(record_id, kind, DELETE, None))

    @rule(which=WHICH)
    def delete_the_round(self, which: int) -> None:
        self._step()
        device = self.devices[which]
        for change in device.delete_round(self.round_id):
            self._note(device, change)

    @rule(which=WHICH, seed=SEEDS)
    def keep_another_version(self, which: int, seed: int) -> None:
        self._step()
        device = self.devices[which]
        for record_id in [*self.club_ids, self.round_id, *self.shot_ids]:
            seen = device.folded(record_id)
            if seen and len(seen.leaves) > 1:
                chosen = random.Random(seed).choice(seen.leaves)
                parents = [leaf.change_id for leaf in seen.leaves]
                kind = device.held[chosen.change_id]["kind"]
                self._note(device, device.write(record_id, kind, chosen.op, chosen.body, parents))
                return

    @rule(which=WHICH, seed=SEEDS, most=st.integers(1, 12), drop=DROPS)
    def push(self, which: int, seed: int, most: int, drop: str) -> None:
        self._step(drop and f"push lost {drop}")
        self.devices[which].push(self.house, random.Random(seed), most, drop)

    @rule(which=WHICH, limit=st.integers(1, 9), drop=DROPS, killed=st.sampled_from([False, False, True]))
    def pull(self, which: int, limit: int, drop: str, killed: bool) -> None:
        self._step((drop and f"pull lost {drop}") or (killed and "killed while saving"))
        self.devices[which].pull(self.house, limit, drop, killed)

    @rule(which=WHICH)
    def pull_everything(self, which: int) -> None:
        self._step()
        for _ in range(60):
            if not self.devices[which].pull(self.house, 50):
                return

    @rule(first=WHICH, second=WHICH, puller=WHICH)
    def push_at_the_same_time(self, first: int, second: int, puller: int) -> None:
        self._step("pushes overlap")
        if first != second:
            self.overlap(self.devices[first], self.devices[second], self.devices[puller])

    def overlap(self, first: Device, second: Device, puller: Device) -> None:
        """The first push begins, then the second comes. The player's lock makes one wait for the other."""
        second.push(self.house, random.Random(0), 50)
        puller.pull(self.house, 50)
        first.push(self.house, random.Random(0), 50)

    # What goes wrong

    @rule(which=WHICH, seed=SEEDS)
    def send_again(self, which: int, seed: int) -> None:
        self._step("sent again")
        device = self.devices[which]
        if device.held:
            again = random.Random(seed).choice(list(device.held.values()))
            sent = {
                name: value for name, value in again.items() if name not in ("seq", "effective_time", "received_at")
            }
            self.house.push(self.player_id, {"device_id": device.device_id, "changes": [sent]})

    @rule()
    @precondition(lambda self: len(self.house.backups) < 3)
    def back_up(self) -> None:
        self._step()
        self.house.back_up()

    @rule(which=WHICH, number=st.integers(0, 2), days=st.integers(-9, 9), what=st.sampled_from(MISHAPS))
    def mishap(self, which: int, number: int, days: int, what: str) -> None:
        if what == "backup restored" and not self.house.backups:
            return
        self._step(what)
        if what == "clock jumps":
            self.devices[which].skew = timedelta(days=days)
        elif what == "server restarts":
            self.house.restart()
        elif what == "backup restored":
            self.house.restore(number % len(self.house.backups))
        elif what == "device wiped":
            self.devices[which].wipe()
        self._forget()

    def _forget(self) -> None:
        """What nobody holds any more is gone, and no tool can bring it back."""
        anywhere = self.house.known_ids().union(*(device.held for device in self.devices))
        anywhere = anywhere.union(*(device.quarantined for device in self.devices))
        for gone in self.must_survive - anywhere:
            self.in_sequence[self.written[gone]["record_id"]] = False
        self.must_survive &= anywhere

    @rule(which=WHICH, field_name=st.sampled_from(["label", "kind", "client_time", "op"]))
    def poison_change(self, which: int, field_name: str) -> None:
        self._step("bad change")
        device = self.devices[which]
        change = device.write(str(uuid.uuid4()), "club", PUT, {"label": "bad", "sort": "iron"})
        if field_name == "label":
            change["body"] = {"label": 7, "sort": "spoon"}
        else:
            change[field_name] = "no such thing"
        del device.held[change["change_id"]]
        self.poison.setdefault(change["change_id"], set()).add(device.device_id)

    @rule(place=st.integers(0, CLUBS - 1))
    def stranger_meddles(self, place: int) -> None:
        self._step("foreign record")
        self.stranger.write(self.club_ids[place], "club", PUT, {"label": "mine", "sort": "wood"})
        self.stranger.write(str(uuid.uuid4()), "club", PUT, {"label": "own", "sort": "wood"})
        if self.club_ids[place] in {change["record_id"] for change in self.house.log(self.player_id)}:
            self.stranger.push(self.house, random.Random(0), 50)
        else:
            self.stranger.outbox.clear()

    def _step(self, fault: str | bool = "") -> None:
        self.tally.steps += 1
        if fault:
            self.tally.fault(str(fault))
        if self.clock is not None:
            self.clock.tick(timedelta(seconds=7))

    # Healing, and what must hold then

    def heal(self) -> None:
        """Everybody comes home, starts the app, pushes and pulls until nothing moves."""
        for device in self.devices:
            device.start()
        for _ in range(ROUNDS_OF_HEALING):
            before = [(device.cursor, len(device.outbox), len(device.held)) for device in self.devices]
            for device in self.devices:
                while device.pull(self.house, 40):
                    pass
                device.push(self.house, random.Random(1), 500)
                while device.pull(self.house, 40):
                    pass
            if before == [(device.cursor, len(device.outbox), len(device.held)) for device in self.devices]:
                return
        raise AssertionError("the exchange never comes to rest")

    def teardown(self) -> None:
        try:
            self.heal()
            self.check_log()
            self.check_views()
            self.check_conflicts()
            self.check_poison()
        finally:
            self.house.close()
            shutil.rmtree(self.folder, ignore_errors=True)

    def check_log(self) -> None:
        """Nothing lost, nothing twice, cursors complete, players apart."""
        log = self.house.log(self.player_id)
        ids = [change["change_id"] for change in log]
        said = Counter(map(_said, log))
        meant = Counter(map(_said, self.written.values()))
        lost = self.must_survive - set(ids)
        self.tally.lost += len(lost)
        assert not lost, f"lost {lost}"
        doubled = [entry for entry, times in said.items() if times > meant[entry]]
        self.tally.doubled += len(doubled)
        assert not doubled, f"doubled {doubled}"
        assert len(ids) == len(set(ids))
        assert set(ids) <= self.written.keys(), "a change that nobody of this player made"
        for device in self.devices:
            assert device.held.keys() == set(ids), "a cursor passed over changes"
            assert not device.outbox, "changes are still queued though they came back"

    def check_views(self) -> None:
        """Every device, the derived records and a fold of the log in any order say the same."""
        log = self.house.log(self.player_id)
        random.Random(len(log)).shuffle(log)
        records = {change["record_id"] for change in log}
        view = {}
        derived = self.house.derived(self.player_id)
        for record_id in records:
            changes = [change for change in log if change["record_id"] == record_id]
            versions = [
                Version(one["change_id"], tuple(one["parents"]), one["op"], one["effective_time"], one["body"])
                for one in changes
            ]
            folded = fold(versions)
            view[record_id] = tuple(leaf.change_id for leaf in folded.leaves)
            if folded.deleted:
                assert record_id not in derived or derived[record_id][1], "a deleted record is there"
            else:
                body = folded.head.body
                assert derived[record_id] == (body.get("note") or body["label"], False), (
                    "a row is not what its head says"
                )
        for device in self.devices:
            differing = {one for one in records if device.view()[one] != view[one]}
            self.tally.diverged += len(differing)
            assert not differing, "a device sees another record than the log says"
        report = self.house.check()
        assert not report.faults, report.differences

    def check_conflicts(self) -> None:
        """Conflicts are real ones, both sides can be read, and nothing deleted comes back by itself."""
        changes = {change["change_id"]: change for change in self.house.log(self.player_id)}
        for record_id in {change["record_id"] for change in changes.values()}:
            answer = self.house.client.get(f"/api/players/{self.player_id}/records/{record_id}").json
            leaves = [leaf["change_id"] for leaf in answer["leaves"]]
            if self.in_sequence.get(record_id) and self._whole(record_id, changes):
                assert len(leaves) == 1, "edits in sequence are shown as a conflict"
            for leaf in answer["leaves"]:
                assert leaf["body"] == changes[leaf["change_id"]]["body"]
            if not answer["deleted"]:
                for change in changes.values():
                    if change["record_id"] == record_id and change["op"] == DELETE:
                        ancestors = _ancestors(change, changes)
                        assert leaves[0] not in ancestors, "a delete that had seen this version was undone"

    def _whole(self, record_id: str, changes: dict[str, Any]) -> bool:
        """Whether every change ever written to the record is still there."""
        return all(one in changes for one, change in self.written.items() if change["record_id"] == record_id)

    def check_poison(self) -> None:
        """Bad changes lie in the quarantine, raw, unless their device was wiped or the server turned back."""
        answer = self.house.client.get(f"/api/players/{self.player_id}/quarantine")
        # A player of whom nothing ever arrived is not known.
        entries = [] if answer.status_code == 404 else answer.json["quarantine"]
        waiting = {entry["change_id"]: entry for entry in entries}
        for device in self.devices:
            for change_id, change in device.quarantined.items():
                assert change_id in waiting, "a bad change was neither taken nor kept"
                assert waiting[change_id]["raw"]["body"] == change["body"]
                assert waiting[change_id]["errors"], "nothing says what is wrong with it"
        log = {change["change_id"] for change in self.house.log(self.player_id)}
        assert not log & self.poison.keys(), "a bad change reached the log"


def _said(change: dict[str, Any]) -> tuple[str, ...]:
    """What a change says, whatever its id."""
    return (change["record_id"], change["device_id"], change["client_time"], change["op"], canonical(change["body"]))


def _ancestors(change: dict[str, Any], changes: dict[str, dict[str, Any]]) -> set[str]:
    found: set[str] = set()
    ahead = list(change["parents"])
    while ahead:
        one = ahead.pop()
        if one in changes and one not in found:
            found.add(one)
            ahead += changes[one]["parents"]
    return found
