"""What a shot costs to import: `python -m tests.bench.bench_import [COPIES ...]`, copies of the squad (usual: 32, 320).

Each size is a process of its own, so that its memory is its own: good rows from a file; the same while somebody else
has the database open; as many with a bad cell; the good rows held in memory (as over HTTP), and in random order, both
up to `MOST_HELD` shots. Times are the processor's.
"""

from __future__ import annotations

import csv
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from demo_rounds.generate import FOLDER
from demo_rounds.squad import SHOTS
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.files.shots_stream import import_files
from server.files.table_faults import TableError
from server.store.engine import open_database, reading

MOST_HELD = 120_000
STREAM, OPEN, BAD = "from a file", "into an open database", "bad rows"
HELD, SHUFFLED = "held in memory", "in random order"


def write_copies(path: Path, copies: int, sort: str) -> int:
    """The squad's table `copies` times over, each with players of its own; how many shots that is, and no table where
    that is more than can be held."""
    with (FOLDER / SHOTS).open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    shots = copies * len(rows)
    if sort in (HELD, SHUFFLED) and shots > MOST_HELD:
        return 0
    place = header.index("distance")
    if sort == BAD:
        rows = [[*row[:place], "812", *row[place + 1 :]] for row in rows]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        made = ([[f"{row[0]} {copy}", *row[1:]] for row in rows] for copy in range(copies))
        if sort == SHUFFLED:
            mixed = [row for of_copy in made for row in of_copy]
            random.Random(1).shuffle(mixed)
            made = iter([mixed])
        for of_copy in made:
            writer.writerows(of_copy)
    return shots


def peak_mb() -> float:
    """The most memory that this process has held (Linux), by itself: what getrusage says begins with its parent's."""
    words = Path("/proc/self/status").read_text(encoding="ascii")
    return int(words.partition("VmHWM:")[2].split()[0]) / 1024


def one(sort: str, table: Path, shots: int) -> None:
    """Import a file in this process; print shots a second, memory, bytes a shot."""
    database = table.with_suffix(".sqlite")
    engine, other = (open_database(f"sqlite:///{database}") for _ in range(2))
    if sort == OPEN:
        # its connection stays open
        with reading(other):
            pass
    before, begun = peak_mb(), time.process_time()
    stages: dict[str, list[float]] = {}

    def told(stage: str, _steps: int, _of: int | None) -> None:
        now = time.process_time()
        stages.setdefault(stage, [now, now])[1] = now

    if sort == HELD:
        import_table(engine, read_table(table))
    else:
        try:
            import_files(engine, [table], progress=told)
        except TableError as refused:
            print(f"  {refused}: {len(refused.counts.groups())} lines")
    spent = time.process_time() - begun
    engine.dispose()
    parts = ", ".join(f"{stage} {shots / max(last - first, 1e-9):.0f}/s" for stage, (first, last) in stages.items())
    print(f"{shots} shots {sort}: {shots / spent:.0f}/s of the processor ({parts})")
    stored = f"; database {database.stat().st_size / shots:.0f} bytes a shot" if sort != BAD else ""
    print(f"  memory {before:.0f} MB, at its peak {peak_mb() - before:.0f} MB more{stored}", flush=True)


def main() -> None:
    """Every size in every sort."""
    if sys.argv[1:2] == ["--one"]:
        one(sys.argv[2], Path(sys.argv[3]), int(sys.argv[4]))
        return
    for copies in map(int, sys.argv[1:] or ("32", "320")):
        for sort in (STREAM, OPEN, BAD, HELD, SHUFFLED):
            with tempfile.TemporaryDirectory() as folder:
                table = Path(folder) / "shots.csv"
                shots = write_copies(table, copies, sort)
                if shots:
                    again = [sys.executable, "-m", "tests.bench.bench_import", "--one", sort, str(table), str(shots)]
                    subprocess.run(again, check=True)


if __name__ == "__main__":
    main()
