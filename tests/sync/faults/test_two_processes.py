"""Two server processes on one database push for the same player at once, while a reader follows the log.

The reader must never pass a gap: numbers appear in the order of commits, on both databases.
"""

from __future__ import annotations

import copy
import random
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from server.store import log, numbering
from server.store.engine import open_database, reading
from server.store.erasure import erase_player
from server.store.players import heads
from server.store.pulling import pull
from server.store.rebuild import check_database
from tests.conftest import OF_THE_STORE, PARTITIONED, POSTGRESQL
from tests.records.made import Season, body_of, change
from tests.sync.faults.servers import HttpWire, Launcher
from tests.tiers import some

PROCESSES, THREADS, PUSHES = 2, 4, 12
LOGS = (POSTGRESQL, PARTITIONED)
SHARED_EVERY = 3
"""Every third push is one that a thread at each process sends in the same moment."""


def clubs(count: int) -> list[dict[str, Any]]:
    """New clubs."""
    return [change("club", body_of("club", label=f"club {number}")) for number in range(count)]


def edits_of(first: dict[str, Any], count: int) -> list[dict[str, Any]]:
    """Edits of one record, made at once."""
    said = {"record_id": first["record_id"], "parents": [first["change_id"]]}
    return [change("club", body_of("club", label=f"edit {number}"), **said) for number in range(count)]


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


class Race:
    """On PostgreSQL two players' logs are not held against each other: two push a change each through two engines, both
    look with `numbering.LOOK` and find nothing before either goes on. SQLite has one writer and never comes here."""

    def __init__(self, url: str, monkeypatch: pytest.MonkeyPatch, look: str, pair: list[dict[str, Any]]) -> None:
        self.engines = [open_database(url) for _ in range(2)]
        self.players = [Season(name) for name in ("One", "Two")]
        for engine, season in zip(self.engines, self.players, strict=True):
            log.push(engine, season.player_id, "phone", season.changes)
        self.looks: list[Any] = []
        both = threading.Barrier(2)
        whole = getattr(numbering, look)

        def looking(connection: sa.Connection, changes: Any) -> Any:
            found = whole(connection, changes)
            self.looks.append(copy.deepcopy(found))
            if len(self.looks) <= 2:
                both.wait(60)
            return found

        with monkeypatch.context() as patched, ThreadPoolExecutor(2) as pool:
            patched.setattr(numbering, look, looking)
            pushes = [
                pool.submit(log.push, engine, season.player_id, "phone", [one])
                for engine, season, one in zip(self.engines, self.players, pair, strict=True)
            ]
            self.results = [push.result(120) for push in pushes]

    def close(self) -> None:
        """Let the database go."""
        for engine in self.engines:
            engine.dispose()


