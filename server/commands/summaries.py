"""The command summary: strokes gained of a player's shots."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.strokes_gained.summaries import BALLS, GROUPINGS
from server.commands import InputError, database, named_player, question_of, snapshot_of, squad_named
from server.commands.options import DATASET, DAY, LEVEL, OneOf
from server.commands.plots import draw, plotted, summary_picture
from server.commands.tables import summary_table
from server.game.order_of_play import KINDS
from server.questions.competition_lock import refuse_locked
from server.questions.question import Asked
from server.reports.summary import summary_document
from server.store.engine import reading


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
@DATASET
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
    dataset: Path | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Strokes gained by club, category, lie and so on.

    Also by distance band, hole of a course, course, round, month or setup.
    """
    question = replace(question_of(from_day, to_day, kinds, baseline, level, course=course), beside=True)
    documents = []
    several = everyone or squad is not None
    if several and plot:
        raise InputError("--plot: draws one player; leave out --everyone and --squad")
    if dataset is not None:
        from server.commands.dataset_answers import summaries_in  # noqa: PLC0415 - most summaries ask a database

        documents = summaries_in(dataset, question, player, squad, by, balls, several=several)
    else:
        with database() as engine, reading(engine) as connection:
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
