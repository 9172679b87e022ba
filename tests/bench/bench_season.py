"""Export of a large season: rates beside pandas' own writers, peak memory. `python -m tests.bench.bench_season`.

Ten million shots, in a folder of a disk with 10 GB free: `TMPDIR=/var/tmp python -m tests.bench.bench_season --players
1852 --ways parquet package --runs 0`. With courses, whose effects and the order of the players are then worked out:
`--courses 40 --ways parquet package --runs 0`.

The whole way from the database, of the shots and of all tables, beside what a script would do: `pandas.read_sql` of
the same shots, unvalued, then `to_parquet`, and where duckdb has its extension, its own scanner of the SQLite file.
Then the writer alone over Arrow chunks made beforehand, beside `DataFrame.to_csv` or `to_parquet` of the same rows.
Seconds of the whole way are the processor's, so that other work on the machine weighs less.
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
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any, Final

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
from server.store.tables import PLAYER, ROUND, ROUND_OF_SHOT, SHOT
from tests.bench.large_season import SHOTS_A_PLAYER, YEAR, fill

SHOTS = tables()["shots"]
PACKAGE: Final = "package"
"""All season tables as Parquet."""
READ_SQL: Final = "pandas.read_sql"
SCANNER: Final = "duckdb scanner"


def season_of(connection: sa.Connection, players: int) -> Season:
    """The season of the first `players` players."""
    season = open_season(connection, YEAR, load_baseline("tour"))
    return replace(season, players=season.players[:players])


def export_as(format_: str, address: str, players: int, path: Path) -> None:
    """The whole way: database to file."""
    engine = open_database(address)
    with reading(engine) as connection:
        season = season_of(connection, players)
        if format_ == PACKAGE:
            write_tables(season, path, list(tables()), [PARQUET], package=True)
        else:
            write(path, table_pieces(season, "shots", format_))
    engine.dispose()


def shots_by_pandas(address: str, players: int, path: Path) -> None:
    """The shots as the table of records has them, with what their rounds say: no values, no summaries."""
    engine = open_database(address)
    ids = sa.select(PLAYER.c.player_id).order_by(PLAYER.c.player_id).limit(players)
    query = (
        sa.select(SHOT, ROUND.c.played_on, ROUND.c.kind, ROUND.c.tees)
        .join(ROUND, ROUND_OF_SHOT)
        .where(ROUND.c.player_id.in_(ids))
    )
    with reading(engine) as connection:
        pd.read_sql(query, connection).to_parquet(path, index=False)
    engine.dispose()


def shots_by_duckdb(address: str, players: int, path: Path) -> None:
    """The same by duckdb's scanner of SQLite files. Raises duckdb.Error where the extension is not to be had."""
    # here, so that the memory of the other ways is theirs alone
    import duckdb

    found = duckdb.connect(config={"threads": 1})
    found.execute("LOAD sqlite")
    found.execute(f"ATTACH '{sa.make_url(address).database}' AS season (TYPE sqlite, READ_ONLY)")
    found.execute(
        "COPY (SELECT s.*, r.played_on, r.kind, r.tees FROM season.shot s JOIN season.round r ON "
        "r.record_id = s.round_id AND r.player_id = s.player_id WHERE r.player_id IN "
        f"(SELECT player_id FROM season.player ORDER BY player_id LIMIT {players})) TO '{path}' (FORMAT parquet)"
    )


def has_scanner() -> bool:
    """Whether duckdb's extension for SQLite is installed here."""
    import duckdb

    try:
        duckdb.connect().execute("LOAD sqlite")
    except duckdb.Error:
        return False
    return True


WAYS: Final = ("parquet", "csv", PACKAGE, READ_SQL, SCANNER)
OTHER_WAYS: Final = {READ_SQL: shots_by_pandas, SCANNER: shots_by_duckdb}


def peak_mb() -> float:
    """Peak resident memory of this program so far, in MB (Linux). Not `ru_maxrss`: that one counts the parent too."""
    words = Path("/proc/self/status").read_text(encoding="ascii")
    return int(words.split("VmHWM:")[1].split()[0]) / 1024


def apart(address: str, players: int, format_: str, path: Path) -> tuple[float, float, float]:
    """A way in a process of its own: seconds of the processor, peak MB, and the peak MB before the first row."""
    given = [address, str(players), format_, str(path)]
    command = [sys.executable, "-m", "tests.bench.bench_season", "--export", *given]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    taken, peak, before = map(float, done.stdout.split())
    return taken, peak, before


def exported(address: str, players: str, format_: str, path: str) -> None:
    """What the process of `apart` does; prints its three figures."""
    before = peak_mb()
    start = time.process_time()
    OTHER_WAYS.get(format_, partial(export_as, format_))(address, int(players), Path(path))
    print(time.process_time() - start, peak_mb(), before)


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
    parser.add_argument("--courses", type=int, default=0, help="in all; each player plays three of them")
    parser.add_argument("--runs", type=int, default=3, help="of the writers alone, which hold all rows; 0: none")
    parser.add_argument("--ways", nargs="+", default=WAYS, choices=WAYS, help="what is measured, the first one alone")
    parser.add_argument("--export", nargs=4, help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.export:
        exported(*given.export)
        return 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        address = f"sqlite:///{folder / 'large.sqlite'}"
        engine = open_database(address)
        fill(engine, given.players, courses=given.courses)
        engine.dispose()
        print(f"Python {platform.python_version()}, pandas {pd.__version__}, pyarrow {pa.__version__}.\n")
        print("| whole way, shots | way | processor s | shots a second | times the shots alone | peak MB | before it |")
        print("|---:|---|---:|---:|---:|---:|---:|")
        ways = [way for way in given.ways if way != SCANNER or has_scanner()]
        for players in (given.few, given.players):
            shots, alone = players * SHOTS_A_PLAYER, 0.0
            for way in ways:
                taken, peak, before = apart(address, players, way, folder / f"out.{way}")
                alone = alone or taken
                rate = f"{shots / taken:,.0f} | {taken / alone:.2f}"
                print(f"| {shots:,} | {way} | {taken:.2f} | {rate} | {peak:.0f} | {before:.0f} |", flush=True)
        times = writers(chunks_of(address, given.players), folder, given.runs) if given.runs else {}
    if times:
        print(
            f"\n| writer alone, {shots:,} shots | seconds | shots a second | times pandas' rate |\n|---|---:|---:|---:|"
        )
    for name, taken in times.items():
        rate = times[f"pandas {name.removeprefix('pandas ')}"] / taken
        print(f"| {name} | {taken:.2f} | {shots / taken:,.0f} | {rate:.2f} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
