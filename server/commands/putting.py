"""Commands: putting, part-swings, priorities."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

import click

from server.analysis.patterns.rows import PartSwingRow
from server.analysis.putting.rows import FirstPuttBand, LeftBand, PuttBand
from server.analysis.strokes_gained.rows import SummaryRow
from server.commands import InputError, asked, question_of, snapshot_of
from server.commands.options import choosing, sourced
from server.commands.tables import aligned, interval, short_rounds, signed, wrapped
from server.game.numbers import plain
from server.game.practice import COURSE
from server.questions.question import Chosen
from server.reports.heading import Heading
from server.reports.putting import (
    PartSwingsDocument,
    PrioritiesDocument,
    PutterPairError,
    PuttingDocument,
    part_swings_document,
    priorities_document,
    putting_document,
)


@click.command()
@click.option("--club", help="One putter by its label; default: all putts.")
@click.option("--against", help="Another putter to compare it with.")
@sourced
@choosing
def putting(club: str | None, against: str | None, as_json: bool, **choice: Any) -> None:
    """Putts holed by length, three putts, what misses leave.

    Strokes gained too, and two putters compared.
    """
    chosen = chosen_by(**choice)
    try:
        document = putting_document(chosen, club, against)
    except LookupError as error:
        option = "--club" if club is not None and club not in chosen.clubs else "--against"
        raise InputError(f"{option}: {error.args[0]}") from error
    except PutterPairError as error:
        raise InputError(f"--against: {error}") from error
    click.echo(json.dumps(document, indent=2) if as_json else putting_text(document))


@click.command("part-swings")
@click.option("--club", help="One club by its label; default: all.")
@sourced
@choosing
def part_swings_(club: str | None, as_json: bool, **choice: Any) -> None:
    """Whether part swings go the intended distance.

    Bias and spread by how much is taken off, and by club.
    """
    try:
        document = part_swings_document(chosen_by(**choice), club)
    except LookupError as error:
        raise InputError(f"--club: {error.args[0]}") from error
    click.echo(json.dumps(document, indent=2) if as_json else part_swings_text(document))


@click.command("priorities")
@choosing
def priorities_(as_json: bool, **choice: Any) -> None:
    """At most three parts of the game that lose strokes.

    Those that lose them beyond chance, with intervals and the next step.
    """
    document = priorities_document(chosen_by(**choice))
    click.echo(json.dumps(document, indent=2) if as_json else priorities_text(document))


def chosen_by(
    player: str | None,
    from_day: datetime | None,
    to_day: datetime | None,
    kinds: tuple[str, ...],
    course: str | None,
    level: float,
    baseline: str | None,
    source: str = COURSE,
) -> Chosen:
    """The shots that the options choose. InputError for what they cannot choose, or while the player is locked."""
    with asked(player, question_of(from_day, to_day, kinds, baseline, level, course=course, source=source)) as put:
        return snapshot_of(put).chosen


def _wrapped(words: str) -> list[str]:
    return wrapped(words, indent="  ")


def titled(document: Heading, what: str, club: str | None = None) -> list[str]:
    """The first lines of a text: whose, what, from which days, against what."""
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    having = f" with {club}" if club else ""
    against = f"against {document['baseline']['id']} {document['baseline']['version']}"
    empty = [document["empty"], ""] if document["empty"] else []
    return [*_wrapped(f"{document['player']}: {what}{having}, {days}, {against}"), "", *empty]


def _percent(share: float | None) -> str:
    return "-" if share is None else plain(100 * share, 0)


def putting_text(document: PuttingDocument) -> str:
    """A putting document as people read it."""
    words = [line for sentence in document["words"] for line in _wrapped(sentence)]
    lines = [*titled(document, "putting", document["club"]), *words, ""]
    level = f"{100 * document['level']:g} % interval"
    if document["curve"]:
        rows = [
            [
                f"{row['feet']} ft",
                _percent(row["rate"]),
                f"{_percent(row['low'])} to {_percent(row['high'])}",
                _percent(row["tour"]),
                str(row["putts_near"]),
            ]
            for row in document["curve"]
        ]
        lines += [aligned(["from", "holed of 100", level, "tour", "putts near"], rows), ""]
    left = {row["band"]: row for row in document["speed"]["bands"]}
    firsts = {row["band"]: row for row in document["first_putts"]["bands"]}
    gained = {row["distance"]: row for row in document["gained"]["rows"]}
    if document["bands"]:
        titles = ["length", "putts", "fell", "tour", "gained a round", level, "first putts", "misses leave (ft)"]
        rows = [
            _band_row(band, gained.get(band["band"]), firsts.get(band["band"]), left.get(band["band"]))
            for band in document["bands"]
        ]
        lines += [aligned(titles, rows)]
    return "\n".join(lines).rstrip()


def _band_row(
    band: PuttBand, gained: SummaryRow | None, firsts: FirstPuttBand | None, left: LeftBand | None
) -> list[str]:
    median = None if left is None else left["median_ft"]
    reported = "-" if gained is None else gained["too_few"]
    return [
        band["band"],
        str(band["putts"]),
        f"{_percent(band['share'])} %",
        f"{_percent(band['tour'])} %",
        signed(None if gained is None else gained["per_round"], 2),
        reported or ("-" if gained is None else interval(gained["per_round_low"], gained["per_round_high"], 2)),
        f"{_percent(0.0 if firsts is None else firsts['share'])} %",
        "-" if median is None else f"{median:.1f}",
    ]


def part_swings_text(document: PartSwingsDocument) -> str:
    """A document of part swings as people read it."""
    lines = titled(document, "part swings", document["club"])
    lines += [*_wrapped(document["total"]["words"]), ""]
    if document["not_measured"]:
        words = (
            f"{document['not_measured']} of {document['shots']} part swings have no recorded finish and are left out."
        )
        lines += [*_wrapped(words), ""]
    bands = [_swing_row(band["taken_off"], band) for band in document["bands"]]
    clubs = [_swing_row(club["club"], club) for club in document["clubs"]]
    for title, rows in (("taken off", bands), ("club", clubs)):
        if rows:
            titles = [title, "shots", "rounds", "target", "lean", f"{100 * document['level']:g} % interval", "spread"]
            lines += [aligned([*titles, "half within"], rows), ""]
    return "\n".join([*lines, "Yards; long is +. Spread is the standard deviation of the length."])


def _swing_row(name: str, row: PartSwingRow) -> list[str]:
    counts = [name, str(row["shots"]), str(row["rounds"])]
    if row["lacking"]:
        return [*counts, "-", "-", "not enough data", "-", "-"]
    return [
        *counts,
        _yards(row["target_yd"], 0),
        signed(row["bias_yd"], 1),
        interval(row["low"], row["high"], 1),
        _yards(row["spread_yd"], 1),
        _yards(row["half_within_yd"], 0),
    ]


def _yards(number: float | None, digits: int) -> str:
    return "-" if number is None else f"{number:.{digits}f}"


def priorities_text(document: PrioritiesDocument) -> str:
    """Priorities as people read them."""
    lines = [*titled(document, "priorities"), *_wrapped(document["words"])]
    for number, found in enumerate(document["priorities"], start=1):
        lines += ["", *_wrapped(f"{number}. {found['words']}")]
    if document["courses"]:
        lines += ["", *_wrapped(document["courses"])]
    if document["short_rounds"]:
        lines += ["", short_rounds(document["short_rounds"])]
    return "\n".join(lines)
