"""Commands on where the ball goes: patterns, distances, plan."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import datetime
from typing import Any, Final

import click
from sqlalchemy import Connection

from server.analysis.patterns.air import COLDEST_C, HIGHEST_M, LOWEST_M, STRONGEST_WIND_MPH, WARMEST_C, Air
from server.analysis.patterns.club_patterns import SPLITS
from server.analysis.patterns.distances import GAP_YD, OVERLAP
from server.analysis.plan.flight import RUN
from server.analysis.plan.options import bag_of
from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.options import DAY, OneOf, WholeNumber, Within, sourced
from server.commands.plan_tables import distances_table, patterns_table, plan_page, plan_table
from server.commands.progress import progress
from server.game.lies import GREEN, LIES
from server.questions.question import Asked
from server.reports.patterns import distances_document, patterns_document
from server.reports.plan import PlanError, Shot, curves_of, day_of, plan_document
from server.store.hole_maps import course_by_id, hole_map_texts
from server.store.players import Player, courses
from server.store.rows import TeesRow


class Place(click.ParamType[Any]):
    """Two numbers with a comma between them."""

    name = "X,Y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The place as a pair."""
        if isinstance(value, tuple):
            return value
        words = str(value).split(",")
        try:
            place = tuple(float(word) for word in words)
        except ValueError:
            place = ()
        if len(place) != 2 or not all(math.isfinite(one) for one in place):
            self.fail(f"{value!r} is not two numbers with a comma between them, yards", param, ctx)
        return place


PLACE = Place()
GAP = Within(1, 100, "yd")
SHARE = Within(0.01, 0.5)
TEMPERATURE = Within(COLDEST_C, WARMEST_C, "degrees C")
ALTITUDE = Within(LOWEST_M, HIGHEST_M, "m")
WIND = Within(-STRONGEST_WIND_MPH, STRONGEST_WIND_MPH, "mph")


@click.command("patterns")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--club", help="One club by its label; default: all.")
@click.option("--split", type=OneOf(list(SPLITS)), default="club", show_default=True, help="Split by what.")
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option("--course", help="Rounds on this course alone.")
@sourced
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers, ellipses, quantiles.")
def patterns_(
    player: str | None,
    club: str | None,
    split: str,
    from_day: datetime | None,
    to_day: datetime | None,
    course: str | None,
    source: str,
    as_json: bool,
) -> None:
    """Where each club finishes against its target.

    And whether the planned shape comes.
    """
    with asked(player, question_of(from_day, to_day, course=course, source=source)) as put:
        chosen = snapshot_of(put).chosen
    try:
        document = patterns_document(chosen, split=split, club=club)
    except LookupError as error:
        raise InputError(f"--club: {error.args[0]}") from error
    click.echo(json.dumps(document, indent=2) if as_json else patterns_table(document))


@click.command("distances")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option(
    "--gap", type=Within(1, 100, "yd"), default=GAP_YD, show_default=True, help="Flag a step wider than this, yards."
)
@click.option(
    "--overlap", type=Within(0.01, 0.5), default=OVERLAP, show_default=True, help="Flag an overlap above this share."
)
@click.option(
    "--temperature",
    type=Within(COLDEST_C, WARMEST_C, "degrees C"),
    help="Correct for this day's temperature, degrees C.",
)
@click.option("--altitude", type=Within(LOWEST_M, HIGHEST_M, "m"), help="Correct for this course's altitude, m.")
@click.option(
    "--head-wind",
    type=Within(-STRONGEST_WIND_MPH, STRONGEST_WIND_MPH, "mph"),
    help="Correct for wind, mph; a tail wind is negative.",
)
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@sourced
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def distances_(
    player: str | None,
    gap: float,
    overlap: float,
    temperature: float | None,
    altitude: float | None,
    head_wind: float | None,
    from_day: datetime | None,
    to_day: datetime | None,
    source: str,
    as_json: bool,
) -> None:
    """The distance ladder: full swings, gaps and overlaps.

    Corrections for the air are off unless asked for.
    """
    try:
        corrected = not (temperature is None and altitude is None and head_wind is None)
        air = Air(temperature, altitude or 0.0, head_wind or 0.0) if corrected else None
        with asked(player, question_of(from_day, to_day, source=source)) as put:
            chosen = snapshot_of(put).chosen
        document = distances_document(chosen, gap_yd=gap, overlap=overlap, air=air)
    except ValueError as error:
        raise InputError(str(error)) from error
    click.echo(json.dumps(document, indent=2) if as_json else distances_table(document))


