"""Speed of summaries over HTTP, and readers and phones at once: `python -m tests.bench.bench_serving [--seconds 60]`.

Two measurements against the real server in a process of its own:

- the per-club summary of a 60-round season beside an empty endpoint (`/api/me`): asked again while nothing changed, as
  a page that is reloaded does, and asked first after a push, when it must be worked out anew;
- 8 readers who ask one summary after the other, and 2 phones that push rounds, at once for some time: errors, whether
  the log holds every change once, and the 95th percentile of the answers' times.

`tests/bench/test_bench_serving.py` runs both for a short while and fails on errors and losses, never on a time.
"""

from __future__ import annotations

import argparse
import http.client
import json
import platform
import tempfile
import time
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from tests.bench.bench_sync import MOMENT, change, running
from tests.records.made import Season, body_of, default_clubs, par_four

ROUNDS, HOLES = 60, 18
READERS, PHONES = 8, 2
BAR_TIMES = 10.0
A_PUSH = 900
VIEWS = (
    "strokes-gained?by=club",
    "strokes-gained?by=category",
    "strokes-gained?by=round",
    "compared?from=2026-06-01&beside_to=2026-05-31",
    "putting",
    "priorities",
    "scores",
    "rounds",
)


@contextmanager
def asking(port: int, patience_s: float = 60) -> Iterator[http.client.HTTPConnection]:
    """A connection that is kept open."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=patience_s)
    try:
        yield connection
    finally:
        connection.close()


def asked(connection: http.client.HTTPConnection, method: str, path: str, body: Any = None) -> tuple[int, bytes, float]:
    """Status, body and seconds of one request."""
    text = None if body is None else json.dumps(body)
    start = time.perf_counter()
    connection.request(method, path, text, {"Content-Type": "application/json"} if text else {})
    answer = connection.getresponse()
    content = answer.read()
    return answer.status, content, time.perf_counter() - start


def season(name: str, rounds: int) -> Season:
    """Rounds of 18 par 4 holes, four shots each."""
    made = Season(f"{name} {uuid.uuid4()}")
    clubs = default_clubs(made)
    holes = dict.fromkeys(range(1, HOLES + 1), (4, 400.0))
    for number in range(rounds):
        day = f"2026-{4 + number // 28:02}-{1 + number % 28:02}"
        round_id = made.round(f"round {number}", holes, played_on=day, closed=True)
        for hole in holes:
            par_four(made, round_id, clubs, hole)
    return made


def store(connection: http.client.HTTPConnection, made: Season) -> None:
    """Push all of it."""
    for start in range(0, len(made.changes), A_PUSH):
        sent = {"device_id": "bench", "now": MOMENT, "changes": made.changes[start : start + A_PUSH]}
        status, content, _ = asked(connection, "POST", f"/api/players/{made.player_id}/changes", sent)
        assert status == 200, content
        assert json.loads(content)["quarantined"] == []


@dataclass
class Summary:
    """Milliseconds: an empty endpoint, the summary asked again, and first after a push."""

    empty: float
    again: float
    first: float
    shots: int


def summary_beside_empty(port: int, rounds: int = ROUNDS, times: int = 40) -> Summary:
    """Medians over `times` requests each, by turns on one connection."""
    made = season("Summary", rounds)
    address = f"/api/players/{made.player_id}"
    path = f"{address}/strokes-gained?by=club"
    empty, again, first = [], [], []
    with asking(port) as connection:
        store(connection, made)
        for number in range(times):
            note = change("club", body_of("club", label=f"spare {number}"))
            sent = {"device_id": "bench", "now": MOMENT, "changes": [note]}
            assert asked(connection, "POST", f"{address}/changes", sent)[0] == 200
            status, content, spent = asked(connection, "GET", path)
            assert status == 200, content
            first.append(spent)
            again.append(asked(connection, "GET", path)[2])
            empty.append(asked(connection, "GET", "/api/me")[2])
        shots = int(json.loads(content)["total"]["shots"])
    assert shots == rounds * HOLES * 4
    return Summary(*(1000 * median(times) for times in (empty, again, first)), shots)


@dataclass
class Crowd:
    """What readers and phones met: seconds of every answer, what went wrong, changes that were acknowledged."""

    reading: list[float] = field(default_factory=list)
    pushing: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    refused: int = 0
    acknowledged: dict[str, list[str]] = field(default_factory=dict)


def _read(port: int, player: str, until: float, first: int, crowd: Crowd) -> None:
    with asking(port) as connection:
        number = first
        while time.monotonic() < until:
            path = f"/api/players/{player}/{VIEWS[number % len(VIEWS)]}"
            number += 1
            status, content, spent = asked(connection, "GET", path)
            if status == 503 and b"again" in content:
                crowd.refused += 1  # the bound of what takes long, told in words: a reader asks again
                time.sleep(1)
                continue
            crowd.reading.append(spent)
            if status != 200:
                crowd.wrong.append(f"{path}: {status} {content[:200]!r}")


def _push(port: int, player: str, clubs: dict[str, str], until: float, crowd: Crowd) -> None:
    """A phone that has played many rounds offline: one push a round, one after the other."""
    held = crowd.acknowledged.setdefault(player, [])
    with asking(port) as connection:
        while time.monotonic() < until:
            part = Season("part")
            part.player_id, part.changes = player, []
            name = str(uuid.uuid4())
            holes = dict.fromkeys(range(1, HOLES + 1), (4, 400.0))
            round_id = part.round(name, holes, played_on="2026-06-15", closed=True)
            for hole in holes:
                par_four(part, round_id, clubs, hole)
            sent = {"device_id": "phone", "now": MOMENT, "changes": part.changes}
            status, content, spent = asked(connection, "POST", f"/api/players/{player}/changes", sent)
            crowd.pushing.append(spent)
            if status != 200:
                crowd.wrong.append(f"push: {status} {content[:200]!r}")
                continue
            told = json.loads(content)
            held += told["acknowledged"]
            crowd.wrong += [f"quarantined: {one}" for one in told["quarantined"]]
            time.sleep(0.5)  # a round in half a second: far faster than any thumb


def log_of(port: int, player: str) -> list[str]:
    """The ids of all changes of a player, page by page."""
    ids: list[str] = []
    with asking(port) as connection:
        path = f"/api/players/{player}/changes?limit=5000"
        while True:
            page = json.loads(asked(connection, "GET", path)[1])
            ids += [one["change_id"] for one in page["changes"]]
            if not page["more"]:
                return ids
            path = f"/api/players/{player}/changes?limit=5000&after={page['cursor']}"


def crowded(port: int, seconds: float, rounds: int = 20) -> Crowd:
    """Readers and phones at once; readers read the players that phones push, so that no answer stays good for long."""
    crowd = Crowd()
    players = []
    with asking(port) as connection:
        for number in range(PHONES):
            made = season(f"Phone {number}", rounds)
            store(connection, made)
            crowd.acknowledged[made.player_id] = [one["change_id"] for one in made.changes]
            clubs = {one["body"]["label"]: one["record_id"] for one in made.changes if one["kind"] == "club"}
            players.append((made.player_id, clubs))
    until = time.monotonic() + seconds
    with ThreadPoolExecutor(READERS + PHONES) as pool:
        jobs = [pool.submit(_push, port, player, clubs, until, crowd) for player, clubs in players]
        jobs += [pool.submit(_read, port, players[k % PHONES][0], until, k, crowd) for k in range(READERS)]
        for job in jobs:
            job.result()
    for player, held in crowd.acknowledged.items():
        log = log_of(port, player)
        if len(log) != len(set(log)):
            crowd.wrong.append(f"{player}: a change is there twice in the log")
        if set(log) != set(held):
            crowd.wrong.append(f"{player}: {len(set(held) - set(log))} lost, {len(set(log) - set(held))} not told")
    return crowd


def p95(spent: list[float]) -> float:
    """The 95th percentile in milliseconds."""
    return 1000 * quantiles(spent, n=20)[-1] if len(spent) > 1 else 1000 * spent[0]


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--times", type=int, default=40)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, running(f"sqlite:///{Path(name) / 'log.sqlite'}") as port:
        one = summary_beside_empty(port, given.rounds, given.times)
        crowd = crowded(port, given.seconds)
    print(f"{platform.platform()}, Python {platform.python_version()}")
    print("| work | measured | bar |\n|---|---|---|")
    print(f"| an empty endpoint | {one.empty:.2f} ms | |")
    again = f"{one.again:.2f} ms, {one.again / one.empty:.1f} times"
    print(
        f"| per-club summary of {given.rounds} rounds, {one.shots} shots, asked again | {again} | {BAR_TIMES:g} times |"
    )
    print(f"| the same, first after a push | {one.first:.1f} ms, {one.first / one.empty:.0f} times | |")
    changes = sum(map(len, crowd.acknowledged.values()))
    said = f"{len(crowd.reading)} answers, p95 {p95(crowd.reading):.0f} ms; {len(crowd.pushing)} pushes, p95 "
    said += f"{p95(crowd.pushing):.0f} ms; {len(crowd.wrong)} errors, {crowd.refused} asked again; "
    said += f"{changes} changes, all there once"
    print(f"| {READERS} readers and {PHONES} phones for {given.seconds:g} s | {said} | no error, nothing lost |")
    assert crowd.wrong == [], crowd.wrong[:5]


if __name__ == "__main__":
    main()
