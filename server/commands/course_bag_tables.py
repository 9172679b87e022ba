"""The bag for a course as a table for the terminal."""

from __future__ import annotations

import textwrap
from typing import Final

from server.commands.tables import aligned, signed
from server.reports.course_bag_rows import BagClub, BagFigure, CourseBagDocument

WIDTH: Final = 118
MOST_HOLES: Final = 8
"""So many holes are named, more are counted."""


def course_bag_table(document: CourseBagDocument) -> str:
    """The answer, a row a club, the what-ifs, and what is not counted."""
    expected = document["expected"]
    title = (
        f"{document['player']}, {document['course']} from the {document['tees']} tees: expects "
        f"{expected['strokes']:.1f} ({expected['low']:.1f} to {expected['high']:.1f}) over {len(document['holes'])} "
        "holes with this bag"
    )
    longer = f"{document['longer_yd']:g} yd longer"
    titles = ["club", "worth", "", "shots", "holes", longer, "a tenth tighter"]
    rows = [_row(club) for club in document["clubs"]]
    notes = [
        *([document["wedge"]["words"]] if document["wedge"] else []),
        document["putting"]["words"],
        *(_home(club) for club in document["clubs"] if club["instead"] is not None),
        *(f"{entry['name']} is not compared: {entry['reason']}" for entry in document["left_out"]),
        *([f"Holes without a map: {_numbers(document['unmapped'])}"] if document["unmapped"] else []),
        "",
        "worth: strokes a round lost without the club; longer, tighter: strokes a round saved; in brackets 90 %",
        *document["notes"],
        "",
        document["caution"],
    ]
    return "\n".join([*_wrapped(document["words"]), "", title, "", aligned(titles, rows), "", *_wrapped(notes)])


def _row(club: BagClub) -> list[str]:
    worth = club["worth"]
    home = "" if club["carried"] else "at home: "
    return [
        club["club"],
        _figure(worth),
        home + ("the only one" if worth is None else worth["verdict"]),
        f"{club['shots']:.1f}",
        _numbers(club["holes"]),
        _figure(club["longer"]),
        _figure(club["tighter"]),
    ]


def _home(club: BagClub) -> str:
    swap = club["instead"]
    assert swap is not None
    costs = swap["costs"]
    return f"{club['club']} in place of the {swap['club']}: costs {_figure(costs)}: {costs['verdict']}"


def _figure(figure: BagFigure | None) -> str:
    if figure is None:
        return "-"
    return f"{signed(figure['strokes'], 2)} ({signed(figure['low'], 2)} to {signed(figure['high'], 2)})"


def _numbers(holes: list[int]) -> str:
    if not holes:
        return "-"
    return ", ".join(str(hole) for hole in holes) if len(holes) <= MOST_HOLES else f"{len(holes)} holes"


def _wrapped(notes: list[str]) -> list[str]:
    return [textwrap.fill(note, WIDTH, subsequent_indent="  ") if note else "" for note in notes]
