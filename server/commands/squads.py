"""The commands squad, against, pair and holes: players beside others."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import click
from sqlalchemy import Connection

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.pair import A_BETTER, B_BETTER
from server.analysis.evidence.tallies import TOTAL
from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE, Baseline
from server.commands import InputError, database, named_player, question_of, refused, squad_named
from server.commands.dataset_answers import dataset_at, named_in, same_baseline, squad_in
from server.commands.options import DATASET, DAY, LEVEL, OneOf
from server.commands.plots import draw, plotted, squad_picture
from server.commands.tables import aligned, counted, interval, signed, wrapped
from server.game.numbers import plain
from server.game.order_of_play import KINDS
from server.questions.competition_lock import refuse_locked
from server.questions.question import Span, everybody
from server.questions.ranked import PARTS
from server.questions.squads import Member, asked_of_many
from server.questions.valued_shots import baseline_by_id
from server.records.validation import InvalidError
from server.reports.against import REFERENCES, SQUAD, AgainstDocument, Asking, against_document, part_words
from server.reports.holes import HolesDocument, holes_document
from server.reports.pair import PairDocument, pair_document
from server.reports.ranks import SquadRanks, ranks_document
from server.store.engine import reading
from server.store.players import Player

if TYPE_CHECKING:
    from server.files.season_dataset.reading import Dataset

Command = Callable[..., None]

_BASELINE = "Id of a baseline, the same for all."


class People(Protocol):
    """Players of a database or of a dataset, asked about together. All raise InputError."""

    @property
    def baseline(self) -> Baseline:
        """What the tallies are against."""

    def named(self, name: str | None) -> Player:
        """The player of that name."""

    def squad(self, name: str | None) -> Sequence[Player]:
        """Those who share with a squad, or everybody."""

    def refuse(self, players: Sequence[Player]) -> None:
        """Refuse while a competition round of one of them is open."""

    def members(self, players: Sequence[Player]) -> list[Member]:
        """The tallies of these players; whose competition round is open has none."""


class Logged(NamedTuple):
    """The players of the database."""

    connection: Connection
    baseline: Baseline

    def named(self, name: str | None) -> Player:
        """The player of that name."""
        return named_player(self.connection, name)

    def squad(self, name: str | None) -> Sequence[Player]:
        """Those who share with a squad, or everybody."""
        return squad_named(self.connection, name)

    def refuse(self, players: Sequence[Player]) -> None:
        """Refuse while a competition round of one of them is open."""
        refuse_locked(self.connection, players)

    def members(self, players: Sequence[Player]) -> list[Member]:
        """The tallies of these players."""
        try:
            return asked_of_many(self.connection, players, self.baseline).members()
        except (LookupError, ValueError) as error:
            raise refused(error) from error


class Exported(NamedTuple):
    """The players of a dataset: what was handed out, as it was then."""

    dataset: Dataset

    @property
    def baseline(self) -> Baseline:
        """The dataset's."""
        return self.dataset.baseline

    def named(self, name: str | None) -> Player:
        """The player of that name."""
        return named_in(self.dataset, name)

    def squad(self, name: str | None) -> Sequence[Player]:
        """Those who shared with a squad, or everybody."""
        return squad_in(self.dataset, name)

    def refuse(self, players: Sequence[Player]) -> None:
        """No dataset was written while a competition round was open."""

    def members(self, players: Sequence[Player]) -> list[Member]:
        """The tallies of these players."""
        return self.dataset.members(players)


class OfMany(NamedTuple):
    """What every command here is asked: which rounds, the chance of the intervals, the baseline."""

    span: Span
    level: float
    baseline: Baseline
    as_json: bool
    dataset: Path | None

    @contextmanager
    def people(self) -> Iterator[People]:
        """Whoever may be asked about: of the database, or of the dataset that was named."""
        if self.dataset is None:
            with database() as engine, reading(engine) as connection:
                yield Logged(connection, self.baseline)
        else:
            with dataset_at(self.dataset) as found:
                same_baseline(found, self.baseline.id)
                yield Exported(found)

    def show(self, document: Any, words: Callable[[Any], str]) -> None:
        """The document for programs or, by `words`, for people."""
        click.echo(json.dumps(document, indent=2) if self.as_json else words(document))


