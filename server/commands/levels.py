"""The command level: a player's level adjusted for courses and days."""

from __future__ import annotations

import json
from datetime import datetime

import click

from server.commands import asked, question_of, snapshot_of
from server.commands.options import choosing
from server.commands.tables import aligned, interval, signed, wrapped
from server.reports.level import LevelDocument, level_document


@click.command("level")
@choosing
def level_(
    player: str | None,
    from_day: datetime | None,
    to_day: datetime | None,
    kinds: tuple[str, ...],
    course: str | None,
    level: float,
    baseline: str | None,
    as_json: bool,
) -> None:
    """Strokes gained a round, here and on an average course.

    What each course adds, and the trend.
    """
    with asked(player, question_of(from_day, to_day, kinds, baseline, level, tees=True, course=course)) as put:
        found = snapshot_of(put)
    document = level_document(found.chosen, found.tees)
    click.echo(json.dumps(document, indent=2) if as_json else level_text(document))


def level_text(document: LevelDocument) -> str:
    """A level as people read it."""
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    against = f"against {document['baseline']['id']} {document['baseline']['version']}"
    title = f"{document['player']}: level and form, {days}, {against}"
    lines = [*wrapped(title), ""]
    if document["empty"]:
        return "\n".join([*lines, document["empty"]])
    lines += [*wrapped(document["words"]), ""]
    if document["courses"]:
        rows = [
            [row["course"], str(row["rounds"]), signed(row["effect"], 1), interval(row["low"], row["high"], 1)]
            for row in document["courses"]
        ]
        titles = ["course", "rounds", "adds a round", f"{100 * document['level']:g} % interval"]
        lines += [aligned(titles, rows), ""]
    return "\n".join([*lines, *wrapped(document["trend"]["words"])])
