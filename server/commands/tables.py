"""Aligned tables for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.analysis.evidence.round_lengths import LEAST_HOLES
from server.analysis.strokes_gained.summaries import COURSE
from server.analysis.strokes_gained.summary_intervals import HOLE
from server.game import numbers
from server.reports.summary import SummaryDocument

WIDTH: Final = 110
"""Columns of a sentence under a table."""
TEXT_WIDTH: Final = 100
"""Columns of running text."""


def wrapped(words: str, width: int = TEXT_WIDTH, indent: str = "") -> list[str]:
    """Running text in lines; those after the first begin with `indent`."""
    return textwrap.wrap(words, width, break_on_hyphens=False, subsequent_indent=indent)


def aligned(titles: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table: the first column to the left, the others to the right, a line below the titles."""
    widths = [max(len(row[place]) for row in [titles, *rows]) for place in range(len(titles))]

    def line(cells: Sequence[str]) -> str:
        padded = [
            cell.ljust(width) if place == 0 else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ]
        return "  ".join(padded).rstrip()

    return "\n".join([line(titles), "  ".join("-" * width for width in widths), *map(line, rows)])


def signed(number: float | None, digits: int) -> str:
    """A gain or loss with its sign; a dash when there is none."""
    return "-" if number is None else numbers.signed(number, digits)


def counted(number: int, thing: str) -> str:
    """A count with its noun."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def short_rounds(count: int) -> str:
    """How many rounds stand in no figure a round, and why."""
    verb = "is" if count == 1 else "are"
    return f"{counted(count, 'round')} with fewer than {LEAST_HOLES} holes with a value {verb} in no figure a round"


def interval(low: float | None, high: float | None, digits: int) -> str:
    """An interval with signs; a dash when there is none."""
    return "-" if low is None or high is None else f"{signed(low, digits)} to {signed(high, digits)}"


def summary_table(document: SummaryDocument) -> str:
    """A summary document as an aligned table, its total below, notes under it."""
    by, level = document["by"], f"{100 * document['level']:g} % interval"
    titles = [by, "shots", "rounds", "gained", "per shot", level, "adjusted", "per round", level, "extended"]
    reported: list[Mapping[str, Any]] = [*document["rows"], {by: "total", **document["total"]}]
    rows = [
        [
            _named(row, by),
            str(row["shots"]),
            str(row["rounds"]),
            signed(row["strokes_gained"], 2),
            signed(row["per_shot"], 3),
            row["too_few"] or interval(row["per_shot_low"], row["per_shot_high"], 3),
            _give_or_take(row.get("shrunk"), row.get("shrunk_low"), row.get("shrunk_high")),
            signed(row["per_round"], 2),
            interval(row["per_round_low"], row["per_round_high"], 2),
            str(row["extended"]),
        ]
        for row in reported
    ]
    days = f"{document['from'] or 'the first day'} to {document['to'] or 'the last'}"
    title = (
        f"{document['player']}: strokes gained by {by}, {days}, "
        f"against {document['baseline']['id']} {document['baseline']['version']}"
    )
    if document["empty"]:
        return "\n".join([title, "", document["empty"]])
    return "\n".join([title, "", aligned(*_without_empty(titles, rows)), *_notes(document)])


def _named(row: Mapping[str, Any], by: str) -> str:
    """The group of a row; a hole with its course, without which its number means nothing."""
    words = str(row[by]).replace("_", " ")
    return f"{row[COURSE]}, {words}" if by == HOLE and COURSE in row else words


def _give_or_take(value: float | None, low: float | None, high: float | None) -> str:
    """A value with half of its interval, which lies evenly about it."""
    words = signed(value, 3)
    return words if low is None or high is None else f"{words} +- {(high - low) / 2:.3f}"


def _without_empty(titles: list[str], rows: list[list[str]]) -> tuple[list[str], list[list[str]]]:
    """The same without the columns in which every cell is a dash."""
    kept = [place for place in range(len(titles)) if any(row[place] != "-" for row in rows)]
    return [titles[place] for place in kept], [[row[place] for place in kept] for row in rows]


def _notes(document: SummaryDocument) -> list[str]:
    total, beside, notes = document["total"], document["beside"], [""]
    if document["trend"]:
        notes.append(document["trend"]["words"])
    if beside:
        notes += wrapped(beside["words"], WIDTH)
    for words in document["lengths"]["words"] if document["lengths"] else []:
        notes += wrapped(words, WIDTH)
    extra = total["extra_balls"]
    if extra["shots"]:
        record = total["of_record"]
        notes.append(
            f"ball 1 {signed(record['strokes_gained'], 2)} ({counted(record['shots'], 'shot')}), "
            f"extra balls {signed(extra['strokes_gained'], 2)} ({counted(extra['shots'], 'shot')}); "
            "these never count for a score"
        )
    if total["short_rounds"]:
        notes.append(short_rounds(total["short_rounds"]))
    if total["extended"]:
        notes.append(f"extended: {counted(total['extended'], 'value')} beyond the baseline's range")
    if total["unvalued"]:
        notes.append(f"{counted(total['unvalued'], 'shot')} without a value, not counted")
    notes += [f"incomplete: {hole['round']}, hole {hole['hole']}: {hole['reason']}" for hole in document["incomplete"]]
    return notes if len(notes) > 1 else []
