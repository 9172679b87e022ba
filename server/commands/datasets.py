"""A season exported as a Parquet dataset by several processes: what `export --workers` and `--scheduler` do."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import click
from sqlalchemy import Engine

from server.analysis.expected_strokes.baseline import Baseline
from server.commands import InputError, database, named_player
from server.commands.progress import progress
from server.commands.tables import counted
from server.files.season_dataset.cluster import ClusterError, cluster_client, make_sure, run_on
from server.files.season_dataset.datasets import GUARD, DatasetError, Plan, planned, staged, write_dataset
from server.files.season_dataset.partitions import Order, Receipt
from server.files.season_tables.seasons import open_season
from server.questions.competition_lock import refuse_locked
from server.store.shared_states import StateError, shared_state


@dataclass(frozen=True)
class Cluster:
    """Who writes: `workers` processes of this machine, or those of the scheduler at an address."""

    workers: int | None
    scheduler: str | None

    @property
    def option(self) -> str:
        """The option that asked for it."""
        return "--scheduler" if self.scheduler else "--workers"


AGAIN: Final = "the same command continues from what was written"


def export_dataset(
    year: int, folder: Path, player: str | None, baseline: Baseline, cluster: Cluster, buckets: int | None
) -> None:
    """Write the season's dataset, in full or not at all. Raises InputError."""
    try:
        with database(setting="READ_DATABASE") as engine, staged(folder) as staging:
            done = _export(engine, year, staging, folder, player, baseline, cluster, buckets)
    except DatasetError as error:
        raise InputError(f"--to: {error}") from error
    except (ClusterError, StateError) as error:
        raise InputError(f"{cluster.option}: {error}; {AGAIN}") from error
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"--to: {folder} cannot be written to: {reason}; {AGAIN}") from error
    _tell(folder, *done)  # by now the dataset is there: a pipe that breaks here is no fault of the folder


def _export(
    engine: Engine,
    year: int,
    staging: Path,
    folder: Path,
    player: str | None,
    baseline: Baseline,
    cluster: Cluster,
    buckets: int | None,
) -> tuple[Plan, int, int, list[str]]:
    with shared_state(engine, staging) as (connection, state):
        chosen = {named_player(connection, player).player_id} if player else None
        season = open_season(connection, year, baseline, chosen)
        if not season.players:
            raise InputError(f"--season: there are no rounds in {year}")
        refuse_locked(connection, season.players)
        plan = planned(season, staging, folder, state, buckets)
        for path in plan.mended:
            click.echo(f"{folder / path} is missing or cut off, and is written again", err=True)

        def run(orders: list[Order]) -> Iterator[Receipt]:
            if not orders:
                return
            with ExitStack() as stack:
                client = stack.enter_context(cluster_client(cluster.workers, cluster.scheduler, staging))
                make_sure(client, staging / GUARD, state)
                advance = stack.enter_context(progress("writing", len(orders), "partitions"))
                for receipt in run_on(client, orders):
                    advance(1)
                    yield receipt

        written = write_dataset(season, plan, staging, folder, run)
        shots, rounds = season.counts()
    return plan, shots, rounds, written


def _tell(folder: Path, plan: Plan, shots: int, rounds: int, written: list[str]) -> None:
    click.echo(
        f"{shots} shots in {rounds} rounds: dataset {folder}, {counted(len(plan.marks), 'partition')} of players"
    )
    counts = f"{counted(len(plan.orders), 'partition')} written, {len(plan.kept)} as they were"
    click.echo(f"{counts}, {len(plan.resumed)} from an export that broke off")
    for place in written:
        click.echo(f"written: {place}")
