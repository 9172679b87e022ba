"""A season of millions of shots, made, written and answered from partition by partition: does a million cost the same
at the end as at the start, and does memory stay? `python -m tests.bench.bench_dataset --shots 20000000`.

Each partition has a database of its own, thrown away when it is written, so that no disk holds all of them. Seconds are
of the processor, for other programs run beside; of one worker against two they are of the clock.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from statistics import mean, median
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from server.files.season_dataset.datasets import row_groups
from server.files.season_dataset.partitions import of_buckets, path_in_dataset, write_bucket
from server.files.season_tables.seasons import open_season
from server.files.season_tables.tallied_tables import TALLIED_COLUMNS, members_of
from server.files.season_tables.writing import SHOTS
from server.questions.valued_shots import baseline_by_id
from server.store.engine import insert_rows, open_database, reading, writing
from server.store.players import Player
from tests.bench import large_season
from tests.bench.bench_season import peak_mb
from tests.bench.large_season import SHOTS_A_PLAYER, YEAR

PLAYERS_A_PARTITION = 16
FOLDED_TIMES = 3
"""The machine's pace changes within minutes: so often all shots and those of the first step are folded in turn."""


class Step(NamedTuple):
    """Shots so far, seconds of the processor a million for the latest of them written, by the middle one of their
    partitions, which other work on the machine moves less, and for all of them folded into tallies; how many times what
    a million of the first step's shots takes, folded in turn with them; and the peak of memory in MB."""

    shots: int
    written: float
    middle: float
    folded: float
    beside_first: float
    peak_mb: float


def _partition(empty: Path, tree: Path, bucket: int, players: int, spare: Path) -> tuple[list[Player], float]:
    """Make the players of a bucket and write their partition: who they are, and the seconds of writing alone."""
    place = spare / "partition.sqlite"
    shutil.copy2(empty, place)
    engine = open_database(f"sqlite:///{place}")
    draw = np.random.default_rng(bucket)
    with writing(engine) as connection:
        for number in range(bucket * players, (bucket + 1) * players):
            for table, rows in large_season._player(number, draw, 0):
                insert_rows(connection, table, large_season._whole(table, rows))
    with reading(engine) as connection:
        begun = time.process_time()
        season = open_season(connection, YEAR, baseline_by_id("tour"))
        write_bucket(season, of_buckets(), bucket, tree)
        taken = time.process_time() - begun
    engine.dispose()
    for path in spare.glob("partition.sqlite*"):
        path.unlink()
    return list(season.players), taken


def _read(tree: Path, buckets: int) -> Iterator[pa.Table]:
    return row_groups([tree / path_in_dataset(SHOTS, YEAR, bucket) for bucket in range(buckets)], TALLIED_COLUMNS)


def _folded(tree: Path, buckets: int, everybody: list[Player], players: int) -> float:
    """Seconds of the processor a million to fold the first buckets into tallies, which must hold every shot."""
    theirs = everybody[: buckets * players]
    total = len(theirs) * SHOTS_A_PLAYER
    begun = time.process_time()
    members = members_of(_read(tree, buckets), theirs)
    taken = time.process_time() - begun
    assert sum(int(one.tally.shots.sum()) for one in members if one.tally) == total
    return 1e6 * taken / total


def _folded_in_turn(fold: Callable[[int], float], first: int, buckets: int) -> tuple[float, float]:
    """Seconds a million of all buckets, and how many times those of the first ones: medians."""
    found = []
    for _ in range(FOLDED_TIMES):
        before, whole, after = fold(first), fold(buckets), fold(first)
        found.append((whole, 2 * whole / (before + after)))
    return median(whole for whole, _ in found), median(ratio for _, ratio in found)


def steps(shots: int, every: int, players: int = PLAYERS_A_PARTITION) -> Iterator[Step]:
    """Write partitions until there are so many shots; a step each time `every` more are there."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        open_database(f"sqlite:///{folder / 'empty.sqlite'}").dispose()
        tree, everybody = folder / "tree", []
        total, bucket, first = 0, 0, 0
        seconds: list[float] = []
        each = players * SHOTS_A_PLAYER
        while total < shots:
            found, taken = _partition(folder / "empty.sqlite", tree, bucket, players, folder)
            everybody += found
            bucket += 1
            total += each
            seconds.append(1e6 * taken / each)
            if len(seconds) * each >= every or total >= shots:
                first = first or bucket
                fold = partial(_folded, tree, everybody=everybody, players=players)
                yield Step(total, mean(seconds), median(seconds), *_folded_in_turn(fold, first, bucket), peak_mb())
                seconds = []


def workers(players: int, counts: tuple[int, ...]) -> dict[int, float]:
    """Seconds of the clock for `export --workers`, the same season by so many workers each time."""
    taken = {}
    with tempfile.TemporaryDirectory() as name:
        address = f"sqlite:///{Path(name) / 'season.sqlite'}"
        engine = open_database(address)
        large_season.fill(engine, players)
        engine.dispose()
        for count in counts:
            command = [sys.executable, "-m", "server", "export", "--season", str(YEAR), "--buckets", "8"]
            command += ["--to", str(Path(name) / f"by_{count}"), "--workers", str(count)]
            begun = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True, env=_environment(address))
            taken[count] = time.perf_counter() - begun
    return taken


def _environment(address: str) -> dict[str, str]:
    return os.environ | {"PENCILBAG_DATABASE": address, "OMP_NUM_THREADS": "1"}


def main(arguments: list[str] | None = None) -> int:
    """Measure and print the tables."""
    parser = argparse.ArgumentParser(description="a season of millions of shots, partition by partition")
    parser.add_argument("--shots", type=int, default=20_000_000)
    parser.add_argument("--every", type=int, default=1_000_000, help="shots from one line to the next")
    parser.add_argument("--worker-players", type=int, default=96, help=f"each of {SHOTS_A_PLAYER} shots; 0: none")
    given = parser.parse_args(arguments)
    print("| shots | seconds a million, written | by the middle partition | folded | times the first | peak MB |")
    print("|---:|---:|---:|---:|---:|---:|")
    found = []
    for step in steps(given.shots, given.every):
        found.append(step)
        costs = f"{step.written:.2f} | {step.middle:.2f} | {step.folded:.2f} | {step.beside_first:.3f}"
        print(f"| {step.shots:,} | {costs} | {step.peak_mb:.0f} |", flush=True)
    for what in ("written", "middle", "folded", "beside_first"):
        cost = [getattr(step, what) for step in found]
        print(f"\n{what}: {min(cost):.3f} to {max(cost):.3f}, {100 * (max(cost) / min(cost) - 1):.0f} % apart")
    if given.worker_players:
        taken = workers(given.worker_players, (1, 2))
        shots = given.worker_players * SHOTS_A_PLAYER
        print(f"\n| workers, {shots:,} shots | seconds | shots a second |\n|---:|---:|---:|")
        for count, seconds in taken.items():
            print(f"| {count} | {seconds:.1f} | {shots / seconds:,.0f} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
