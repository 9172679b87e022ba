"""The command squad: the players in order, with the chance of each rank."""

from __future__ import annotations

import json
from datetime import datetime

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE
from server.commands import database, question_of, refused
from server.commands.options import DAY, LEVEL, OneOf
from server.commands.tables import aligned, interval, signed
from server.questions.question import Asked
from server.questions.valued_shots import baseline_by_id
from server.reports.ranks import PARTS, TOTAL, Entrant, SquadRanks, ranks_document
from server.store.engine import reading
from server.store.players import players


@click.command("squad")
@click.option("--by", type=OneOf(PARTS), default=TOTAL, show_default=True, help="All strokes, or those of a category.")
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals.")
@click.option("--baseline", default=DEFAULT_BASELINE, show_default=True, help="Id of a baseline, the same for all.")
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def squad(
    by: str, from_day: datetime | None, to_day: datetime | None, level: float, baseline: str, as_json: bool
) -> None:
    """All players in order of strokes gained, courses taken out, with the chance of each rank."""
    question = question_of(from_day, to_day, baseline=baseline, level=level)
    with database() as engine, reading(engine) as connection:
        try:
            against = baseline_by_id(baseline)
            found = [Asked(connection, player, question).snapshot(locked_too=True) for player in players(connection)]
        except (LookupError, ValueError) as error:
            raise refused(error) from error
    entrants = [Entrant(one.player, one.valued) for one in found]
    document = ranks_document(entrants, against, by, level)
    click.echo(json.dumps(document, indent=2) if as_json else squad_text(document))


def squad_text(document: SquadRanks) -> str:
    """A squad as people read it."""
    against = f"against {document['baseline']['id']} {document['baseline']['version']}"
    lines = [f"Squad by {document['by'].replace('_', ' ')}, strokes gained a round, {against}", "", document["words"]]
    rows = [
        [
            row["name"],
            str(row["rounds"]),
            signed(row["mean"], 1),
            signed(row["beside_squad"], 1),
            interval(row["low"], row["high"], 1),
            str(row["rank_low"]) if row["rank_low"] == row["rank_high"] else f"{row['rank_low']} to {row['rank_high']}",
            f"{100 * row['chances'][0]:.0f} %",
        ]
        for row in document["players"]
    ]
    if rows:
        level = f"{100 * document['level']:g} % interval"
        titles = ["player", "rounds", "as played", "beside the squad", level, "rank", "first"]
        lines += [
            "",
            aligned(titles, rows),
            "",
            "Beside the squad: courses taken out, drawn towards the squad where rounds are few.",
        ]
    lines += [f"Left out: {one['name']}, {one['why']}." for one in document["left_out"]]
    return "\n".join(lines)