def course_id_of(connection: Connection, player: Player, name: str | None) -> str:
    """The id of the course of that name; without a name the only one there is."""
    known = courses(connection, player.player_id)
    if name is None and len(known) == 1:
        return next(iter(known.values()))[0]
    if name is None or name not in known:
        words = "name one course" if name is None else f"{name!r} is not known"
        raise InputError(f"--course: {words}; there is {', '.join(sorted(known)) or 'none yet'}")
    return known[name][0]


DAY_OPTIONS: Final = (
    click.option("--wind", "wind_mph", type=Within(0, STRONGEST_WIND_MPH, "mph"), help="Wind of the day, mph."),
    click.option(
        "--wind-from",
        "wind_from_deg",
        type=Within(-360, 360, "degrees"),
        help="Where it blows from, degrees clockwise from the line of the back tee: 0 against, 90 from the right.",
    ),
    click.option("--firmness", type=OneOf(list(RUN)), help="How firm the ground is."),
    click.option("--temperature", "temperature_c", type=TEMPERATURE, help="Temperature of the day, degrees C."),
    click.option("--altitude", "altitude_m", type=ALTITUDE, help="Altitude of the course, m."),
)


def day_options(command: Callable[..., None]) -> Callable[..., None]:
    """The options for wind, ground and air of the day."""
    for option in reversed(DAY_OPTIONS):
        command = option(command)
    return command


def mapped_course(put: Asked, name: str | None) -> tuple[tuple[str, list[TeesRow]], dict[int, str]]:
    """Name and tees of the course of that name, the only one there is without a name, and its maps: hole -> features as
    text."""
    player = put.player
    course_id = course_id_of(put.connection, player, name)
    known = course_by_id(put.connection, player.player_id, course_id)
    maps = hole_map_texts(put.connection, player.player_id, course_id)
    if known is None or not maps:
        raise InputError("--course: none of its holes has a map yet; `map import FILE` reads one")
    return known, maps


@click.command("plan")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--course", help="The course by its name; may be left out while there is one.")
@click.option("--tees", help="The tees by their name; default: the first.")
@click.option("--hole", type=WholeNumber(1, 36), help="One hole in full; default: a page for all mapped holes.")
@click.option("--from", "start", type=PLACE, help="With --hole: plan from this place of the map, X,Y in yards.")
@click.option("--lie", type=OneOf([lie for lie in LIES if lie != GREEN]), help="The lie there.")
@click.option("--pin", type=PLACE, help="With --hole: where the hole is; default: the middle of the green.")
@click.option("--club", "clubs", multiple=True, help="Plan with this club alone; may be repeated.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@click.option("--ahead", is_flag=True, help="Solve the hole: value the shot by the player's own next shots.")
@day_options
@click.option("--json", "as_json", is_flag=True, help="For programs: every option with its curve over aim.")
def plan_(
    player: str | None,
    course: str | None,
    tees: str | None,
    hole: int | None,
    start: tuple[float, float] | None,
    lie: str | None,
    pin: tuple[float, float] | None,
    clubs: tuple[str, ...],
    baseline: str | None,
    ahead: bool,
    as_json: bool,
    **day: Any,
) -> None:
    """Which club to play and where to aim.

    One hole in full, or a page for the round. Make it before the round.
    """
    if hole is None and (start or lie or pin):
        raise InputError("--hole: name the hole to plan --from, --lie or --pin on")
    with asked(player, question_of(baseline=baseline)) as put:
        found = snapshot_of(put)
        known, maps = mapped_course(put, course)
    valued = found.chosen.valued
    bag = bag_of(valued, found.player.plays)
    curves = curves_of(valued, found.baseline) if ahead else None
    wanted = sorted(maps) if hole is None else [hole]
    documents = []
    with progress("planning", len(wanted), "holes") as advance:
        for number in wanted:
            shot = Shot(number, tees, start, lie, pin, clubs or None, day_of(day))
            try:
                documents.append(plan_document(found.player, bag, found.baseline, known, maps, shot, curves))
            except PlanError as error:
                raise InputError(f"hole {number}: {error.field}: {error}") from error
            advance(1)
    if as_json:
        click.echo(json.dumps(documents if hole is None else documents[0], indent=2))
    else:
        click.echo(plan_page(documents) if hole is None else plan_table(documents[0]))
