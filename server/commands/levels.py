"""The command level: a player's level with courses and days taken out."""

from __future__ import annotations

import json
import textwrap
from datetime import datetime
from typing import Final

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.commands import asked, question_of, snapshot_of
from server.commands.options import DAY, LEVEL, OneOf
from server.commands.tables import aligned, interval, signed
from server.game.order_of_play import KINDS
from server.reports.level import LevelDocument, level_document

WIDTH: Final = 100
"""Columns of running text."""


@click.command("level")
@click.option("--player", help="Whose rounds; may be left out while there is one player.")
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option("--kind", "kinds", type=OneOf(KINDS), multiple=True, help="Kind of round; may be repeated.")
@click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def level_(
    player: str | None,
    from_day: datetime | None,
    to_day: datetime | None,
    kinds: tuple[str, ...],
    level: float,
    baseline: str | None,
    as_json: bool,
) -> None:
    """Strokes gained a round on these courses and, lasting, on an average one; what each course adds; the trend."""
    with asked(player, question_of(from_day, to_day, kinds, baseline, level, tees=True)) as put:
        found = snapshot_of(put)
    document = level_document(found.chosen, found.tees)
    click.echo(json.dumps(document, indent=2) if as_json else level_text(document))


def level_text(document: LevelDocument) -> str:
    """A level as people read it."""
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    against = f"against {document['baseline']['id']} {document['baseline']['version']}"
    title = f"{document['player']}: level and form, {days}, {against}"
    lines = [*_wrapped(title), ""]
    if document["empty"]:
        return "\n".join([*lines, document["empty"]])
    lines += [*_wrapped(document["words"]), ""]
    if document["courses"]:
        rows = [
            [row["course"], str(row["rounds"]), signed(row["effect"], 1), interval(row["low"], row["high"], 1)]
            for row in document["courses"]
        ]
        titles = ["course", "rounds", "adds a round", f"{100 * document['level']:g} % interval"]
        lines += [aligned(titles, rows), ""]
    return "\n".join([*lines, *_wrapped(document["trend"]["words"])])


def _wrapped(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, break_on_hyphens=False)
