"""Commands that bring shots in: import, demo."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from server.commands import database
from server.commands.options import FilePlace, OneOf
from server.commands.progress import stages
from server.commands.table_options import reading_options, table_errors
from server.commands.tables import counted
from server.files.demo import load_demo, load_squad
from server.files.import_records import Newcomers
from server.files.shots_import import Taking
from server.files.shots_rounds import Imported
from server.files.shots_stream import import_files, tables_in
from server.files.spreadsheets import Reading
from server.records.schemas import PLAYER_UNITS
from server.store.engine import reading
from server.store.players import players

MOST_NAMES_SHOWN: Final = 40
"""Names met for the first time that are listed one by one; more are counted by their sort."""


@click.command("import")
@click.argument("file", nargs=-1, required=True, type=FilePlace(exists=True, either=True), metavar="FILE...")
@click.option("--player", help="The rows belong to this player; the column player may be missing.")
@click.option("--dry-run", is_flag=True, help="Check and count, store nothing.")
@click.option("--strict", is_flag=True, help="Refuse players, courses and clubs met for the first time.")
@click.option("--left", is_flag=True, help="The new player of the table is left-handed.")
@click.option("--units", type=OneOf(PLAYER_UNITS), help="What new players see lengths in; default: yards.")
@reading_options
def import_(
    file: tuple[Path, ...],
    player: str | None,
    dry_run: bool,
    strict: bool,
    left: bool,
    units: str | None,
    reading: Reading,
) -> None:
    """Read shots tables: CSV, XLSX or Parquet.

    A FILE may be a folder of tables. Every row of all of them is stored, or none.
    """
    taking = Taking(strict, newcomers=Newcomers("left" if left else None, units))
    with table_errors(file[0].name if len(file) == 1 else f"{len(file)} files"), stages() as report:
        tables = tables_in(file)
        with database(create=True) as engine:
            done = import_files(
                engine, tables, player=player, how=reading, taking=taking, dry_run=dry_run, progress=report
            )
    click.echo(f"read as {done.taken}", err=True)
    _report(done, dry_run)


def _report(done: Imported, dry_run: bool) -> None:
    made = done.made if done.news.total <= MOST_NAMES_SHOWN else done.news.words
    for words in [*done.notes, *made]:
        click.echo(words, err=True)
    if done.kept:
        click.echo(
            f"{done.kept} records were edited after an import of the same rows and are kept as they are", err=True
        )
    verb = "would store" if dry_run else "stored"
    news = f"{verb} {counted(done.changes, 'new or changed record')}" if done.changes else "nothing new"
    click.echo(f"{counted(done.rows, 'shot')} in {counted(done.rounds, 'round')} read; {news}")


@click.command()
@click.option("--if-empty", is_flag=True, help="Do nothing when the database already has a player.")
@click.option("--squad", is_flag=True, help="Also the five players of an invented squad, with shorter seasons.")
def demo(if_empty: bool, squad: bool) -> None:
    """Load the invented demo season.

    With --squad also a squad around its player.
    """
    with database(create=True) as engine:
        with reading(engine) as connection:
            held = bool(players(connection))
        if held and if_empty:
            click.echo("the database already has rounds; the demo season was not loaded", err=True)
            return
        click.echo("loading the invented demo season ...", err=True)
        _report(load_demo(engine), False)
        if squad:
            click.echo("loading the invented squad ...", err=True)
            done = load_squad(engine)
            rows, rounds = sum(one.rows for one in done), sum(one.rounds for one in done)
            news = sum(one.changes for one in done)
            stored = f"stored {counted(news, 'new or changed record')}" if news else "nothing new"
            click.echo(f"{counted(rows, 'shot')} of {counted(len(done), 'player')} in {rounds} rounds read; {stored}")
