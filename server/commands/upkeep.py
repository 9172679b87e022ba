"""Commands that look after the database: backup, restore, check, migrate, partition-log."""

from __future__ import annotations

from pathlib import Path

import click

from server.commands import InputError, database
from server.commands.options import FilePlace, WholeNumber
from server.commands.progress import progress
from server.commands.tables import counted
from server.store.backup import BackupError, alone
from server.store.backup import backup as write_backup
from server.store.backup import restore as read_backup
from server.store.engine import LEAVE, migrate
from server.store.health import table_steps
from server.store.log import retake_quarantined
from server.store.partitioned_log import MOST_PARTS, PartitionError, log_size, partition_log
from server.store.rebuild import check_database

FILE = FilePlace()


@click.command()
@click.argument("file", type=FILE)
def backup(file: Path) -> None:
    """Write the whole database to FILE.

    A running server may go on.
    """
    if not file.parent.is_dir():
        raise InputError(f"file: the folder {file.parent} does not exist")
    with database(older=LEAVE) as engine:
        try:
            write_backup(engine, file)
        except BackupError as error:
            raise InputError(str(error)) from error
    click.echo(f"backup written to {file} ({file.stat().st_size} bytes)")


@click.command()
@click.argument("file", type=FilePlace(exists=True))
def restore(file: Path) -> None:
    """Replace the whole database by the backup FILE.

    Devices send what it lacks when they next connect.
    """
    with database(create=True) as engine:
        try:
            read_backup(engine, file)
        except BackupError as error:
            raise InputError(str(error)) from error
        report = check_database(engine)
    if report.faults:
        raise InputError(f"restored, but {counted(report.faults, 'difference')} found; run check --rebuild")
    click.echo(f"restored from {file}: {counted(report.changes, 'change')}, {counted(report.records, 'record')}")


@click.command()
@click.option("--rebuild", is_flag=True, help="Write anew the records that differ from the log.")
def check(rebuild: bool) -> None:
    """Derive every record from the log again and compare.

    Quarantined changes that can be read now are accepted.
    """
    with database() as engine:
        with progress("checking", unit="changes") as advance:
            report = check_database(engine, rebuild=rebuild, progress=advance)
        taken = retake_quarantined(engine) if rebuild else 0
    for words in report.differences:
        click.echo(words, err=True)
    if report.faults > len(report.differences):
        click.echo(f"... and {report.faults - len(report.differences)} more", err=True)
    if taken:
        click.echo(f"{counted(taken, 'quarantined change')} accepted", err=True)
    summary = f"{counted(report.changes, 'change')}, {counted(report.records, 'record')} checked"
    if not report.faults:
        click.echo(f"{summary}: the records match the log")
    elif rebuild:
        click.echo(f"{summary}: {counted(report.faults, 'difference')} found and rebuilt from the log")
    else:
        raise InputError(f"{summary}: {counted(report.faults, 'difference')}; check --rebuild repairs the records")


@click.command("migrate")
@click.option("--check", "only_check", is_flag=True, help="Change nothing; exit code 1 when there is something to do.")
def migrate_(only_check: bool) -> None:
    """Bring the tables to the newest step.

    Make a backup and stop every server first.
    """
    with database(older=LEAVE) as engine:
        steps = table_steps(engine)
        if steps.up_to_date:
            click.echo(f"the tables are of step {steps.current}, the newest")
            return
        if only_check:
            click.echo(f"the tables are of step {steps.current}, the newest is {steps.newest}: run migrate")
            raise SystemExit(1)
        try:
            with alone(engine):
                migrate(engine)
        except BackupError as error:
            raise InputError(str(error)) from error
    click.echo(f"the tables went from step {steps.current} to {steps.newest}")


@click.command("partition-log")
@click.option("--parts", type=WholeNumber(1, MOST_PARTS), required=True, help="How many; 1 makes it one table again.")
@click.option("--dry-run", is_flag=True, help="Change nothing; print the size of the log and the disk space needed.")
def partition_log_(parts: int, dry_run: bool) -> None:
    """Split the log into parts by players (PostgreSQL).

    For a log that has grown large. All or nothing, and every row is compared. Make a backup and stop
    every server first.
    """
    with database() as engine:
        try:
            size = log_size(engine)
            held = f"{counted(size.changes, 'change')} in {counted(size.parts, 'part')}, {size.held / 1e6:,.1f} MB"
            room = f"needs up to {size.needed / 1e6:,.1f} MB of disk until it is done, and as much of write-ahead log"
            click.echo(f"the log has {held}; this {room}", err=not dry_run)
            if dry_run:
                return
            partition_log(engine, parts)
            size = log_size(engine)
        except (PartitionError, BackupError) as error:
            raise InputError(str(error)) from error
    click.echo(
        f"the log has {counted(size.changes, 'change')} in {counted(size.parts, 'part')}, {size.held / 1e6:,.1f} MB"
    )