@pytest.mark.parametrize("sort", LOGS)
def test_two_that_store_the_same_change_in_one_moment_look_again(
    new_database: Callable[[str, Path], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sort: str
) -> None:
    """One is told off by the unique id, looks again and quarantines."""
    club = change("club", body_of("club"))
    race = Race(new_database(sort, tmp_path), monkeypatch, "_known", [club, club])
    assert [len(known) for known in race.looks] == [0, 0, 1], "the one that came second looked again and found it"
    assert sorted(done.new for done in race.results) == [0, 1]
    assert sorted(len(done.quarantined) for done in race.results) == [0, 1]
    assert [done.acknowledged for done in race.results] == [[club["change_id"]]] * 2
    report = check_database(race.engines[0])
    assert (report.faults, report.changes) == (0, 3), report.differences
    race.close()


PAIRS = [("put", "put"), ("put", "delete"), ("delete", "put"), ("delete", "delete"), ("put", "setup")]


@pytest.mark.parametrize(
    ("sort", "pair"),
    [*((POSTGRESQL, pair) for pair in PAIRS), *((PARTITIONED, pair) for pair in some(PAIRS, 0))],
    ids=lambda one: one if isinstance(one, str) else f"{one[0]} and {one[1]}",
)
def test_one_new_record_of_two_players_in_one_moment_has_one_owner(
    new_database: Callable[[str, Path], str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    sort: str,
    pair: tuple[str, str],
) -> None:
    """The number of a record's first change is given once."""
    record_id = str(uuid.uuid4())
    bodies = {"put": ("club", body_of("club")), "delete": ("club", None), "setup": ("setup", body_of("setup"))}
    firsts = [change(*bodies[what], record_id) for what in pair]
    race = Race(new_database(sort, tmp_path), monkeypatch, "_owners", firsts)
    assert [len(owners) for owners, _ in race.looks] == [0, 0, 1], "the one that came second looked again and found it"
    assert [done.acknowledged for done in race.results] == [[first["change_id"]] for first in firsts]
    assert sorted((done.new, len(done.quarantined)) for done in race.results) == [(0, 1), (1, 0)]
    with reading(race.engines[0]) as connection:
        (head,) = heads(connection, [record_id]).values()
    owning = [season.player_id == head.player_id for season in race.players]
    assert owning == [done.new == 1 for done in race.results]
    report = check_database(race.engines[0])
    assert report.faults == 0, report.differences
    race.close()


@pytest.mark.parametrize("sort", LOGS)
def test_a_record_of_an_erased_player_that_two_take_up_in_one_moment_has_one_owner(
    new_database: Callable[[str, Path], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sort: str
) -> None:
    """The record goes on with the numbers that it had: each number is given once."""
    url = new_database(sort, tmp_path)
    gone, engine = Season("Gone"), open_database(url)
    record_id = gone.club("driver")
    log.push(engine, gone.player_id, "phone", gone.changes)
    erase_player(engine, gone.player_id)
    engine.dispose()
    firsts = [change("club", body_of("club"), record_id) for _ in range(2)]
    race = Race(url, monkeypatch, "_owners", firsts)
    assert [(len(owners), numbered) for owners, numbered in race.looks] == [
        (0, {record_id: 1}),
        (0, {record_id: 1}),
        (1, {record_id: 2}),
    ]
    assert sorted((done.new, len(done.quarantined)) for done in race.results) == [(0, 1), (1, 0)]
    report = check_database(race.engines[0])
    assert report.faults == 0, report.differences
    race.close()


@pytest.mark.parametrize("sort", LOGS)
def test_two_that_wait_for_each_other_are_told_apart_and_tried_again(
    new_database: Callable[[str, Path], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sort: str
) -> None:
    """Two players push the same two new changes in opposite order, a statement each: PostgreSQL ends one of them."""
    url = new_database(sort, tmp_path)
    engines = [open_database(url) for _ in range(2)]
    players = [Season(name) for name in ("One", "Two")]
    for engine, season in zip(engines, players, strict=True):
        log.push(engine, season.player_id, "phone", season.changes)
    pair = clubs(2)
    half_way = threading.Barrier(2)
    inserted: list[int] = []
    insert = log.insert_rows

    def slowly(connection: sa.Connection, table: sa.Table, rows: list[dict[str, Any]]) -> None:
        first = len(inserted) < 2
        inserted.append(len(rows))
        insert(connection, table, rows[:1])
        if first:
            half_way.wait(60)
        insert(connection, table, rows[1:])

    monkeypatch.setattr(log, "insert_rows", slowly)
    with ThreadPoolExecutor(2) as pool:
        pushes = [
            pool.submit(log.push, engines[0], players[0].player_id, "phone", pair),
            pool.submit(log.push, engines[1], players[1].player_id, "phone", pair[::-1]),
        ]
        results = [push.result(120) for push in pushes]
    assert sorted((done.new, len(done.quarantined)) for done in results) == [(0, 2), (2, 0)]
    report = check_database(engines[0])
    assert (report.faults, report.changes) == (0, 4), report.differences
    for engine in engines:
        engine.dispose()
