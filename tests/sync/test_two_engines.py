"""Two engines of this process store in one moment what only one of them may: the one that came second looks again.

Barriers make the moment, so that it is met however busy the machine is.
"""

from __future__ import annotations

import copy
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from server.store import log, numbering
from server.store.engine import open_database, reading
from server.store.erasure import erase_player
from server.store.players import heads
from server.store.rebuild import check_database
from tests.conftest import PARTITIONED, POSTGRESQL
from tests.records.made import Season, body_of, change
from tests.tiers import some

LOGS = (POSTGRESQL, PARTITIONED)


class Race:
    """On PostgreSQL two players' logs are not held against each other: two push a change each through two engines, both
    look and find nothing before either writes. `looks`: what `numbering.LOOK` found, one after another. SQLite has one
    writer and never comes here."""

    def __init__(self, url: str, monkeypatch: pytest.MonkeyPatch, look: str, pair: list[dict[str, Any]]) -> None:
        self.engines = [open_database(url) for _ in range(2)]
        self.players = [Season(name) for name in ("One", "Two")]
        for engine, season in zip(self.engines, self.players, strict=True):
            log.push(engine, season.player_id, "phone", season.changes)
        self.looks: list[Any] = []
        both = threading.Barrier(2)
        first = iter(range(2))
        watched, last = getattr(numbering, look), numbering._owners

        def looking(connection: sa.Connection, changes: Any) -> Any:
            found = watched(connection, changes)
            self.looks.append(copy.deepcopy(found))
            return found

        def at_last(connection: sa.Connection, changes: Any) -> Any:
            found = looking(connection, changes) if watched is last else last(connection, changes)
            if next(first, None) is not None:
                both.wait(60)
            return found

        with monkeypatch.context() as patched, ThreadPoolExecutor(2) as pool:
            patched.setattr(numbering, look, looking)
            patched.setattr(numbering, "_owners", at_last)
            pushes = [
                pool.submit(log.push, engine, season.player_id, "phone", [one])
                for engine, season, one in zip(self.engines, self.players, pair, strict=True)
            ]
            self.results = [push.result(120) for push in pushes]

    def assert_one_was_taken(self) -> None:
        """One engine took its change, the other set its own aside; the log holds it and one change of each player."""
        assert sorted((done.new, len(done.quarantined)) for done in self.results) == [(0, 1), (1, 0)]
        report = check_database(self.engines[0])
        assert (report.faults, report.changes) == (0, 3), report.differences

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
    with closing(Race(new_database(sort, tmp_path), monkeypatch, "_known", [club, club])) as race:
        assert [len(known) for known in race.looks] == [0, 0, 1], "the one that came second looked again and found it"
        assert [done.acknowledged for done in race.results] == [[club["change_id"]]] * 2
        race.assert_one_was_taken()


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
    with closing(Race(new_database(sort, tmp_path), monkeypatch, "_owners", firsts)) as race:
        assert [len(owners) for owners, _ in race.looks] == [0, 0, 1], (
            "the one that came second looked again and found it"
        )
        assert [done.acknowledged for done in race.results] == [[first["change_id"]] for first in firsts]
        race.assert_one_was_taken()
        with reading(race.engines[0]) as connection:
            (head,) = heads(connection, [record_id]).values()
        owning = [season.player_id == head.player_id for season in race.players]
        assert owning == [done.new == 1 for done in race.results]


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
    with closing(Race(url, monkeypatch, "_owners", firsts)) as race:
        assert [(len(owners), numbered) for owners, numbered in race.looks] == [
            (0, {record_id: 1}),
            (0, {record_id: 1}),
            (1, {record_id: 2}),
        ]
        race.assert_one_was_taken()


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
    pair = [change("club", body_of("club", label=f"club {number}")) for number in range(2)]
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
