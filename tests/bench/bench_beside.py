"""How long a push waits beside heavy work: `python -m tests.bench.bench_beside [--rounds 330]`.

One phone pushes a round of 90 shots after another, ten a second at most, while one kind of heavy work after the other
runs at its largest: an import of as many rows as are taken, plans of 14 clubs on a large map, every format of a season
table of all these shots, summaries of them that no cache knows, a baseline fitted to them on the command line, and the
erasure of the player. Told are the times of the pushes, and how long the heavy work took.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from tests.bench.bench_serving import asked, asking
from tests.bench.bench_sync import MOMENT, change, round_of_shots
from tests.bench.served import Served, served
from tests.made_once import DEMO_PLAYER

SHOTS_A_HOLE = (("tee", 400, "driver"), ("fairway", 150, "7 iron"), ("rough", 40, "wedge"), ("green", 15, "putter"))
ALL_ROUNDS = 330
"""Rounds of 90 rows: 29,700 of the 30,000 that one import takes."""
BAR_MS = 1000.0
HALF_WIDTHS = range(300, 240, -10)


@dataclass
class Beside:
    """What the pushes met beside one kind of work: their seconds, those that failed, and how long the work took."""

    pushing: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    took: float = 0.0

    def rank(self, share: float) -> float:
        """The push that this share of all was not slower than, in seconds."""
        return sorted(self.pushing)[math.ceil(share * len(self.pushing)) - 1]


def table_of(rounds: int, first: date = date(2020, 1, 1)) -> str:
    """A shots table of whole rounds, one a day."""
    rows = ["played_on,hole,par,length_yd,shot,lie,distance,club,holed"]
    for number in range(rounds):
        day = (first + timedelta(days=number)).isoformat()
        for hole in range(1, 19):
            shots = [f"{day},{hole},4,400,{k},{lie},{yd},{club}," for k, (lie, yd, club) in enumerate(SHOTS_A_HOLE, 1)]
            rows += [*shots, f"{day},{hole},4,400,5,green,3,putter,yes"]
    return "\n".join(rows) + "\n"


@contextmanager
def pushing(port: int, found: Beside, pause: float = 0.1) -> Iterator[None]:
    """A phone that pushes a round after another until the work is done."""
    player, stop = str(uuid.uuid4()), threading.Event()
    club = change("club", {"label": "7 iron", "sort": "iron"})
    path = f"/api/players/{player}/changes"

    def push_on() -> None:
        with asking(port) as connection:
            asked(connection, "POST", path, {"device_id": "bench", "now": MOMENT, "changes": [club]})
            while not stop.is_set():
                sent = {"device_id": "bench", "now": MOMENT, "changes": round_of_shots(club["record_id"])}
                status, content, spent = asked(connection, "POST", path, sent)
                found.pushing.append(spent)
                if status != 200:
                    found.wrong.append(f"push: {status} {content[:200]!r}")
                stop.wait(pause)

    thread = threading.Thread(target=push_on)
    thread.start()
    began = time.monotonic()
    try:
        yield
    finally:
        found.took = time.monotonic() - began
        stop.set()
        thread.join()


def beside(port: int, work: Callable[[], None]) -> Beside:
    """The times of pushes while `work` runs."""
    found = Beside()
    with pushing(port, found):
        work()
    return found


class Heavy:
    """Each kind of heavy work against one server with the demo season."""

    def __init__(self, server: Served, folder: Path, rounds: int) -> None:
        self.port, self.folder, self.table = server.port, folder, table_of(rounds)
        self.name, self.player = "Bramble Inkwell", str(uuid.uuid4())
        self.years = range(2020, 2020 + (rounds - 1) // 365 + 1)
        named = change("player", {"name": self.name, "plays": "right"}, self.player)
        self.ask("POST", f"/api/players/{self.player}/changes", {"device_id": "bench", "changes": [named]})
        players = json.loads(self.ask("GET", "/api/players"))["players"]
        self.demo = next(one["player_id"] for one in players if one["name"] == DEMO_PLAYER)
        courses = json.loads(self.ask("GET", f"/api/players/{self.demo}/plans"))["courses"]
        self.course = next(one["course_id"] for one in courses if one["mapped"])

    def ask(self, method: str, path: str, sent: Any = None, status: int = 200) -> bytes:
        """One request that must be answered with this status, however long it takes."""
        with asking(self.port, 600) as connection:
            found, content, _ = asked(connection, method, path, sent)
        assert found == status, (path, found, content[:300])
        return content

    def imports(self) -> None:
        """A preview, and the same stored."""
        for dry_run in (True, False):
            self.ask("POST", f"/api/players/{self.player}/import", {"table": self.table, "dry_run": dry_run})

    def plans(self) -> None:
        """Plans of every club on a map that is painted anew each time: its polygons lie over each other."""
        for number in range(4):
            squares = [_square(kind, half + number) for kind, half in zip(_KINDS, HALF_WIDTHS, strict=False)]
            green = _polygon("green", [[-15, 380], [15, 380], [15, 410], [-15, 410], [-15, 380]])
            body = {"course_id": self.course, "hole": 1, "features": [*squares, green]}
            sent = {"device_id": "bench", "changes": [change("hole_map", body)]}
            self.ask("POST", f"/api/players/{self.demo}/changes", sent)
            self.ask("POST", f"/api/players/{self.demo}/tee-plan", {"course_id": self.course, "hole": 1 + number})

    def tables(self) -> None:
        """Every format of the shots, and the clubs."""
        for year in self.years:
            for name in ("shots.csv", "shots.parquet", "shots.xlsx", "club_summary.csv"):
                self.ask("GET", f"/api/season/{year}/{name}?player={self.player}")

    def summaries(self) -> None:
        """What a page of evidence asks, of all shots."""
        for what in (
            "strokes-gained?by=club",
            "strokes-gained?by=round",
            "putting",
            "priorities",
            "scores",
            "patterns",
        ):
            self.ask("GET", f"/api/players/{self.player}/{what}")

    def fits(self) -> None:
        """A baseline learnt from all shots, on the command line."""
        command = [sys.executable, "-m", "server", "baseline", "fit", "--from", self.name]
        environment = os.environ | {"PENCILBAG_DATABASE": f"sqlite:///{self.folder / 'log.sqlite'}"}
        subprocess.run(
            [*command, "--to", str(self.folder / "own.csv")], env=environment, check=True, capture_output=True
        )

    def erases(self) -> None:
        """All that was imported."""
        sent = {"name": self.name, "meant": "erase everything"}
        self.ask("POST", f"/api/players/{self.player}/erasure", sent, 204)

    def kinds(self) -> dict[str, Callable[[], None]]:
        """In the order in which they can be done."""
        return {
            "import, previewed and stored": self.imports,
            "plans on a large map": self.plans,
            "season tables": self.tables,
            "summaries": self.summaries,
            "baseline fit": self.fits,
            "erasure": self.erases,
        }


_KINDS = ("trees", "water_hazard", "bunker", "fairway", "rough", "lateral_water_hazard")


def _polygon(kind: str, ring: list[list[float]]) -> dict[str, Any]:
    geometry = {"type": "Polygon", "coordinates": [ring]}
    return {"type": "Feature", "properties": {"golf": kind}, "geometry": geometry}


def _square(kind: str, half: float) -> dict[str, Any]:
    low, high = 200 - half, 200 + half
    return _polygon(kind, [[-half, low], [half, low], [half, high], [-half, high], [-half, low]])


def measured(
    server: Served, folder: Path, rounds: int, chosen: Callable[[Iterable[str]], Iterable[str]] = list
) -> dict[str, Beside]:
    """Every kind of work in turn, or those chosen, and nothing at all first, on a server that holds the demo season in
    `folder`."""
    heavy = Heavy(server, folder, rounds)
    found = {"nothing": beside(server.port, lambda: time.sleep(min(10.0, rounds / 10)))}
    kinds = heavy.kinds()
    for kind in chosen(kinds):
        found[kind] = beside(server.port, kinds[kind])
    return found


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=ALL_ROUNDS)
    rounds = parser.parse_args().rounds
    print(f"| beside ({rounds * 90} shots) | seconds | pushes | median ms | p95 ms | longest ms |")
    print("|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name, served(Path(name), demo=True) as server:
        found = measured(server, Path(name), rounds)
    for kind, one in found.items():
        times = [1000 * one.rank(share) for share in (0.5, 0.95, 1.0)]
        print(f"| {kind} | {one.took:.1f} | {len(one.pushing)} | " + " | ".join(f"{ms:.0f}" for ms in times) + " |")
        assert one.wrong == [], one.wrong[:3]


if __name__ == "__main__":
    main()