def of_many(command: Command) -> Command:
    """The options that choose rounds of several players, and `--json`; the command gets them as one `OfMany`."""

    @wraps(command)
    def asked(
        from_day: datetime | None,
        to_day: datetime | None,
        kinds: tuple[str, ...],
        level: float,
        baseline: str,
        as_json: bool,
        dataset: Path | None,
        **own: Any,
    ) -> None:
        span = question_of(from_day, to_day, kinds).spans[0]
        try:
            table = baseline_by_id(baseline)
        except (LookupError, ValueError) as error:
            raise refused(error) from error
        command(OfMany(span, level, table, as_json, dataset), **own)

    options = (
        click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD."),
        click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD."),
        click.option("--kind", "kinds", type=OneOf(KINDS), multiple=True, help="Kind of round; may be repeated."),
        click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals."),
        click.option("--baseline", default=DEFAULT_BASELINE, show_default=True, help=_BASELINE),
        DATASET,
        click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers."),
    )
    for option in reversed(options):
        asked = option(asked)
    return asked


@click.command("squad")
@click.option("--by", type=OneOf(PARTS), default=TOTAL, show_default=True, help="All strokes, or those of a category.")
@click.option("--squad", "named", help="Those who share with this squad; default: everybody.")
@plotted
@of_many
def squad(
    asked: OfMany,
    by: str,
    named: str | None,
    plot: Path | None,
) -> None:
    """Players in order, with the chance of each rank.

    By strokes gained, adjusted for courses.
    """
    with asked.people() as people:
        found = people.members(people.squad(named))
    document = ranks_document(found, people.baseline, by, asked.level, asked.span)
    if plot:
        draw(squad_picture(document), plot)
    asked.show(document, squad_text)


@click.command("against")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--reference", type=OneOf(REFERENCES), default=SQUAD, show_default=True, help="Compared with whom.")
@click.option("--squad", "named", help="Compared with those who share with this squad; default: everybody.")
@of_many
def against(
    asked: OfMany,
    player: str | None,
    reference: str,
    named: str | None,
) -> None:
    """Compare a player with the other players.

    With the rest of the squad or the field, adjusted for courses, in all strokes and by category.
    """
    with asked.people() as people:
        mine = people.named(player)
        people.refuse([mine])
        others = [one for one in people.squad(named) if one.player_id != mine.player_id]
        found = people.members([mine, *others])
    asking: Asking = {
        "reference": reference,
        "baseline": people.baseline,
        "level": asked.level,
        "span": asked.span,
    }
    asked.show(against_document(found[0], found[1:], asking, everybody), against_text)


@click.command("pair")
@click.option("--player", required=True, help="One of the two.")
@click.option("--other", required=True, help="The other one.")
@of_many
def pair(
    asked: OfMany,
    player: str,
    other: str,
) -> None:
    """Two players side by side.

    Adjusted for courses and days, with the chance that one is better.
    """
    with asked.people() as people:
        a = people.named(player)
        try:
            b = people.named(other)
        except InputError as error:
            raise InputError(error.message.replace("--player", "--other")) from error
        if a == b:
            raise InputError(f"--other: {other!r} is the same player")
        people.refuse([a, b])
        both = people.members([a, b])
    asked.show(pair_document(both[0], both[1], people.baseline, asked.level, asked.span), pair_text)


@click.command("holes")
@click.option("--course", help="Which course; without it the courses are listed.")
@click.option("--player", help="One player's rounds alone.")
@click.option("--squad", "named", help="Those who share with this squad; default: everybody.")
@of_many
def holes(
    asked: OfMany,
    course: str | None,
    player: str | None,
    named: str | None,
) -> None:
    """How hard each hole of a course is.

    By category too, adjusted for who played it when.
    """
    if player is not None and named is not None:
        raise InputError("--player: is one player's rounds alone; leave out --squad")
    with asked.people() as people:
        whose = people.squad(named) if player is None else [people.named(player)]
        if player is not None:
            people.refuse(whose)
        found = people.members(whose)
    try:
        document = holes_document(found, people.baseline, asked.level, asked.span, course)
    except InvalidError as error:
        raise InputError(f"--{error.faults[0]}") from error
    asked.show(document, holes_text)


def squad_text(document: SquadRanks) -> str:
    """A squad as people read it."""
    against_ = f"against {document['baseline']['id']} {document['baseline']['version']}"
    lines = [f"Squad by {document['by'].replace('_', ' ')}, strokes gained a round, {against_}", "", document["words"]]
    rows = [
        [
            row["name"],
            str(row["rounds"]),
            signed(row["mean"], 1),
            signed(row["beside_squad"], 1),
            interval(row["low"], row["high"], 1),
            str(row["rank_low"]) if row["rank_low"] == row["rank_high"] else f"{row['rank_low']} to {row['rank_high']}",
            f"{plain(100 * row['chances'][0], 0)} %",
        ]
        for row in document["players"]
    ]
    if rows:
        titles = ["player", "rounds", "as played", "to the squad", _level(document["level"]), "rank", "first"]
        lines += [
            "",
            aligned(titles, rows),
            "",
            "To the squad: adjusted for courses, pulled towards the squad's mean where rounds are few. Players whose",
            "ranks overlap are not separated, whatever the order of the lines.",
        ]
    lines += [f"Left out: {one['name']}, {one['why']}." for one in document["left_out"]]
    return "\n".join(lines)


