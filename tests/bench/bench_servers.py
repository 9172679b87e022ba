"""Servers beside each other: `python -m tests.bench.bench_servers [--seconds 60] [--phones 200] [--readers 20]`.

Server processes over one PostgreSQL and one store, both private and made for the run. Phones push a hole of shots, rest
and push the next; readers ask for summaries of players who go on pushing. All go through a real proxy, nginx with the
configuration of server/README.md, each from an address of its own; `--without-proxy` sends them from server to server
by turns instead, with the address in the proxy's header. Told are errors, losses, those who were asked to come again
(503), and the 95th percentile; then, for a shorter time and without rests, how much one process and two answer in the
same run, asked by turns without the proxy. Nothing is installed: without nginx it says so and ends.

`tests/bench/test_bench_servers.py` runs a small form and fails on errors and losses, never on a time.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import platform
import sys
import time
import uuid
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from typing import Any

from server.store.accounts import add_account
from server.store.credentials import TOKEN, give
from server.store.engine import open_database
from server.store.log import push
from tests.bench.bench_serving import HOLES, VIEWS, p95
from tests.bench.bench_sync import MOMENT
from tests.bench.proxy import HOST, Proxy, program
from tests.bench.served import Start, started
from tests.records.made import Season, default_clubs, par_four
from tests.store.cluster import Cluster
from tests.store.stores import Store

SECRET = "a secret for this run, and for nothing else"
REST_S = 2.0
SEEN_ROUNDS = 5
"""Rounds that the players have whom readers ask about."""


@dataclass
class Phone:
    """A player with a token, an address behind the proxy, and what the log must hold in the end."""

    number: int
    season: Season
    clubs: dict[str, str]
    token: str
    held: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Its own, of those that this machine answers to itself."""
        return f"127.1.{self.number // 250}.{1 + self.number % 250}"

    @property
    def headers(self) -> dict[str, str]:
        """As a proxy passes them on; a real one writes its own over them."""
        said = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json", "Host": HOST}
        return said | {"X-Forwarded-For": self.address, "X-Forwarded-Proto": "http"}


@dataclass
class Met:
    """Seconds of every answer, and what went wrong."""

    pushing: list[float] = field(default_factory=list)
    reading: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    sent_away: int = 0

    @property
    def answers(self) -> int:
        """All of them."""
        return len(self.pushing) + len(self.reading)


def made_phones(url: str, phones: int, seen: int) -> list[Phone]:
    """Players with accounts and tokens, the first `seen` of them with rounds."""
    engine = open_database(url)
    found = []
    for number in range(phones):
        season = Season(f"Player {number} {uuid.uuid4()}")
        clubs = default_clubs(season)
        for played in range(SEEN_ROUNDS if number < seen else 0):
            _round(season, clubs, f"round {played}")
        for start in range(0, len(season.changes), 900):
            assert not push(engine, season.player_id, "bench", season.changes[start : start + 900]).quarantined
        account = add_account(engine, f"Player {number}", "player", None, player_id=season.player_id)
        token = give(engine, SECRET, account.account_id, TOKEN, label="bench")[1]
        found.append(Phone(number, season, clubs, token, [one["change_id"] for one in season.changes]))
    engine.dispose()
    return found


def _round(season: Season, clubs: dict[str, str], name: str) -> None:
    holes = dict.fromkeys(range(1, HOLES + 1), (4, 400.0))
    round_id = season.round(name, holes, played_on="2026-05-01", closed=True)
    for hole in holes:
        par_four(season, round_id, clubs, hole)


@contextmanager
def servers(url: str, store: Store, count: int, workers: int = 1, start: Start = started) -> Iterator[list[int]]:
    """The ports of real servers over one database and one store."""
    said = {"DATABASE": url, "SHARED": store.address, "SECRET": SECRET, "PROXIES": "1", "HOSTS": HOST}
    environment = os.environ | {f"PENCILBAG_{name}": value for name, value in said.items()}
    environment |= {"PENCILBAG_WORKERS": str(workers), "PENCILBAG_LOG_LEVEL": "WARNING"}
    with ExitStack() as stack:
        yield [stack.enter_context(start(environment)).port for _ in range(count)]


Way = int | Proxy
"""To a server: its port, or the proxy before it."""


class Turns:
    """Connections that are kept open, one a way, used by turns. `address`: where they come from."""

    def __init__(self, ways: Sequence[Way], first: int, address: str = "127.0.0.1") -> None:
        self.connections = [
            way.connection(address)
            if isinstance(way, Proxy)
            else http.client.HTTPConnection("127.0.0.1", way, timeout=60)
            for way in ways
        ]
        self.turn = first

    def ask(self, method: str, path: str, headers: dict[str, str], sent: Any = None) -> tuple[int, bytes, float]:
        """Status, body and seconds."""
        self.turn += 1
        connection = self.connections[self.turn % len(self.connections)]
        start = time.perf_counter()
        connection.request(method, path, None if sent is None else json.dumps(sent), headers)
        answer = connection.getresponse()
        content = answer.read()
        return answer.status, content, time.perf_counter() - start

    def close(self) -> None:
        """All of them."""
        for connection in self.connections:
            connection.close()


