"""Commands on season tables: export, and the dictionary of their columns."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click
from click.core import ParameterSource

from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE, Baseline
from server.commands import InputError, database, named_player, refused
from server.commands.datasets import Cluster, export_dataset
from server.commands.options import FilePlace, OneOf, WholeNumber
from server.commands.progress import progress
from server.files.season_tables.descriptor import DESCRIPTOR
from server.files.season_tables.dictionary import printed, tables
from server.files.season_tables.lock import holds_dataset
from server.files.season_tables.package import OtherSeasonError, earlier_baseline, write_tables
from server.files.season_tables.seasons import Season, open_season
from server.files.season_tables.writing import CSV, MEDIA_TYPES, PARQUET
from server.files.season_tables.xlsx_writer import TooManyRowsError
from server.questions.baseline_versions import baseline_or_file
from server.questions.competition_lock import refuse_locked
from server.store.engine import reading

ALL: Final = "all"


@click.command()
@click.option("--season", type=WholeNumber(1900, 2200), required=True, help="The year.")
@click.option("--to", "folder", type=FilePlace(folder=True), required=True, help="A folder.")
@click.option("--player", help="One player; default: all.")
@click.option(
    "--baseline",
    default=DEFAULT_BASELINE,
    show_default=True,
    help="Id of a baseline, or a CSV of your own; ID@VERSION is refused when the version here is another.",
)
@click.option("--format", "format_", type=OneOf([*MEDIA_TYPES, ALL]), default=CSV, show_default=True, help="Of files.")
@click.option("--package", is_flag=True, help=f"All season tables, and {DESCRIPTOR}.")
@click.option(
    "--workers", type=WholeNumber(1, 256), help="Write a Parquet dataset by so many Dask workers of this machine."
)
@click.option("--scheduler", help="Write it by the workers of the Dask scheduler at this address, tcp://HOST:8786.")
@click.option(
    "--buckets",
    type=WholeNumber(1, 4096),
    help="Of players, in a new dataset; default: as many as there are players for.",
)
def export(
    season: int,
    folder: Path,
    player: str | None,
    baseline: str,
    format_: str,
    package: bool,
    workers: int | None,
    scheduler: str | None,
    buckets: int | None,
) -> None:
    """Write the season's shots, or all season tables.

    The shots can be imported again, to the same numbers. With --workers or --scheduler all tables are
    written as a Parquet dataset, in partitions of players.
    """
    table = _baseline(baseline)
    if workers is not None or scheduler is not None:
        cluster = _cluster(workers, scheduler, format_)
        export_dataset(season, folder, player, table, cluster, buckets)
        return
    if buckets is not None:
        raise InputError("--buckets: is for datasets only; give --workers or --scheduler")
    if holds_dataset(folder):
        raise InputError(f"--to: {folder} contains a dataset; give --workers or --scheduler, or choose another folder")
    formats = list(MEDIA_TYPES) if format_ == ALL else [format_]
    with database(setting="READ_DATABASE") as engine, reading(engine) as connection:
        chosen = {named_player(connection, player).player_id} if player else None
        found = open_season(connection, season, table, chosen)
        shots, rounds = found.counts()
        if not shots:
            raise InputError(f"--season: there are no shots in {season}")
        names = list(tables()) if package else ["shots"]
        if any(tables()[name].holds_strokes_gained for name in names):
            refuse_locked(connection, found.players)
        if package:
            _look_at(folder, found)
        paths = _written(found, folder, names, formats, package)
    click.echo(f"{shots} shots in {rounds} rounds written to {paths[0]}")
    for path in paths[1:]:
        click.echo(f"written: {path}")


def _cluster(workers: int | None, scheduler: str | None, format_: str) -> Cluster:
    if workers is not None and scheduler is not None:
        raise InputError("--workers: give either it or --scheduler")
    given = click.get_current_context().get_parameter_source("format_") is not ParameterSource.DEFAULT
    if given and format_ != PARQUET:
        raise InputError(f"--format: a dataset is {PARQUET}, not {format_}")
    return Cluster(workers, scheduler)


def _baseline(asked: str) -> Baseline:
    try:
        return baseline_or_file(asked)
    except (LookupError, ValueError) as error:
        raise refused(error) from error


def _look_at(folder: Path, season: Season) -> None:
    """Refuse to mix two seasons; say so when the package there was made against another baseline."""
    try:
        earlier = earlier_baseline(folder, season.year)
    except OtherSeasonError as error:
        raise InputError(f"--to: {error}") from error
    now = (season.baseline.id, season.baseline.version)
    if earlier is not None and earlier != now:
        was, is_ = " ".join(earlier), " ".join(now)
        click.echo(f"the package there was made with {was}; now it is {is_}: values change", err=True)


def _written(season: Season, folder: Path, names: list[str], formats: list[str], package: bool) -> list[Path]:
    try:
        with progress("writing", len(names) * len(formats), "files") as advance:
            return write_tables(season, folder, names, formats, package=package, progress=advance)
    except TooManyRowsError as error:
        raise InputError(f"--format: {error}") from error
    except OSError as error:
        raise InputError(f"--to: {folder} cannot be written to: {error.strerror}") from error


@click.command("dictionary")
def dictionary_() -> None:
    """Print the columns of every season table, as Markdown.

    Type, unit, range and meaning of each.
    """
    click.echo(printed(), nl=False)
