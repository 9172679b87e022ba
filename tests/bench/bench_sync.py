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
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any

import sqlalchemy as sa

from server.store.cursors import START
from server.store.engine import open_database, writing
from server.store.rebuild import check_database
from server.store.tables import CHANGE, PLAYER

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
def running(url: str) -> Iterator[int]:
    """A real server on a free loopback port."""
    environment = os.environ | {"PENCILBAG_DATABASE": url}
    command = [sys.executable, "-u", "-m", "server", "serve", "--port", "0"]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            address = process.stdout.readline().split()[-1]
            yield int(address.rstrip("/").rsplit(":", 1)[1])
        finally:
            process.terminate()


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


def bare_rate(folder: Path, times: int, kind: str) -> float:
    """Transactions a second of 90 bare inserts each."""
    database = sqlite3.connect(folder / f"{uuid.uuid4()}.sqlite", isolation_level=None)
    database.execute("PRAGMA journal_mode=WAL")
    database.execute("PRAGMA synchronous=FULL")
    for statement in BARE[kind]:
        database.execute(statement)
    width = len(database.execute("PRAGMA table_info(bare)").fetchall())
    marks = ", ".join("?" * width)
    number, spent = 0, []
    for _ in range(times):
        rows = []
        for one in round_of_shots("x")[1:]:
            number += 1
            body = json.dumps(one["body"])
            log = (
                "p" * 36,
                number,
                one["change_id"],
                one["record_id"],
                "shot",
                "[]",
                "put",
                body,
                "bench",
                MOMENT,
                MOMENT,
            )
            rows.append((one["change_id"], number, body) if width == 3 else (*log, MOMENT, 1, "d" * 64, "c" * 32))
        start = time.perf_counter()
        database.execute("BEGIN IMMEDIATE")
        database.executemany(f"INSERT INTO bare VALUES ({marks})", rows)
        database.execute("COMMIT")
        spent.append(time.perf_counter() - start)
    database.close()
    return 1 / median(spent)


def push_rate(port: int, player: str, times: int) -> float:
    """Pushes a second of a 90-shot round each."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    club = change("club", {"label": "7 iron", "sort": "iron"})
    path = f"/api/players/{player}/changes"
    ask(connection, "POST", path, {"device_id": "bench", "now": MOMENT, "changes": [club]})
    spent = []
    for _ in range(times):
        # The phone's text is made before the watch starts, like the rows of the bare transactions.
        sent = json.dumps({"device_id": "bench", "now": MOMENT, "changes": round_of_shots(club["record_id"])})
        start = time.perf_counter()
        status, answer = exchanged(connection, "POST", path, sent)
        spent.append(time.perf_counter() - start)
        done = json.loads(answer)
        assert status == 200, done
        assert len(done["acknowledged"]) == SHOTS + 1, done
    connection.close()
    return 1 / median(spent)


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
                rows.append(row | {"effective_time": MOMENT, "received_at": MOMENT, "digest": "grown", "chain": START})
            connection.execute(sa.insert(CHANGE), rows)
        connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player).values(last_seq=last))
    engine.dispose()


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=60)
    parser.add_argument("--log", type=int, default=1_000_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        url = f"sqlite:///{folder / 'log.sqlite'}"
        player, grown = str(uuid.uuid4()), str(uuid.uuid4())
        with running(url) as port:
            pushed = push_rate(port, player, asked.rounds)
            bare = {kind: bare_rate(folder, asked.rounds, kind) for kind in BARE}
            pulled, rate = pull_rate(port, player, 500)
        grow(url, grown, 1_000)
        with running(url) as port:
            small = push_rate(port, grown, asked.rounds)
        grow(url, grown, asked.log)
        with running(url) as port:
            large = push_rate(port, grown, asked.rounds)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        engine = open_database(url)
        start = time.perf_counter()
        report = check_database(engine, rebuild=True)
        spent = time.perf_counter() - start
        engine.dispose()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print("| work | measured | bar |\n|---|---|---|")
    for kind, rate_of in bare.items():
        print(f"| push of a 90-shot round, bare = {kind} | {pushed:.0f}/s, 1/{rate_of / pushed:.1f} | 1/6 |")
    print(f"| pull of {pulled:,} changes in pages of 500 | {rate:,.0f} changes/s | |")
    print(f"| push cost at {asked.log:,} changes beside 1,000 | ratio {small / large:.2f} | under 1.5 |")
    print(f"| rebuild of {report.changes:,} changes | {spent:.0f} s, {report.changes / spent:,.0f}/s | |")
    print(f"| memory of the rebuild | {(peak - before) / 1024:.0f} MiB above the start | |")


if __name__ == "__main__":
    main()