def _push(phone: Phone, ways: Sequence[Way], until: float, rest_s: float, met: Met) -> None:
    turns = Turns(ways, phone.number, phone.address)
    address = f"/api/players/{phone.season.player_id}/changes"
    hole = HOLES
    round_id = ""
    # not all at once: phones begin one after the other over one rest
    time.sleep(rest_s * (phone.number % 50) / 50)
    while time.monotonic() < until:
        part = Season("part")
        part.player_id, part.changes = phone.season.player_id, []
        hole = hole % HOLES + 1
        if hole == 1:
            holes = dict.fromkeys(range(1, HOLES + 1), (4, 400.0))
            round_id = part.round(str(uuid.uuid4()), holes, played_on="2026-06-15", closed=True)
        par_four(part, round_id, phone.clubs, hole)
        sent = {"device_id": f"phone {phone.number}", "now": MOMENT, "changes": part.changes}
        status, content, spent = turns.ask("POST", address, phone.headers, sent)
        met.pushing.append(spent)
        told = json.loads(content)
        if status != 200 or told["quarantined"]:
            met.wrong.append(f"push: {status} {content[:200]!r}")
            continue
        phone.held += told["acknowledged"]
        time.sleep(rest_s)
    turns.close()


def _read(phone: Phone, number: int, ways: Sequence[Way], until: float, rest_s: float, met: Met) -> None:
    turns = Turns(ways, number, phone.address)
    while time.monotonic() < until:
        number += 1
        path = f"/api/players/{phone.season.player_id}/{VIEWS[number % len(VIEWS)]}"
        status, content, spent = turns.ask("GET", path, phone.headers)
        if status == 503 and b"again" in content:
            met.sent_away += 1  # the bound of what takes long, told in words: a reader asks again
            time.sleep(rest_s or REST_S)
            continue
        met.reading.append(spent)
        if status != 200:
            met.wrong.append(f"{path}: {status} {content[:200]!r}")
        time.sleep(rest_s)
    turns.close()


def loaded(ways: Sequence[Way], phones: Sequence[Phone], readers: int, seconds: float, rest_s: float = REST_S) -> Met:
    """Phones and readers at once for some time; then every log is read and held to what was acknowledged."""
    met = Met()
    until = time.monotonic() + seconds
    with ThreadPoolExecutor(len(phones) + readers) as pool:
        jobs = [pool.submit(_push, phone, ways, until, rest_s, met) for phone in phones]
        jobs += [pool.submit(_read, phones[k % len(phones)], k, ways, until, rest_s, met) for k in range(readers)]
        for job in jobs:
            job.result()
    for phone in phones:
        log = log_of(ways[phone.number % len(ways)], phone)
        if len(log) != len(set(log)) or set(log) != set(phone.held):
            lost, more = len(set(phone.held) - set(log)), len(log) - len(set(log) & set(phone.held))
            met.wrong.append(f"player {phone.number}: {lost} changes lost, {more} too many")
    return met


def log_of(way: Way, phone: Phone) -> list[str]:
    """The ids of all changes of a player, page by page."""
    turns, ids, after = Turns([way], 0, phone.address), [], ""
    while True:
        path = f"/api/players/{phone.season.player_id}/changes?limit=5000{after}"
        page = json.loads(turns.ask("GET", path, phone.headers)[1])
        ids += [one["change_id"] for one in page["changes"]]
        if not page["more"]:
            turns.close()
            return ids
        after = f"&after={page['cursor']}"


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--servers", type=int, default=2)
    parser.add_argument("--phones", type=int, default=200)
    parser.add_argument("--readers", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--rate-seconds", type=float, default=15)
    parser.add_argument("--without-proxy", action="store_true")
    given = parser.parse_args()
    if not given.without_proxy:
        try:
            program()
        except RuntimeError as error:
            sys.exit(f"{error}; --without-proxy measures without one")
        if given.servers != 2:
            sys.exit(f"--servers {given.servers}: the guide's proxy has 2; others only --without-proxy")
    cluster, store = Cluster(), Store()
    try:
        url = cluster.fresh()
        phones = made_phones(url, given.phones, given.readers)
        rates = {}
        with servers(url, store, given.servers) as ports, ExitStack() as stack:
            ways: list[Way] = [*ports] if given.without_proxy else [stack.enter_context(Proxy(ports))]
            met = loaded(ways, phones, given.readers, given.seconds)
            few = phones[:8]
            for count in (1, given.servers):
                found = loaded(ports[:count], few, 4, given.rate_seconds, rest_s=0)
                met.wrong += found.wrong
                rates[count] = found.answers / given.rate_seconds
    finally:
        store.stop()
        cluster.stop()
    print(f"{platform.platform()}, {os.cpu_count()} cores, load average {os.getloadavg()[0]:.1f}")
    print("| work | measured |\n|---|---|")
    said = f"{len(met.pushing)} pushes, p95 {p95(met.pushing):.0f} ms; {len(met.reading)} answers, p95 "
    held = sum(len(one.held) for one in phones)
    said += f"{p95(met.reading):.0f} ms; {len(met.wrong)} errors, {met.sent_away} asked again; "
    said += f"{held} changes, all there once"
    where = "by turns" if given.without_proxy else "behind nginx"
    work = f"{given.servers} servers {where}, {given.phones} phones, {given.readers} readers for {given.seconds:g} s"
    print(f"| {work} | {said} |")
    words = "; ".join(f"{count}: {rate:.0f} answers/s" for count, rate in rates.items())
    print(f"| without rests, 8 phones and 4 readers, by servers | {words} |")
    assert met.wrong == [], met.wrong[:5]


if __name__ == "__main__":
    main()
