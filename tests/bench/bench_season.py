"""Export of a large season: rates beside pandas' own writers, peak memory. `python -m tests.bench.bench_season`.

Two figures for each format: the writer alone over Arrow chunks made beforehand, beside `DataFrame.to_csv` or
`to_parquet` of X
"""

from __future__ import annotations

import argparse
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any

import pandas as pd
import pyarrow as pa
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.files.season_tables.chunks import even_chunks
from server.files.season_tables.csv_writer import csv_pieces
from server.files.season_tables.dictionary import tables
from server.files.season_tables.frames import frames
from server.files.season_tables.package import write_tables
from server.files.season_tables.parquet_writer import parquet_pieces
from server.files.season_tables.seasons import Season, open_season
from server.files.season_tables.writing import PARQUET, table_pieces
from server.store.engine import open_database, reading
from tests.bench.large_season import SHOTS_A_PLAYER, YEAR, fill

SHOTS = tables()["shots"]
PACKAGE = "package"
"""All seven tables as Parquet."""


def season_of(connection: sa.Connection, players: int) -> Season:
    """The season of the first `players` players."""
    season = open_season(connection, YEAR, load_baseline("tour"))
    return replace(season, players=season.players[:players])


def export(address: str, players: int, format_: str, path: Path) -> None:
    """The whole way: database to file."""
    engine = open_database(address)
    with reading(engine) as connection:
        season = season_of(connection, players)
        if format_ == PACKAGE:
            write_tables(season, path, list(tables()), [PARQUET], package=True)
        else:
            write(path, table_pieces(season, "shots", format_))
    engine.dispose()


def peak_mb() -> float:
    """Peak resident memory of this program so far, in MB (Linux). Not `ru_maxrss`: that one counts the parent too."""
    words = Path("/proc/self/status").read_text(encoding="ascii")
    return int(words.split("VmHWM:")[1].split()[0]) / 1024


def apart(address: str, players: int, format_: str, path: Path) -> tuple[float, float, float]:
    """`export` in a process of its own: seconds, peak MB, and the peak MB before the first row was read."""
    given = [address, str(players), format_, str(path)]
    command = [sys.executable, "-m", "tests.bench.bench_season", "--export", *given]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    taken, peak, before = map(float, done.stdout.split())
    return taken, peak, before


def exported(address: str, players: str, format_: str, path: str) -> None:
    """What the process of `apart` does; prints its three figures."""
    before = peak_mb()
    start = time.perf_counter()
    export(address, int(players), format_, Path(path))
    print(time.perf_counter() - start, peak_mb(), before)


def chunks_of(address: str, players: int) -> list[pa.Table]:
    """The shots table in the pieces that the writers get."""
    engine = open_database(address)
    with reading(engine) as connection:
        found = list(even_chunks(frames(season_of(connection, players), "shots"), SHOTS))
    engine.dispose()
    return found


def write(path: Path, pieces: Any) -> None:
    """Write the pieces to a file."""
    with path.open("wb") as file:
        file.writelines(pieces)


def writers(chunks: list[pa.Table], folder: Path, runs: int) -> dict[str, float]:
    """Median seconds of each writer over the same rows."""
    whole = pa.concat_tables(chunks)
    frame: pd.DataFrame = whole.to_pandas()
    about = {"season": str(YEAR)}
    ways: dict[str, Callable[[], Any]] = {
        "csv": lambda: write(folder / "ours.csv", csv_pieces(SHOTS, chunks)),
        "pandas csv": lambda: frame.to_csv(folder / "pandas.csv", index=False, lineterminator="\r\n"),
        "parquet": lambda: write(folder / "ours.parquet", parquet_pieces(SHOTS, chunks, about)),
        "pandas parquet": lambda: frame.to_parquet(folder / "pandas.parquet", index=False),
    }
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for run in range(runs):
        print(f"writers, run {run + 1} of {runs}", file=sys.stderr)
        for name, work in ways.items():
            start = time.perf_counter()
            work()
            taken[name].append(time.perf_counter() - start)
    return {name: median(times) for name, times in taken.items()}


def main(arguments: list[str] | None = None) -> int:
    """Measure and print two tables."""
    parser = argparse.ArgumentParser(description="export of a large season")
    parser.add_argument("--players", type=int, default=186, help=f"each of {SHOTS_A_PLAYER} shots")
    parser.add_argument("--few", type=int, default=19, help="the smaller number of players, for memory")
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--export", nargs=4, help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.export:
        exported(*given.export)
        return 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        address = f"sqlite:///{folder / 'large.sqlite'}"
        engine = open_database(address)
        fill(engine, given.players)
        engine.dispose()
        print(f"Python {platform.python_version()}, pandas {pd.__version__}, pyarrow {pa.__version__}.\n")
        print("| whole way, shots | format | seconds | shots a second | peak MB | MB before reading |")
        print("|---:|---|---:|---:|---:|---:|")
        for players in (given.few, given.players):
            for format_ in ("csv", "parquet", PACKAGE):
                taken, peak, before = apart(address, players, format_, folder / f"out.{format_}")
                shots = players * SHOTS_A_PLAYER
                print(f"| {shots:,} | {format_} | {taken:.1f} | {shots / taken:,.0f} | {peak:.0f} | {before:.0f} |")
        times = writers(chunks_of(address, given.players), folder, given.runs)
    print(f"\n| writer alone, {shots:,} shots | seconds | shots a second | times pandas' rate |\n|---|---:|---:|---:|")
    for name, taken in times.items():
        rate = times[f"pandas {name.removeprefix('pandas ')}"] / taken
        print(f"| {name} | {taken:.2f} | {shots / taken:,.0f} | {rate:.2f} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
