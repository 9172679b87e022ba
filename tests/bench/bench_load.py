"""Everything at once for some time: `python -m tests.bench.bench_load [--seconds 600]`.

Phones push rounds and pull, coaches read summaries, plans are asked for, season tables fetched, shots tables imported,
players erased, and bad input of many kinds is sent, all at once to one real server. Told are the answers of each kind,
those that were sent away (503), and the memory of the server's processes after a fifth of the time and at the end.
What must not happen fails: an answer of another status than it should have, a change that is lost or stored twice,
memory that grew by a fifth.
"""

from __future__ import annotations

import argparse
import json
import platform
import random
import tempfile
import threading
import time
import uuid
from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from tests.bench.bench_beside import table_of
from tests.bench.bench_serving import HOLES, VIEWS, asked, asking, log_of, p95
from tests.bench.bench_sync import MOMENT, change
from tests.bench.served import Served, served
from tests.made_once import DEMO_PLAYER
from tests.records.made import Season, default_clubs, par_four

ROUNDS_OF_A_PLAYER = 60
"""Then the phone is another player's: nobody plays for ever."""
BUSY = 503
MOST_GROWTH = 1.2
WARM = 0.2
"""The share of the time after which memory is first looked at: caches are full and every module is read."""


@dataclass
class Load:
    """What was met: seconds by kind, how many were sent away, what went wrong, what was acknowledged."""

    spent: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    busy: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    wrong: list[str] = field(default_factory=list)
    acknowledged: dict[str, list[str]] = field(default_factory=dict)
    phones: dict[int, str] = field(default_factory=dict)
    memory: list[dict[int, float]] = field(default_factory=list)

    @property
    def growth(self) -> float:
        """Memory of all processes at the end beside that when it was warm."""
        warm, end = (sum(one.values()) for one in self.memory)
        return end / warm


class Client:
    """One connection that asks, and notes what it met."""

    def __init__(self, connection: Any, load: Load, ends: float, draw: random.Random) -> None:
        self.connection, self.load, self.ends, self.draw = connection, load, ends, draw

    def ask(self, kind: str, method: str, path: str, sent: Any = None, *allowed: int) -> Any:
        """One request; the body of a good answer, or None. 503 is allowed for all but pushes and pulls."""
        status, content, spent = asked(self.connection, method, path, sent)
        self.load.spent[kind].append(spent)
        if status == BUSY and kind not in ("push", "pull"):
            self.load.busy[kind] += 1
            time.sleep(1.0)
        elif status not in (allowed or (200,)):
            self.load.wrong.append(f"{kind}: {method} {path[:90]}: {status} {content[:200]!r}")
        return content if status == 200 else None

    @property
    def goes_on(self) -> bool:
        """Whether there is time left."""
        return time.monotonic() < self.ends


def phone(client: Client, number: int) -> None:
    """Pushes a round a second, and pulls what is new, as a player; after a season as the next one."""
    while client.goes_on:
        made = Season(f"Phone {number} {uuid.uuid4()}")
        clubs = default_clubs(made)
        held = client.load.acknowledged.setdefault(made.player_id, [])
        cursor = ""
        for played in range(ROUNDS_OF_A_PLAYER):
            if not client.goes_on:
                break
            holes = dict.fromkeys(range(1, HOLES + 1), (4, 400.0))
            day = date.fromordinal(date(2026, 3, 1).toordinal() + played).isoformat()
            round_id = made.round(f"round {played}", holes, played_on=day, closed=True)
            for hole in holes:
                par_four(made, round_id, clubs, hole)
            path = f"/api/players/{made.player_id}/changes"
            told = client.ask("push", "POST", path, {"device_id": "phone", "now": MOMENT, "changes": made.changes})
            if told is not None:
                held += json.loads(told)["acknowledged"]
            made.changes = []
            client.load.phones[number] = made.player_id
            page = client.ask("pull", "GET", f"{path}?limit=1000&after={cursor}")
            cursor = json.loads(page)["cursor"] if page else cursor
            time.sleep(1.0)


def reader(client: Client, demo: str) -> None:
    """A coach who looks at one view after another of the demo player and of the phones' players."""
    while client.goes_on:
        player = client.draw.choice([demo, *client.load.phones.values()])
        client.ask("summary", "GET", f"/api/players/{player}/{client.draw.choice(VIEWS)}", None, 200, 404)
        time.sleep(0.2)


def planner(client: Client, demo: str, course: str) -> None:
    """A player who looks at the plan of one hole after another."""
    while client.goes_on:
        sent = {"course_id": course, "hole": client.draw.randrange(1, 19)}
        client.ask("plan", "POST", f"/api/players/{demo}/tee-plan", sent)
        time.sleep(1.0)


def analyst(client: Client, demo: str) -> None:
    """Season tables of the demo player in every format."""
    while client.goes_on:
        name = client.draw.choice(("shots", "holes", "rounds", "club_summary"))
        kind = client.draw.choice(("csv", "parquet", "xlsx"))
        client.ask("season table", "GET", f"/api/season/2026/{name}.{kind}?player={demo}")
        time.sleep(1.0)


