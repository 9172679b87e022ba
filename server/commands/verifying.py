"""The command verify: a season that was exported is computed again and compared."""

from __future__ import annotations

from pathlib import Path

import click

from server.commands import InputError, database
from server.commands.options import FilePlace
from server.commands.progress import progress
from server.commands.tables import counted
from server.files.season_dataset.verifying import bucket_groups, dataset_again
from server.files.season_tables.lock import LockError, read_lock
from server.files.season_tables.verifying import Difference, Verified, package_again
from server.files.season_tables.verifying import verify as verify_files
from server.questions.competition_lock import refuse_locked
from server.store.engine import reading
from server.store.players import players


@click.command("verify")
@click.argument("folder", type=FilePlace(folder=True))
def verify_(folder: Path) -> None:
    """Recompute an exported package or dataset and compare.

    By the baseline in its lock file. Exit code 1, with table, column and row, where something differs.
    """
    with database(setting="READ_DATABASE") as engine, reading(engine) as connection:
        try:
            lock = read_lock(folder)
            dataset = "dataset" in lock
            groups = bucket_groups(lock) if dataset else [list(lock["files"])]
        except LockError as error:
            raise InputError(f"FOLDER: {error}") from error
        refuse_locked(connection, [player for player in players(connection) if player.player_id in lock["players"]])
        try:
            with progress("verifying", len(lock["files"]), "files") as advance:
                again = dataset_again if dataset else package_again
                found = verify_files(connection, folder, lock, groups, again, advance)
        except OSError as error:
            raise InputError(f"FOLDER: {folder} cannot be read: {error.strerror or error}") from error
    _tell(found, lock["season"])


def _tell(found: Verified, year: int) -> None:
    for note in found.notes:
        click.echo(note, err=True)
    for difference in found.differences:
        click.echo(_words(difference))
    files, rows = counted(found.files, "file"), counted(found.rows, "row")
    if found.differences:
        click.echo(f"{files}, {rows} of season {year}: {counted(len(found.differences), 'difference')}")
        raise SystemExit(1)
    click.echo(f"{files}, {rows} of season {year}: no difference")


def _words(one: Difference) -> str:
    where = [f"table {one.table}"] if one.table else []
    where += [f"column {one.column}"] if one.column else []
    where += [f"row {one.row}"] if one.row else []
    values = f": {one.there} there, {one.now} now" if one.there or one.now else ""
    return f"{one.file}: {', '.join(where)}: {one.words}{values}"
