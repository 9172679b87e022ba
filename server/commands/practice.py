"""Commands on practice: how it differs from the course, random targets."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import click

from server.analysis.patterns.rows import FigureRow
from server.commands import InputError, database, named_player
from server.commands.options import DAY, FilePlace, OneOf, WholeNumber, as_day, choosing
from server.commands.putting import chosen_by, titled
from server.commands.table_options import reading_options, table_errors
from server.commands.tables import aligned, counted, interval, signed, wrapped
from server.files.practice_import import import_practice
from server.files.practice_table import read_practice
from server.files.spreadsheets import Reading
from server.game.numbers import plain
from server.game.practice import BOTH, PLACES
from server.game.units import UNITS
from server.reports.practice import (
    LARGEST_SEED,
    MOST_TARGETS,
    PracticeAgainstCourse,
    PracticeTargets,
    practice_against_course,
    practice_targets,
)
from server.store.engine import reading as store_reading

LONGEST_NAME: Final = 120


@click.command("practice")
@click.option("--club", help="One club by its label; default: all.")
@choosing
def practice_(club: str | None, as_json: bool, **choice: Any) -> None:
    """How practice differs from the course.

    Length, direction and its spread by club, make rates by length.
    """
    try:
        document = practice_against_course(chosen_by(**choice, source=BOTH), club)
    except LookupError as error:
        raise InputError(f"--club: {error.args[0]}") from error
    click.echo(json.dumps(document, indent=2) if as_json else practice_text(document))


@click.command("practice-targets")
@click.option(
    "--seed", type=WholeNumber(0, LARGEST_SEED), default=1, show_default=True, help="The same seed, the same targets."
)
@click.option("--count", type=WholeNumber(1, MOST_TARGETS), default=20, show_default=True, help="How many targets.")
@choosing
def practice_targets_(seed: int, count: int, as_json: bool, **choice: Any) -> None:
    """Random targets for a practice session.

    From gaps in the bag and distances that lose strokes.
    """
    document = practice_targets(chosen_by(**choice, source=BOTH), seed, count)
    click.echo(json.dumps(document, indent=2) if as_json else targets_text(document))


@click.command("import-practice")
@click.argument("file", type=FilePlace(exists=True))
@click.option("--player", help="Whose balls; may be left out while there is one player.")
@click.option("--date", "day", type=DAY, help="Day of rows without one, YYYY-MM-DD.")
@click.option("--place", type=OneOf(PLACES), help="Place of rows without one; default: range, of putts putting_green.")
@click.option("--units", type=OneOf(UNITS), help="Unit of rows without one; default: yd, of putts ft.")
@click.option("--dry-run", is_flag=True, help="Check and count, store nothing.")
@reading_options
def import_practice_(
    file: Path,
    player: str | None,
    day: datetime | None,
    place: str | None,
    units: str | None,
    dry_run: bool,
    reading: Reading,
) -> None:
    """Read a table of practice balls: CSV, XLSX or Parquet.

    Balls have club, carry, total, offline and target; putts length, holed and left. Every ball is stored,
    or none.
    """
    with table_errors(file.name), database() as engine:
        with store_reading(engine) as connection:
            whose = named_player(connection, player)
        table = read_practice(file, day=as_day(day), place=place, unit=units, reading=reading)
        done = import_practice(engine, table, whose.player_id, file=file.name[:LONGEST_NAME], dry_run=dry_run)
    click.echo(f"read as {table.taken}", err=True)
    for words in [*done.notes, *done.made]:
        click.echo(words, err=True)
    verb = "would store" if dry_run else "stored"
    news = f"{verb} {counted(done.changes, 'new record')}" if done.changes else "nothing new"
    click.echo(f"{counted(done.rows, 'ball')} in {counted(len(done.sessions), 'session')} read; {news}")


def practice_text(document: PracticeAgainstCourse) -> str:
    """Practice beside the course as people read it."""
    lines = titled(document, "practice less course", document["club"])
    level = f"{100 * document['level']:g} %"
    if document["clubs"]:
        titles = ["club", "shots", "balls", "sessions", "course", "practice", "yards", level, "degrees", level]
        rows = [
            [
                row["club"],
                str(row["shots"]),
                str(row["balls"]),
                str(row["sessions"]),
                _yards(row["course_yd"]),
                _yards(row["practice_yd"]),
                *_figure(row["length_yd"], 0),
                *_figure(row["direction_deg"], 1),
            ]
            for row in document["clubs"]
        ]
        lines += [aligned(titles, rows), ""]
    if document["putting"]["rates"]:
        titles = ["from", "course", "practice", "of 100", level]
        rates = [
            [
                f"{row['feet']} ft",
                plain(100 * row["course"], 0),
                plain(100 * row["practice"], 0),
                signed(100 * row["difference"], 0),
                interval(100 * row["low"], 100 * row["high"], 0),
            ]
            for row in document["putting"]["rates"]
        ]
        lines += [aligned(titles, rates), ""]
    words = [*(row["words"] for row in document["clubs"]), *document["putting"]["words"], document["caution"]]
    return "\n".join([*lines, *(line for sentence in words for line in wrapped(sentence, indent="  "))])


def _yards(figure: FigureRow) -> str:
    return "-" if figure["value"] is None else plain(figure["value"], 0)


def _figure(figure: FigureRow, digits: int) -> list[str]:
    if figure["low"] is None or figure["high"] is None:
        return [signed(figure["value"], digits), "not clear yet"]
    return [signed(figure["value"], digits), interval(figure["low"], figure["high"], digits)]


def targets_text(document: PracticeTargets) -> str:
    """Targets as people read them."""
    lines = titled(document, f"practice targets, seed {document['seed']}")
    if document["lacking"]:
        return "\n".join([*lines, document["lacking"]])
    rows = [[str(row["order"]), str(row["target_yd"]), row["why"]] for row in document["targets"]]
    lines.append(aligned(["ball", "yards", "why"], rows))
    if document["losing"]:
        lines += ["", *wrapped(f"Strokes are lost most from {', '.join(document['losing'])}.")]
    return "\n".join(lines)
