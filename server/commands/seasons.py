"""Commands on shots: import, summary, demo."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.strokes_gained.summaries import BALLS, GROUPINGS
from server.commands import InputError, database, named_player, question_of, snapshot_of, squad_named
from server.commands.options import DAY, LEVEL, FilePlace, OneOf
from server.commands.plots import draw, plotted, summary_picture
from server.commands.progress import progress
from server.commands.table_options import reading_options, table_errors
from server.commands.tables import counted, summary_table
from server.files.demo import load_demo, load_squad
from server.files.import_records import Newcomers
from server.files.shots_import import Imported, import_table
from server.files.shots_rows import read_table
from server.files.spreadsheets import Reading
from server.game.order_of_play import KINDS
from server.questions.competition_lock import refuse_locked
from server.questions.question import Asked
from server.records.schemas import PLAYER_UNITS
from server.reports.summary import summary_document
from server.store.engine import reading
from server.store.players import players


@click.command("import")
@click.argument("file", type=FilePlace(exists=True))
@click.option("--player", help="The rows belong to this player; the column player may be missing.")
@click.option("--dry-run", is_flag=True, help="Check and count, store nothing.")
@click.option("--strict", is_flag=True, help="Refuse players, courses and clubs met for the first time.")
@click.option("--left", is_flag=True, help="The new player of the table is left-handed.")
@click.option("--units", type=OneOf(PLAYER_UNITS), help="What new players see lengths in; default: yards.")
@reading_options
def import_(
    file: Path, player: str | None, dry_run: bool, strict: bool, left: bool, units: str | None, reading: Reading
) -> None:
    """Read a shots table (CSV or XLSX): every row or none."""
    newcomers = Newcomers("left" if left else None, units)
    with table_errors(file.name), progress("importing", 2) as advance:
        table = read_table(file, player, reading)
        advance(1)
        with database(create=True) as engine:
            done = import_table(engine, table, dry_run=dry_run, strict=strict, newcomers=newcomers)
        advance(1)
    click.echo(f"read as {done.taken}", err=True)
    _report(done, dry_run)


def _report(done: Imported, dry_run: bool) -> None:
    for words in [*done.notes, *done.made]:
        click.echo(words, err=True)
    if done.kept:
        click.echo(
            f"{done.kept} records were edited after an import of the same rows and are kept as they are", err=True
        )
    verb = "would store" if dry_run else "stored"
    news = f"{verb} {counted(done.changes, 'new or changed record')}" if done.changes else "nothing new"
    click.echo(f"{counted(done.rows, 'shot')} in {counted(done.rounds, 'round')} read; {news}")


@click.command()
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--everyone", is_flag=True, help="One table for each player.")
@click.option("--squad", help="One table for each player who shares with this squad.")
@click.option("--by", type=OneOf(GROUPINGS), default="club", show_default=True)
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option("--kind", "kinds", type=OneOf(KINDS), multiple=True, help="Kind of round; may be repeated.")
@click.option("--course", help="Rounds on this course alone.")
@click.option("--balls", type=OneOf(BALLS), help="Default: all for club and setup, of_record for the rest.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals.")
@plotted
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def summary(
    player: str | None,
    everyone: bool,
    squad: str | None,
    by: str,
    from_day: datetime | None,
    to_day: datetime | None,
    kinds: tuple[str, ...],
    course: str | None,
    balls: str | None,
    baseline: str | None,
    level: float,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Strokes gained by club, category, lie, distance band, hole of a course, course, round, month or setup."""
    question = replace(question_of(from_day, to_day, kinds, baseline, level, course=course), beside=True)
    documents = []
    with database() as engine, reading(engine) as connection:
        several = everyone or squad is not None
        if several and plot:
            raise InputError("--plot: is a picture of one player; leave out --everyone and --squad")
        whose = squad_named(connection, squad) if several else [named_player(connection, player)]
        refuse_locked(connection, whose)
        for found in whose:
            snapshot = snapshot_of(Asked(connection, found, question))
            documents.append(summary_document(snapshot.chosen, by, balls=balls, beside=snapshot.beside))
    if plot:
        draw(summary_picture(documents[0]), plot)
    if as_json:
        click.echo(json.dumps(documents if several else documents[0], indent=2))
    else:
        click.echo("\n\n".join(summary_table(document) for document in documents))


@click.command()
@click.option("--if-empty", is_flag=True, help="Do nothing when the database already has a player.")
@click.option("--squad", is_flag=True, help="Also the five players of an invented squad, with shorter seasons.")
def demo(if_empty: bool, squad: bool) -> None:
    """Load the invented demo season, and with --squad a squad around its player."""
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