def against_text(document: AgainstDocument) -> str:
    """A player beside others as people read it."""
    table = f"against {document['baseline']['id']} {document['baseline']['version']}"
    lines = [f"{document['player']} compared with the {document['reference']}, strokes gained a round, {table}", ""]
    lines += wrapped(document["words"])
    if document["lacking"] is None:
        rows = [
            [
                part_words(one["part"]),
                signed(one["mean"], 2),
                signed(one["difference"], 2),
                interval(one["low"], one["high"], 2),
                one["lacking"] or one["verdict"],
            ]
            for one in document["parts"]
        ]
        lines += ["", aligned(["part", "as played", "to the mean", _level(document["level"]), "verdict"], rows), ""]
        lines += wrapped(
            f"{document['rounds']} rounds compared with {document['rounds_of_others']} of {document['others']} others, "
            f"adjusted for {counted(document['courses'], 'course')}; pulled towards the mean where rounds are few. "
            "Each interval is for its own row."
        )
    lines += [f"Left out: {one['name']}, {one['why']}." for one in document["left_out"]]
    return "\n".join(lines)


def pair_text(document: PairDocument) -> str:
    """Two players side by side as people read it."""
    a, b = document["a"]["name"], document["b"]["name"]
    table = f"against {document['baseline']['id']} {document['baseline']['version']}"
    lines = [*wrapped(f"{a} minus {b}, strokes gained a round, {table}"), "", *wrapped(document["words"])]
    called = {A_BETTER: f"{a} better", B_BETTER: f"{b} better"}
    rows = [
        [
            part_words(one["part"]),
            signed(one["mean_a"], 2),
            signed(one["mean_b"], 2),
            signed(one["difference"], 2),
            interval(one["low"], one["high"], 2),
            interval(one["together_low"], one["together_high"], 2),
            "-" if one["chance_a_better"] is None else f"{plain(100 * one['chance_a_better'], 0)} %",
            called.get(one["verdict"], one["verdict"]),
        ]
        for one in document["parts"]
        if one["lacking"] is None
    ]
    if rows:
        titles = ["part", a, b, "difference", _level(document["level"]), "all rows", f"{a} better", "verdict"]
        lines += ["", aligned(titles, rows), ""]
        lines += wrapped(
            f"As played: {a} in {document['a']['rounds']} rounds, {b} in {document['b']['rounds']}. Difference: "
            f"adjusted for courses and days; courses of both: {', '.join(document['shared_courses']) or 'none'}. "
            f"Better is judged by the intervals of all {len(document['parts'])} rows together: of equal pairs at most "
            f"{plain(100 * (1 - document['level']), 0)} in 100 show a difference."
        )
    lines += [
        f"Not judged: {part_words(one['part'])}, {one['lacking']}."
        for one in document["parts"]
        if rows and one["lacking"] is not None
    ]
    return "\n".join(lines)


def holes_text(document: HolesDocument) -> str:
    """The holes of a course as people read it."""
    lines = [*wrapped(document["words"]), ""]
    if document["course"] is None:
        rows = [[one["course"], str(one["rounds"]), str(one["players"])] for one in document["courses"]]
        lines += [aligned(["course", "rounds", "players"], rows)] if rows else []
    elif document["holes"]:
        level = _level(document["level"])
        titles = ["hole", "par", "times", "a time", level, "beside", level, "verdict"]
        categories = [one["part"] for one in document["holes"][0]["parts"][1:]]
        rows = []
        for hole in document["holes"]:
            total, *parts = hole["parts"]
            rows.append(
                [
                    str(hole["hole"]),
                    str(hole["par"]),
                    str(hole["times"]),
                    signed(total["mean"], 2),
                    interval(total["mean_low"], total["mean_high"], 2),
                    signed(total["beside"], 2),
                    interval(total["low"], total["high"], 2),
                    total["lacking"] or total["verdict"],
                    *(signed(one["beside"], 2) for one in parts),
                ]
            )
        lines += [aligned([*titles, *(name.replace("_", " ") for name in categories)], rows), ""]
        lines += wrapped(
            "A time: strokes gained each time it was played. Beside: more than the mean of the course's holes, each "
            "round's player and day taken out; by category the same. Intervals are of one hole at a time, verdicts "
            "over all holes together."
        )
    lines += [f"Left out: {one['name']}, {one['why']}." for one in document["left_out"]]
    return "\n".join(lines).rstrip()


def _level(level: float) -> str:
    return f"{100 * level:g} % interval"
