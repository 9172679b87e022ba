"""The command on the bag for a course."""

from __future__ import annotations

import json

import click

from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.course_bag_tables import course_bag_table
from server.commands.options import WholeNumber, Within
from server.commands.plans import mapped_course
from server.commands.progress import share_done
from server.reports.course_bag import LEAST_LONGER_YD, MOST_LONGER_YD, BagAsked, course_bag_document
from server.reports.plan import PlanError
from server.store.frames import clubs_in_use


@click.command("course-bag")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--course", help="The course by its name; may be left out while there is one.")
@click.option("--tees", help="The tees by their name; default: the first.")
@click.option("--hole", "holes", type=WholeNumber(1, 36), multiple=True, help="This hole alone; may be repeated.")
@click.option(
    "--longer",
    "longer_yd",
    type=Within(LEAST_LONGER_YD, MOST_LONGER_YD, "yd"),
    default=5.0,
    show_default=True,
    help="What if a club went so many yards further.",
)
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def course_bag_(
    player: str | None,
    course: str | None,
    tees: str | None,
    holes: tuple[int, ...],
    longer_yd: float,
    baseline: str | None,
    as_json: bool,
) -> None:
    """Which fourteen clubs to carry on a course.

    And what each is worth there. Takes a minute for 18 holes.
    """
    with asked(player, question_of(baseline=baseline)) as put:
        found = snapshot_of(put)
        known, maps = mapped_course(put, course)
        owned = clubs_in_use(put.connection, found.player.player_id)
    with share_done("comparing bags") as tell:
        put_bag = BagAsked(tees, longer_yd, holes or None)
        try:
            document = course_bag_document(
                found.player, found.chosen.valued, found.baseline, known, maps, owned, put_bag, tell
            )
        except PlanError as error:
            raise InputError(f"{error.field}: {error}") from error
    click.echo(json.dumps(document, indent=2) if as_json else course_bag_table(document))
