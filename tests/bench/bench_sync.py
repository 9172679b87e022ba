"""Speed of the change log, as ratios in one run: `python -m tests.bench.bench_sync [--rounds N] [--log N]`.

Push of 90-shot rounds over HTTP beside bare SQLite transactions of 90 inserts (write-ahead log, synchronous FULL), pull
of a season in pages, cost of a push as the log grows, rebuild of the whole log and its memory. Never run as a test.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import resource
import sqlite3
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any

import sqlalchemy as sa

from server.store.cursors import START
from server.store.engine import open_database, writing
from server.store.rebuild import check_database
from server.store.tables import CHANGE, PLAYER
from tests.bench.served import Start, started

SHOTS = 90
MOMENT = "2026-05-01T09:30:00.000Z"
MIXED = ("tee", "fairway", "rough", "green", "green")


def change(kind: str, body: dict[str, Any], record_id: str | None = None) -> dict[str, Any]:
    """A first change of a record."""
    return {
        "change_id": str(uuid.uuid4()),
        "record_id": record_id or str(uuid.uuid4()),
        "kind": kind,
        "parents": [],
        "op": "put",
        "body": body,
        "device_id": "bench",
        "client_time": MOMENT,
        "schema_version": 1,
    }


def round_of_shots(club_id: str) -> list[dict[str, Any]]:
    """A round record and its 90 shots: 18 holes of five."""
    holes = [{"number": number, "par": 4, "length_yd": 400} for number in range(1, 19)]
    body = {"played_on": "2026-05-01", "kind": "practice", "holes": holes, "bag": [club_id], "closed": True}
    first = change("round", body)
    shots = []
    for number in range(SHOTS):
        hole, order = divmod(number, 5)
        yards = (400, 150, 40, 5, 1)[order]
        shot = {"round_id": first["record_id"], "hole": hole + 1, "ball": 1, "order": order + 1, "club_id": club_id}
        shot |= {"lie": MIXED[order], "distance_yd": yards, "holed": order == 4, "penalty_strokes": 0, "at": MOMENT}
        shots.append(change("shot", shot))
    return [first, *shots]


@contextmanager
def running(url: str, start: Start = started) -> Iterator[int]:
    """A real server on a free loopback port."""
    with start(os.environ | {"PENCILBAG_DATABASE": url}) as server:
        yield server.port


def ask(connection: http.client.HTTPConnection, method: str, path: str, sent: Any = None) -> Any:
    """One request; the answer's JSON."""
    status, answer = exchanged(connection, method, path, None if sent is None else json.dumps(sent))
    found = json.loads(answer)
    assert status == 200, found
    return found


def exchanged(connection: http.client.HTTPConnection, method: str, path: str, body: str | None) -> tuple[int, bytes]:
    """One request of text that is ready, and the bytes of its answer."""
    connection.request(method, path, body, {"Content-Type": "application/json"})
    answer = connection.getresponse()
    return answer.status, answer.read()


BARE: dict[str, tuple[str, ...]] = {
    "three columns, one key": ("CREATE TABLE bare (change_id TEXT PRIMARY KEY, seq INTEGER, body TEXT)",),
    "the log's columns, key and two indexes": (
        """CREATE TABLE bare (player_id TEXT, seq INTEGER, change_id TEXT, record_id TEXT, kind TEXT, parents TEXT,
        op TEXT, body TEXT, device_id TEXT, client_time TEXT, effective_time TEXT, received_at TEXT,
        schema_version INTEGER,
        digest TEXT, chain TEXT, PRIMARY KEY (player_id, seq)) WITHOUT ROWID""",
        "CREATE UNIQUE INDEX bare_once ON bare (change_id)",
        "CREATE INDEX bare_by_record ON bare (record_id)",
    ),
}
"""Two readings of "bare": the least that keeps 90 shots, and the least that keeps what the log keeps."""


class Bare:
    """A bare database, one transaction of 90 inserts at a time."""

    def __init__(self, folder: Path, kind: str) -> None:
        self.database = sqlite3.connect(folder / f"{uuid.uuid4()}.sqlite", isolation_level=None)
        for statement in ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL", *BARE[kind]):
            self.database.execute(statement)
        self.width = len(self.database.execute("PRAGMA table_info(bare)").fetchall())
        self.number = 0

    def __call__(self) -> float:
        """Seconds of one transaction."""
        rows = [self._row(one) for one in round_of_shots("x")[1:]]
        insert = f"INSERT INTO bare VALUES ({', '.join('?' * self.width)})"
        start = time.perf_counter()
        self.database.execute("BEGIN IMMEDIATE")
        self.database.executemany(insert, rows)
        self.database.execute("COMMIT")
        return time.perf_counter() - start

    def _row(self, one: dict[str, Any]) -> tuple[Any, ...]:
        self.number += 1
        body = json.dumps(one["body"])
        if self.width == 3:
            return (one["change_id"], self.number, body)
        named = ("p" * 36, self.number, one["change_id"], one["record_id"], "shot", "[]", "put", body, "bench")
        return (*named, MOMENT, MOMENT, MOMENT, 1, "d" * 64, "c" * 32)


