"""Commands that weigh evidence: trial."""

from __future__ import annotations

import json
import textwrap
from datetime import datetime
from typing import Any

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.trials import MINIMUM_EFFECT
from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.options import DAY, EFFECT_TYPE, LEVEL
from server.commands.tables import aligned, counted, interval, short_rounds, signed
from server.questions.sides import SideError
from server.reports.trial import trial_document

WIDTH = 100
"""Columns of running text."""


@click.command()
@click.option("--a", "a", required=True, help="A club, or a setup such as driver@2026-06-22.")
@click.option("--b", "b", required=True, help="The other club or setup.")
@click.option("--player", help="Whose shots; may be left out while there is one player.")
@click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD.")
@click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD.")
@click.option(
    "--minimum-effect",
    type=EFFECT_TYPE,
    default=MINIMUM_EFFECT,
    show_default=True,
    help="Strokes a shot worth having.",
)
@click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals.")
@click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's.")
@click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers.")
def trial(
    a: str,
    b: str,
    player: str | None,
    from_day: datetime | None,
    to_day: datetime | None,
    minimum_effect: float,
    level: float,
    baseline: str | None,
    as_json: bool,
) -> None:
    """Which of two clubs, or of two setups of a club, is better, from like places."""
    with asked(player, question_of(from_day, to_day, baseline=baseline, level=level)) as put:
        found = snapshot_of(put)
    try:
        sides = found.two_sides(a, b)
    except SideError as error:
        raise InputError(f"--{error.field}: {error}") from error
    document = trial_document(found.chosen, sides, minimum_effect=minimum_effect)
    click.echo(json.dumps(document, indent=2) if as_json else trial_text(document))


def trial_text(document: dict[str, Any]) -> str:
    """A trial as people read it: the verdict, what it rests on, and from where."""
    a, b = document["a"]["name"], document["b"]["name"]
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    against = f"against {document['baseline']['id']} {document['baseline']['version']}"
    title = f"{document['player']}: {a} against {b}, {days}, {against}"
    empty = [document["empty"], ""] if document["empty"] else []
    parts = [*_wrapped(title), "", *empty, *_wrapped(document["verdict"]["words"]), ""]
    if document["difference"]:
        parts += [*_difference_lines(document), ""]
    if document["places"]:
        measures = [document[name]["words"] for name in ("length", "playable", "make_rate") if document[name]]
        parts += [*(line for words in measures for line in _wrapped(words)), ""]
        parts += [_places_table(document), ""]
    return "\n".join([*parts, *_wrapped(_used(document))])


def _wrapped(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, break_on_hyphens=False)


def _difference_lines(document: dict[str, Any]) -> list[str]:
    found, level = document["difference"], f"{100 * document['level']:g} % interval"
    ahead, flip = ("a", 1) if found["per_shot"] > 0 else ("b", -1)
    low, high = ("low", "high") if flip == 1 else ("high", "low")
    chance = document[f"chance_{ahead}_better"]
    sure = "above 99" if chance > 0.99 else f"{100 * chance:.0f}"
    rows = [
        (
            f"{document[ahead]['name']}, strokes gained a shot",
            signed(flip * found["per_shot"], 3),
            interval(flip * found[low], flip * found[high], 3),
        ),
        (
            f"over a typical round ({found['shots_a_round']:.1f} shots with either)",
            signed(flip * found["per_round"], 2),
            interval(flip * found[f"per_round_{low}"], flip * found[f"per_round_{high}"], 2),
        ),
        ("chance that it is better", f"{sure} %", ""),
    ]
    return [aligned(["difference from like places", "", level], rows)]


def _places_table(document: dict[str, Any]) -> str:
    a, b = document["a"]["name"], document["b"]["name"]
    rows = [
        [
            f"{place['lie']}, {place['distance']}",
            str(place["shots_a"]),
            signed(place["mean_a"], 2),
            str(place["shots_b"]),
            signed(place["mean_b"], 2),
            f"{100 * place['weight']:.0f} %",
        ]
        for place in document["places"]
    ]
    return aligned(["like places", a, "a shot", b, "a shot", "weight"], rows)


def _used(document: dict[str, Any]) -> str:
    sides = [
        f"{side['matched_shots']} of {counted(side['shots'], 'shot')} with {side['name']}"
        for side in (document["a"], document["b"])
    ]
    rounds = counted(document["rounds"], "round")
    if document["short_rounds"]:
        rounds += f" (beside them {short_rounds(document['short_rounds'])})"
    return f"From like places: {' and '.join(sides)}, in {rounds}."
