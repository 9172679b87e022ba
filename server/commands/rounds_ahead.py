"""The command for the predicted round."""

from __future__ import annotations

import json
from typing import Any, Final

import click

from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.options import WholeNumber
from server.commands.plans import PLACE, day_options, mapped_course
from server.commands.progress import share_done
from server.commands.tables import aligned, signed, wrapped
from server.game.numbers import plain
from server.game.ranges import MOST_HOLES
from server.reports.plan import PlanError, day_of
from server.reports.round_ahead import RoundAsked, round_ahead_document, rounds_checked_document
from server.reports.round_ahead_rows import RoundAheadDocument, RoundsCheckedDocument

BAR: Final = 40


class PinOfHole(click.ParamType[Any]):
    """HOLE:X,Y, yards on the hole's map."""

    name = "HOLE:X,Y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The hole and the place."""
        if isinstance(value, tuple):
            return value
        number, colon, place = str(value).partition(":")
        if not colon or not number.isdecimal() or not 1 <= int(number) <= MOST_HOLES:
            self.fail(f"{value!r} is not a hole, a colon and a place, such as 3:-2,530", param, ctx)
        return int(number), PLACE.convert(place, param, ctx)


@click.command("round-ahead")
@click.option("--player", help="Whose round; may be left out while there is one player.")
@click.option("--course", help="The course by its name; may be left out while there is one.")
@click.option("--tees", help="The tees by their name; default: the first.")
@click.option(
    "--first-hole", type=WholeNumber(1, MOST_HOLES), help="From this hole on, such as 10 for the second nine."
)
@click.option("--last-hole", type=WholeNumber(1, MOST_HOLES), help="Up to this hole.")
@click.option("--pin", "pins", type=PinOfHole(), multiple=True, help="Where the hole is on one green; may be repeated.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@day_options
@click.option("--check", is_flag=True, help="Predict the rounds played there from earlier ones, and compare.")
@click.option("--json", "as_json", is_flag=True, help="For programs: every chance, unrounded.")
def round_ahead(
    player: str | None,
    course: str | None,
    tees: str | None,
    first_hole: int | None,
    last_hole: int | None,
    pins: tuple[tuple[int, tuple[float, float]], ...],
    baseline: str | None,
    check: bool,
    as_json: bool,
    **day: Any,
) -> None:
    """Predict the score of a round.

    The chance of each score, by hole and for the round. Half a minute for 18 holes.
    """
    if check and (pins or any(value is not None for value in day.values())):
        raise InputError("--check: played rounds are predicted for a usual day; leave out pins and the day")
    with asked(player, question_of(baseline=baseline)) as put:
        found = snapshot_of(put)
        known, maps = mapped_course(put, course)
    wanted = RoundAsked(tees, first_hole, last_hole, dict(pins), day_of(day))
    given = found.player, found.chosen.valued, found.baseline, known, maps, wanted
    with share_done("simulating the round") as tell:
        try:
            if check:
                document: Any = rounds_checked_document(*given, progress=tell)
            else:
                document = round_ahead_document(*given, progress=tell)
        except PlanError as error:
            raise InputError(f"{OPTION.get(error.field, error.field)}: {error}") from error
    table = checked_table if check else round_table
    click.echo(json.dumps(document, indent=2) if as_json else table(document))


OPTION: Final = {
    "course_id": "--course",
    "first_hole": "--first-hole",
    "pin": "--pin",
    "tees": "--tees",
    "player": "--player",
}


def round_table(document: RoundAheadDocument) -> str:
    """The predicted round: the sentence, the scores as bars, and a line a hole."""
    most = max(row["chance"] for row in document["scores"])
    bars = [
        [
            str(row["strokes"]),
            f"{100 * row['chance']:.1f}",
            plain(100 * row["at_most"], 0),
            "#" * round(BAR * row["chance"] / most),
        ]
        for row in document["scores"]
        if row["chance"] >= most / BAR
    ]
    holes = [
        [
            str(hole["number"]),
            str(hole["par"]),
            hole["club"],
            f"{hole['mean']:.2f}",
            *(plain(100 * hole[key], 0) for key in ("birdie", "par_chance", "bogey", "double")),
        ]
        for hole in document["holes"]
    ]
    spread = document["spread"]
    day = f", {document['day']['words']}" if document["day"] else ""
    return "\n".join(
        [
            f"{document['player']}, {document['course']}, {document['tees']} tees, par {document['par']}{day}",
            *wrapped(document["words"]),
            "",
            aligned(["score", "%", "% at most", ""], bars),
            "",
            aligned(["hole", "par", "from the tee", "strokes", "birdie %", "par %", "bogey %", "double %"], holes),
            "",
            f"Expected {document['mean']:.1f}; spread {spread['whole']:.1f} strokes: independent holes "
            f"{spread['holes']:.1f}, form of the day {spread['form']:.1f}, uncertainty about the "
            f"player {spread['unknown']:.1f}.",
            *(line for words in document["about"] for line in wrapped(words)),
            *wrapped(document["caution"]),
        ]
    )


def checked_table(document: RoundsCheckedDocument) -> str:
    """The check: what it says, coverage, and a line a round."""
    rows = [
        [
            row["played_on"],
            row["tees"] or "-",
            str(row["holes"]),
            f"{row['mean']:.1f}",
            f"{row['low']}-{row['high']}",
            str(row["score"]),
            f"{row['place']:.2f}",
        ]
        for row in document["rounds"]
    ]
    coverage = [
        [
            plain(100 * row["share"], 0),
            plain(100 * row["observed"], 0),
            f"{plain(100 * row['low'], 0)}-{plain(100 * row['high'], 0)}",
        ]
        for row in document["coverage"]
    ]
    skill = document["skill"]
    scored = (
        []
        if skill is None
        else [
            f"Ranked probability score over {skill['rounds']} rounds, less is better: {skill['model']:.2f} strokes, "
            f"mean and spread of earlier scores alone {skill['naive']:.2f}; difference "
            f"{signed(skill['difference'], 2)}."
        ]
    )
    fifths = ", ".join(f"{count:.1f}" for count in document["fifths"])
    return "\n".join(
        [
            f"{document['player']}, {document['course']}: {document['count']} rounds predicted from earlier ones",
            *wrapped(document["words"]),
            *([] if not rows else ["", aligned(["day", "tees", "holes", "mean", "8 in 10", "score", "place"], rows)]),
            *([] if not rows else ["", aligned(["middle %", "contained %", "by chance %"], coverage), ""]),
            *([] if not rows else [f"Scores in each fifth of their predictions, best first: {fifths}."]),
            *(line for words in scored for line in wrapped(words)),
            *wrapped(document["caution"]),
        ]
    )