class Phone:
    """A phone with one club that pushes a round of 90 shots at a time to a real server."""

    def __init__(self, port: int, player: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port)
        self.path = f"/api/players/{player}/changes"
        club = change("club", {"label": "7 iron", "sort": "iron"})
        self.club_id = club["record_id"]
        ask(self.connection, "POST", self.path, {"device_id": "bench", "now": MOMENT, "changes": [club]})

    def __call__(self) -> float:
        """Seconds from sending a round to the whole answer."""
        # The text is made before the watch starts, like the rows of the bare transactions.
        sent = json.dumps({"device_id": "bench", "now": MOMENT, "changes": round_of_shots(self.club_id)})
        start = time.perf_counter()
        status, answer = exchanged(self.connection, "POST", self.path, sent)
        spent = time.perf_counter() - start
        done = json.loads(answer)
        assert status == 200, done
        assert len(done["acknowledged"]) == SHOTS + 1, done
        return spent


def in_turn(works: dict[str, Callable[[], float]], times: int) -> dict[str, float]:
    """The median of each work's seconds, one of each in turn, so that a slow moment of the machine meets them all."""
    spent: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(times):
        for name, work in works.items():
            spent[name].append(work())
    return {name: median(times_of) for name, times_of in spent.items()}


def pull_rate(port: int, player: str, page: int) -> tuple[int, float]:
    """Changes in the log, and how many are pulled a second in pages of `page`."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    cursor, pulled, start = "", 0, time.perf_counter()
    while True:
        found = ask(connection, "GET", f"/api/players/{player}/changes?limit={page}&after={cursor}")
        pulled += len(found["changes"])
        cursor = found["cursor"]
        if not found["more"]:
            break
    connection.close()
    return pulled, pulled / (time.perf_counter() - start)


def grow(url: str, player: str, wanted: int) -> None:
    """Fill the log of a player up to `wanted` changes without going through HTTP: rounds of 90 shots."""
    engine = open_database(url)
    club = str(uuid.uuid4())
    with writing(engine) as connection:
        last = connection.execute(sa.select(PLAYER.c.last_seq).where(PLAYER.c.player_id == player)).scalar()
        if last is None:
            connection.execute(
                sa.insert(PLAYER), {"player_id": player, "last_seq": 0, "chain": START, "created_at": MOMENT}
            )
            last = 0
        while last < wanted:
            rows = []
            for one in round_of_shots(club):
                last += 1
                row = {name: value for name, value in one.items() if name not in ("parents", "body")}
                row |= {"parents": "[]", "body": json.dumps(one["body"]), "player_id": player, "seq": last}
                row["record_seq"] = 1
                rows.append(row | {"effective_time": MOMENT, "received_at": MOMENT, "digest": "grown", "chain": START})
            connection.execute(sa.insert(CHANGE), rows)
        connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player).values(last_seq=last))
    engine.dispose()


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=150)
    parser.add_argument("--log", type=int, default=1_000_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        url = f"sqlite:///{folder / 'log.sqlite'}"
        player, grown = str(uuid.uuid4()), str(uuid.uuid4())
        with running(url) as port:
            works = {kind: Bare(folder, kind) for kind in BARE} | {"push": Phone(port, player)}
            spent = in_turn(works, asked.rounds)
            pulled, rate = pull_rate(port, player, 500)
        small, large = (f"sqlite:///{folder / name}.sqlite" for name in ("small", "large"))
        grow(small, grown, 1_000)
        grow(large, grown, asked.log)
        with running(small) as one, running(large) as other:
            sizes = in_turn({"small": Phone(one, grown), "large": Phone(other, grown)}, asked.rounds)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        engine = open_database(large)
        start = time.perf_counter()
        report = check_database(engine, rebuild=True)
        rebuilt_in = time.perf_counter() - start
        engine.dispose()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print("| work | measured | bar |\n|---|---|---|")
    for kind in BARE:
        words = f"{1 / spent['push']:.0f}/s, 1/{spent['push'] / spent[kind]:.1f}"
        print(f"| push of a 90-shot round, bare = {kind} | {words} | 1/6 |")
    print(f"| pull of {pulled:,} changes in pages of 500 | {rate:,.0f} changes/s | |")
    print(
        f"| push cost at {asked.log:,} changes beside 1,000 | ratio {sizes['large'] / sizes['small']:.2f} | under 1.5 |"
    )
    print(f"| rebuild of {report.changes:,} changes | {rebuilt_in:.0f} s, {report.changes / rebuilt_in:,.0f}/s | |")
    print(f"| memory of the rebuild | {(peak - before) / 1024:.0f} MiB above the start | |")


if __name__ == "__main__":
    main()
