"""The command strikes: what the player noted of shots, and what each costs."""

from __future__ import annotations

import json
from datetime import datetime

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL, TOO_FEW
from server.analysis.patterns.rows import Cost, FigureRow, RecordedClub, RecordedField
from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.options import DAY, LEVEL
from server.commands.tables import aligned, counted, interval, signed, wrapped
from server.game.numbers import plain
from server.reports.strikes import StrikesDocument, strikes_document


@click.command()
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--club", help="One club by its label; default: all clubs.")
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option("--course", help="Rounds on this course alone.")
@click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def strikes(
    player: str | None,
    club: str | None,
    from_day: datetime | None,
    to_day: datetime | None,
    course: str | None,
    level: float,
    baseline: str | None,
    as_json: bool,
) -> None:
    """How often each strike, planned height and shape comes.

    And what each costs in yards and strokes.
    """
    with asked(player, question_of(from_day, to_day, baseline=baseline, level=level, course=course)) as put:
        chosen = snapshot_of(put).chosen
    try:
        document = strikes_document(chosen, club=club)
    except LookupError as error:
        raise InputError(f"--club: {error.args[0]}") from error
    click.echo(json.dumps(document, indent=2) if as_json else strikes_text(document))


def strikes_text(document: StrikesDocument) -> str:
    """The document as people read it: a table a club, what it rests on below."""
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    against = f"{document['baseline']['id']} {document['baseline']['version']}"
    title = f"{document['player']}: details recorded of shots, {days}, against {against}"
    if document["empty"]:
        return f"{title}\n\n{document['empty']}"
    parts = [title, ""]
    for club in document["clubs"]:
        parts += [_table(club, f"{100 * document['level']:g} %"), ""]
    if not document["clubs"]:
        parts += ["No strike, planned height or planned shape recorded in these rounds.", ""]
    recorded = ", ".join(
        f"{_words(one['field'])} {one['told']} of {counted(one['told'] + one['not_told'], 'shot')}"
        for one in document["told"]
    )
    notes = [
        f"Recorded: {recorded}; other shots do not count here.",
        "Share: of the shots with it recorded. Yards: full swings, a strike minus clean ones (centre), a height or a "
        "shape minus the others. Strokes: gained a shot, minus the club's other shots with it recorded. "
        "Both from the same lie and distance; below zero it costs.",
        document["caution"],
    ]
    return "\n".join([*parts, *(line for note in notes for line in wrapped(note))])


def _words(field: str) -> str:
    return field.replace("_", " ")


def _table(club: RecordedClub, level: str) -> str:
    titles = [club["club"], "shots", "share %", "yards", level, "strokes", level]
    rows = [row for field in club["fields"] for row in _rows(field)]
    return aligned(titles, rows)


def _rows(field: RecordedField) -> list[list[str]]:
    return [
        [
            f"{_words(field['field'])}: {value['value']}",
            str(value["shots"]),
            _share(value["share"]),
            *(("-", "-") if value["yards"] is None else _cost(value["yards"], 1)),
            *_cost(value["strokes"], 3),
        ]
        for value in field["values"]
    ]


def _share(share: FigureRow) -> str:
    value, low, high = share["value"], share["low"], share["high"]
    if value is None:
        return "-"
    words = plain(100 * value, 0)
    return words if low is None or high is None else f"{words} ({plain(100 * low, 0)}-{plain(100 * high, 0)})"


def _cost(cost: Cost, digits: int) -> tuple[str, str]:
    if cost["lacking"]:
        return "-", TOO_FEW if cost["lacking"].startswith(TOO_FEW) else cost["lacking"]
    return signed(cost["difference"], digits), interval(cost["low"], cost["high"], digits)
