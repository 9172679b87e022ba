"""What a shot costs to import: `python -m tests.bench.bench_import [COPIES]`, copies of the squad (usual: 10)."""

from __future__ import annotations

import csv
import itertools
import resource
import sys
import tempfile
import time
from pathlib import Path

from demo_rounds.generate import FOLDER
from demo_rounds.squad import SHOTS
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.store.engine import open_database


def write_copies(path: Path, copies: int) -> int:
    """The squad's table `copies` times over, each with players of its own; how many shots that is."""
    with (FOLDER / SHOTS).open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for copy in range(copies):
            writer.writerows([f"{row[0]} {copy}", *row[1:]] for row in rows)
    return copies * len(rows)


def peak_mb() -> float:
    """The most memory that this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """Read a table, check it, store it; print shots a second of the processor, memory, bytes a shot."""
    copies = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    with tempfile.TemporaryDirectory() as folder:
        table_file, database = Path(folder) / "shots.csv", Path(folder) / "shots.sqlite"
        shots = write_copies(table_file, copies)
        engine = open_database(f"sqlite:///{database}")
        before = peak_mb()
        marks = [time.process_time()]
        table = read_table(table_file)
        marks.append(time.process_time())
        import_table(engine, table, dry_run=True)
        marks.append(time.process_time())
        import_table(engine, table)
        marks.append(time.process_time())
        engine.dispose()
        read, checked, stored = (after - start for start, after in itertools.pairwise(marks))
        print(
            f"{shots} shots: read {shots / read:.0f}/s, checked {shots / checked:.0f}/s, stored {shots / stored:.0f}/s"
        )
        print(
            f"read and stored {shots / (read + stored):.0f}/s; memory {before:.0f} MB, at its peak {peak_mb():.0f} MB"
        )
        print(f"database {database.stat().st_size / shots:.0f} bytes a shot")


if __name__ == "__main__":
    main()
