"""Two server processes on one database push for the same player at once, while a reader follows the log.

The reader must never pass a gap: numbers appear in the order of commits, on both databases.
"""

from __future__ import annotations

import random
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from server.store.engine import open_database
from server.store.pulling import pull
from server.store.rebuild import check_database
from tests.conftest import OF_THE_STORE
from tests.records.made import Season, body_of, change
from tests.sync.faults.servers import HttpWire, Launcher
from tests.tiers import count

PROCESSES, THREADS, PUSHES = 2, 4, count(6, 12)
SHARED_EVERY = 3
"""Every third push is one that a thread at each process sends in the same moment."""


def clubs(so_many: int) -> list[dict[str, Any]]:
    """New clubs."""
    return [change("club", body_of("club", label=f"club {number}")) for number in range(so_many)]


def edits_of(first: dict[str, Any], so_many: int) -> list[dict[str, Any]]:
    """Edits of one record, made at once."""
    said = {"record_id": first["record_id"], "parents": [first["change_id"]]}
    return [change("club", body_of("club", label=f"edit {number}"), **said) for number in range(so_many)]


class Reader(threading.Thread):
    """Follows the log from its start to its end, a page at a time."""

    def __init__(self, port: int, player_id: str) -> None:
        super().__init__()
        self.wire = HttpWire(port)
        self.player_id = player_id
        self.seen: list[tuple[int, str]] = []
        self.pages = 0
        self.gaps: list[tuple[int, int]] = []
        self.over = threading.Event()

    def run(self) -> None:
        cursor, last_look = None, False
        while True:
            page = self.wire.pull(self.player_id, cursor, 7)
            for found in page["changes"] if page else []:
                if found["seq"] != len(self.seen) + 1:
                    self.gaps.append((len(self.seen), found["seq"]))
                self.seen.append((found["seq"], found["change_id"]))
            self.pages += 1
            cursor = page["cursor"] if page else None
            if last_look and not (page and page["more"]):
                break
            # Once more after the last push was answered.
            last_look = self.over.is_set()
        self.wire.close()


@pytest.mark.parametrize("sort", OF_THE_STORE)
def test_numbers_appear_in_the_order_of_commits_whoever_pushes(
    launcher: Launcher, new_database: Callable[[str, Path], str], tmp_path: Path, sort: str
) -> None:
    url = new_database(sort, tmp_path)
    player_id = str(uuid.uuid4())
    root = clubs(1)[0]
    shared = [clubs(3) + edits_of(root, 2) for _ in range(THREADS * PUSHES)]
    own = [[clubs(4) + edits_of(root, 1) for _ in range(PUSHES)] for _ in range(PROCESSES * THREADS)]
    gates = [threading.Barrier(PROCESSES) for _ in shared]

    def use(port: int, process: int, thread: int) -> list[dict[str, Any]]:
        chooser = random.Random(process * THREADS + thread)
        wire = HttpWire(port)
        answers = []
        for number in range(PUSHES):
            batch = list(own[process * THREADS + thread][number])
            if number % SHARED_EVERY == 0:
                place = thread * PUSHES + number
                batch = list(shared[place])
                gates[place].wait(60)
            chooser.shuffle(batch)
            answers.append(wire.push(player_id, {"device_id": f"{process}-{thread}", "changes": batch}))
        wire.close()
        return answers

    with launcher.serving(url) as one, launcher.serving(url) as two:
        readers = [Reader(server.port, player_id) for server in (one, two)]
        for reader in readers:
            reader.start()
        with ThreadPoolExecutor(PROCESSES * THREADS) as pool:
            places = [
                (server.port, process, thread) for process, server in enumerate((one, two)) for thread in range(THREADS)
            ]
            answers = [done for found in pool.map(lambda place: use(*place), places) for done in found]
        first = HttpWire(two.port)
        first.push(player_id, {"device_id": "late", "changes": [root]})
        first.close()
        for reader in readers:
            reader.over.set()
            reader.join(120)
    assert [done["quarantined"] for done in answers] == [[]] * len(answers)
    sent = {one["change_id"] for batches in own for number, batch in enumerate(batches) for one in batch if number % 3}
    sent |= {one["change_id"] for place, batch in enumerate(shared) if place % PUSHES % 3 == 0 for one in batch}
    engine = open_database(url)
    page = pull(engine, player_id, None, 100_000)
    assert page is not None
    stored = [(found["seq"], found["change_id"]) for found in page.changes]
    assert [seq for seq, _ in stored] == list(range(1, len(stored) + 1))
    assert len({change_id for _, change_id in stored}) == len(stored)
    assert {change_id for _, change_id in stored} == sent | {root["change_id"]}
    for reader in readers:
        assert reader.gaps == []
        assert reader.seen == stored
        assert reader.pages > len(stored) / 7
    report = check_database(engine)
    assert report.faults == 0, report.differences
    engine.dispose()


@pytest.mark.parametrize("sort", ["sqlite", "postgresql"])
def test_a_new_player_is_made_once_however_many_push_at_the_same_moment(
    launcher: Launcher, new_database: Callable[[str, Path], str], tmp_path: Path, sort: str
) -> None:
    url = new_database(sort, tmp_path)
    with launcher.serving(url) as one, launcher.serving(url) as two, ThreadPoolExecutor(4) as pool:
        wires = [HttpWire(server.port) for server in (one, two, one, two)]
        for number in range(10):
            season = Season(f"New {number}")
            season.club("driver")
            gate = threading.Barrier(len(wires))

            def push(wire: HttpWire, season: Season = season, gate: threading.Barrier = gate) -> Any:
                gate.wait(60)
                return wire.push(season.player_id, {"device_id": "x", "changes": season.changes})

            for done in pool.map(push, wires):
                assert (len(done["acknowledged"]), done["quarantined"]) == (2, [])
            found = wires[0].pull(season.player_id, None, 10)
            assert [entry["seq"] for entry in found["changes"]] == [1, 2]
        for wire in wires:
            wire.close()
