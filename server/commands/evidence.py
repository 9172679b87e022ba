"""Commands that weigh evidence: trial."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.trials import MINIMUM_EFFECT
from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.options import DAY, EFFECT_TYPE, LEVEL, sourced
from server.commands.plots import draw, plotted, trial_picture
from server.commands.tables import aligned, counted, interval, short_rounds, signed, wrapped
from server.game.numbers import plain
from server.questions.sides import SideError
from server.reports.trial import trial_document
from server.reports.trial_rows import TrialDifference, TrialDocument


@click.command()
@click.option("--a", "a", required=True, help="A club, a setup such as driver@2026-06-22, or a ball as ball:NAME.")
@click.option("--b", "b", required=True, help="The other club, setup or ball.")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option("--course", help="Rounds on this course alone.")
@click.option(
    "--minimum-effect",
    type=EFFECT_TYPE,
    default=MINIMUM_EFFECT,
    show_default=True,
    help="Smallest difference that matters, strokes a round.",
)
@click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@sourced
@plotted
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def trial(
    a: str,
    b: str,
    player: str | None,
    from_day: datetime | None,
    to_day: datetime | None,
    course: str | None,
    minimum_effect: float,
    level: float,
    baseline: str | None,
    source: str,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Which of two clubs, setups or balls is better.

    From the same lie and distance.
    """
    with asked(
        player, question_of(from_day, to_day, baseline=baseline, level=level, course=course, source=source)
    ) as put:
        found = snapshot_of(put)
    try:
        sides = found.two_sides(a, b)
    except SideError as error:
        raise InputError(f"--{error.field}: {error}") from error
    document = trial_document(found.chosen, sides, minimum_effect=minimum_effect)
    if plot:
        draw(trial_picture(document), plot)
    click.echo(json.dumps(document, indent=2) if as_json else trial_text(document))


def trial_text(document: TrialDocument) -> str:
    """A trial as people read it: the verdict, what it rests on, and from where."""
    a, b = document["a"]["name"], document["b"]["name"]
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    against = f"against {document['baseline']['id']} {document['baseline']['version']}"
    title = f"{document['player']}: {a} against {b}, {days}, {against}"
    empty = [document["empty"], ""] if document["empty"] else []
    parts = [
        *wrapped(title),
        "",
        *empty,
        *wrapped(document["verdict"]["words"]),
        *wrapped(document["design"]["words"]),
        "",
    ]
    if document["difference"]:
        parts += [*_difference_lines(document, document["difference"]), ""]
    if document["places"]:
        measured = (document["length"], document["playable"], document["make_rate"])
        measures = [one["words"] for one in measured if one]
        parts += [*(line for words in measures for line in wrapped(words)), ""]
        parts += [_places_table(document), ""]
    if document["practice"]:
        parts += [*(line for words in document["practice"]["words"] for line in wrapped(words)), ""]
    return "\n".join([*parts, *wrapped(_used(document))])


def _difference_lines(document: TrialDocument, found: TrialDifference) -> list[str]:
    """The figures from the side of the one in front."""
    leads = found["per_shot"] > 0
    ahead, chance = document["a"]["name"], document["chance_a_better"]
    if not leads:
        ahead, chance = document["b"]["name"], document["chance_b_better"]
    sure = "-" if chance is None else "above 99" if chance > 0.99 else plain(100 * chance, 0)
    shot = (found["per_shot"], found["low"], found["high"], found["always_low"], found["always_high"])
    round_ = (
        found["per_round"], found["per_round_low"], found["per_round_high"],
        found["per_round_always_low"], found["per_round_always_high"],
    )  # fmt: skip
    rows = [
        (f"{ahead}, strokes gained a round ({found['shots_a_round']:.1f} such shots)", *_figures(round_, leads, 2)),
        (f"{ahead}, strokes gained a shot", *_figures(shot, leads, 3)),
        ("chance that it is better", f"{sure} %", "", ""),
    ]
    level = 100 * document["level"]
    once, always = f"{level:g} % interval", f"{50 + level / 2:g} % at every check"
    return [aligned(["difference from the same lie and distance", "", once, always], rows)]


def _figures(figure: tuple[float | None, ...], leads: bool, digits: int) -> tuple[str, str, str]:
    """A figure, its interval and that over all looks, seen from the side in front."""
    value, low, high, always_low, always_high = figure if leads else _turned(figure)
    if value is None or low is None or high is None:
        return "-", "", ""
    always = "" if always_low is None or always_high is None else interval(always_low, always_high, digits)
    return signed(value, digits), interval(low, high, digits), always


def _turned(figure: tuple[float | None, ...]) -> tuple[float | None, ...]:
    value, low, high, always_low, always_high = (None if part is None else -part for part in figure)
    return value, high, low, always_high, always_low


def _places_table(document: TrialDocument) -> str:
    a, b = document["a"]["name"], document["b"]["name"]
    rows = [
        [
            f"{place['lie']}, {place['distance']}{', same spot' if place['paired'] else ''}",
            str(place["shots_a"]),
            signed(place["mean_a"], 2),
            str(place["shots_b"]),
            signed(place["mean_b"], 2),
            f"{plain(100 * place['weight'], 0)} %",
        ]
        for place in document["places"]
    ]
    return aligned(["from", a, "a shot", b, "a shot", "weight"], rows)


def _used(document: TrialDocument) -> str:
    sides = [
        f"{side['matched_shots']} of {counted(side['shots'], 'shot')} with {side['name']}"
        for side in (document["a"], document["b"])
    ]
    rounds = counted(document["rounds"], "round")
    if document["short_rounds"]:
        rounds += f" (not counted: {short_rounds(document['short_rounds'])})"
    return f"From the same lie and distance: {' and '.join(sides)}, in {rounds}."
