"""Speed of squads from a real SQLite database: `python -m tests.bench.bench_squad [--players N] [--rounds N]`.

With `--question` only that one, or those, is measured.

A squad of players with rounds of about 75 shots on 40 shared courses is made once (`large_squad`), then each question
is put over HTTP to an application in a process of its own: cold, everything read and valued; the same question of
another kind from the tallies that are kept; and the same once more from the answer that is kept. Wall and processor
seconds, and the greatest memory of the process. Never run as a test.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from server.store.engine import open_database, reading
from server.store.players import players
from tests.bench.large_squad import fill_squad

BAR_COLD_S = 10.0
BAR_KEPT_S = 1.0
BAR_MB = 500.0
BAR_PAGE_S = 1.0
PAGE = "the squad page of 50"
QUESTIONS = {
    PAGE: ("squad", "squad?last=11"),
    "the squad in order": ("squad/ranks?by=total", "squad/ranks?by=putting"),
    "a player beside the squad": ("players/{player}/against", "players/{player}/against?level=0.8"),
    "holes of a course": ("squad/holes?course=Course+05", "squad/holes?course=Course+06"),
}
"""Of each question the first way it is put, and a second one that no answer is kept of."""


def ask(database: str, paths: tuple[str, str]) -> dict[str, Any]:
    """Seconds (wall, processor) cold, from tallies, from the answer; and the greatest memory in MB, in this process."""
    from server import create_app

    app = create_app({"DATABASE": database, "WORKERS": 0})
    client = app.test_client()
    taken: dict[str, Any] = {}
    for name, path in zip(("cold", "tallies", "answer"), (paths[0], paths[1], paths[0]), strict=True):
        wall, work = time.perf_counter(), time.process_time()
        answer = client.get(f"/api/{path}")
        taken[name] = (time.perf_counter() - wall, time.process_time() - work)
        assert answer.status_code == 200, answer.text
    taken["mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return taken


def measure(database: str, questions: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Each of these questions in a process of its own."""
    engine = open_database(database, create=False)
    with reading(engine) as connection:
        player = players(connection)[0].player_id
    engine.dispose()
    found = {}
    for words in questions:
        filled = [path.format(player=player) for path in QUESTIONS[words]]
        command = [sys.executable, "-m", "tests.bench.bench_squad", "--ask", database, *filled]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        found[words] = json.loads(done.stdout)
    return found


def as_table(found: dict[str, dict[str, Any]], shots: int) -> str:
    """The measured times as a markdown table."""
    lines = ["| work | wall, s | processor, s | bar, s |", "|---|---:|---:|---:|"]
    for words, taken in found.items():
        names = {"cold": BAR_PAGE_S if words == PAGE else BAR_COLD_S, "tallies": BAR_KEPT_S, "answer": BAR_KEPT_S}
        lines += [
            f"| {words}, {name} | {taken[name][0]:.2f} | {taken[name][1]:.2f} | {bar:g} |"
            for name, bar in names.items()
        ]
        lines.append(f"| {words}, greatest memory, MB | {taken['mb']:.0f} | | {BAR_MB:g} |")
    return "\n".join([f"{shots:,} shots.\n", *lines])


def main(arguments: list[str] | None = None) -> int:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="speed of squads")
    parser.add_argument("--players", type=int, default=300)
    parser.add_argument("--rounds", type=int, default=30)
    parser.add_argument(
        "--question", action="append", choices=list(QUESTIONS), help="one of them (more than once); else all"
    )
    parser.add_argument("--database", help="of a run before; made anew without it")
    parser.add_argument("--ask", nargs=3, metavar=("DATABASE", "FIRST", "SECOND"), help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.ask:
        print(json.dumps(ask(given.ask[0], tuple(given.ask[1:]))))
        return 0
    with tempfile.TemporaryDirectory(prefix="pencilbag-squad-") as folder:
        database = given.database or f"sqlite:///{Path(folder) / 'squad.sqlite'}"
        if not given.database:
            engine = open_database(database)
            fill_squad(engine, given.players, given.rounds)
            engine.dispose()
        engine = open_database(database, create=False)
        with reading(engine) as connection:
            shots = connection.exec_driver_sql("SELECT count(*) FROM shot").scalar_one()
        engine.dispose()
        print(f"Python {platform.python_version()}, load average {os.getloadavg()[0]:.1f}\n")
        print(as_table(measure(database, given.question or QUESTIONS), int(shots)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