def importer(client: Client, number: int) -> None:
    """Imports a season into a new player, looks at it, and erases the player."""
    while client.goes_on:
        player, name = str(uuid.uuid4()), f"Import {number}"
        path = f"/api/players/{player}"
        named = change("player", {"name": name, "plays": "right"}, player)
        client.ask("push", "POST", f"{path}/changes", {"device_id": "bench", "changes": [named]})
        table = table_of(client.draw.randrange(1, 30))
        done = client.ask("import", "POST", f"{path}/import", {"table": table, "dry_run": False})
        if done is not None and client.draw.random() < 0.5:
            sent = {"name": name, "meant": "erase everything"}
            client.ask("erasure", "POST", f"{path}/erasure", sent, 204)
        time.sleep(2.0)


BAD: tuple[tuple[str, str, Any, int], ...] = (
    ("POST", "changes", {"device_id": "x", "changes": "none"}, 422),
    ("POST", "changes", {"device_id": "x", "changes": [{"change_id": 7}] * 500}, 200),
    ("POST", "changes", {"device_id": "x", "changes": [[[[[[]]]]]] * 900}, 200),
    ("POST", "changes", {"device_id": "x", "changes": [], "more": "x" * 3_900_000}, 422),
    ("POST", "changes", {"device_id": "x", "changes": ["x" * 4_100_000]}, 413),
    ("POST", "import", {"table": "no,shots\n" * 10_000}, 422),
    ("POST", "import", {"table": "player,played_on\n" + "x,y\n" * 100_000}, 422),
    ("POST", "tee-plan", {"course_id": "here", "hole": 99}, 422),
    ("GET", "strokes-gained?by=luck&level=7", None, 422),
    ("GET", "changes?after=nonsense&limit=0", None, 422),
    ("GET", "nothing", None, 404),
    ("POST", "erasure", {"name": "somebody", "meant": "erase everything"}, 422),
)


def stranger(client: Client, player: str) -> None:
    """Bad input of every kind, which must be refused as what it is."""
    while client.goes_on:
        method, path, sent, status = client.draw.choice(BAD)
        client.ask("bad input", method, f"/api/players/{player}/{path}", sent, status)
        if status == 413:
            # what was refused before it was read ends the connection
            client.connection.close()
        time.sleep(0.3)


def loaded(server: Served, seconds: float) -> Load:
    """Everything at once; memory is looked at when warm and at the end."""
    load, began = Load(), time.monotonic()
    ends = began + seconds
    with asking(server.port) as connection:
        first = Client(connection, load, ends, random.Random(0))
        players = json.loads(first.ask("summary", "GET", "/api/players"))["players"]
        demo = next(one["player_id"] for one in players if one["name"] == DEMO_PLAYER)
        courses = json.loads(first.ask("plan", "GET", f"/api/players/{demo}/plans"))["courses"]
        victim = change("player", {"name": "Victim", "plays": "right"})
        of_victim = f"/api/players/{victim['record_id']}/changes"
        first.ask("push", "POST", of_victim, {"device_id": "x", "changes": [victim]})
    course = next(one["course_id"] for one in courses if one["mapped"])
    works: list[Callable[[Client], None]] = [
        lambda client: phone(client, 1),
        lambda client: phone(client, 2),
        lambda client: reader(client, demo),
        lambda client: reader(client, demo),
        lambda client: planner(client, demo, course),
        lambda client: analyst(client, demo),
        lambda client: importer(client, 1),
        lambda client: stranger(client, victim["record_id"]),
    ]

    def run(number: int) -> None:
        with asking(server.port) as own:
            works[number](Client(own, load, ends, random.Random(number)))

    warm = threading.Timer(WARM * seconds, lambda: load.memory.append(server.resident_mb()))
    warm.start()
    with ThreadPoolExecutor(len(works)) as pool:
        for job in [pool.submit(run, number) for number in range(len(works))]:
            job.result()
    warm.join()
    load.memory.append(server.resident_mb())
    for player, held in load.acknowledged.items():
        log = log_of(server.port, player)
        if sorted(log) != sorted(set(held)):
            load.wrong.append(f"{player}: {len(set(held) - set(log))} lost, {len(log) - len(set(log))} twice")
    return load


def told(load: Load, seconds: float) -> str:
    """The measured figures as rows of a table."""
    lines = [f"| {seconds:g} s of | answers | p95 ms | sent away (503) |", "|---|---|---|---|"]
    for kind, spent in sorted(load.spent.items()):
        lines.append(f"| {kind} | {len(spent)} | {p95(spent):.0f} | {load.busy[kind]} |")
    warm, end = ([round(mb) for mb in one.values()] for one in load.memory)
    lines.append(f"\nmemory in MB when warm {sum(warm)} {warm}, at the end {sum(end)} {end}: {load.growth:.2f} times")
    changes = sum(map(len, load.acknowledged.values()))
    return "\n".join([*lines, f"{changes} changes of {len(load.acknowledged)} players, {len(load.wrong)} faults"])


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=600)
    seconds = parser.parse_args().seconds
    with tempfile.TemporaryDirectory() as name, served(Path(name), demo=True) as server:
        load = loaded(server, seconds)
    print(f"{platform.platform()}, Python {platform.python_version()}\n{told(load, seconds)}")
    assert load.wrong == [], load.wrong[:5]
    assert load.growth < MOST_GROWTH, load.growth


if __name__ == "__main__":
    main()
