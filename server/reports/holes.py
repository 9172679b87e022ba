"""How hard the holes of a course are, as a document for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, TypedDict

from server.analysis.evidence.hole_effects import EASIER, HARDER
from server.analysis.evidence.intervals import checked_level
from server.analysis.evidence.rows import HoleEffect
from server.analysis.expected_strokes.baseline import Baseline
from server.questions.holes_played import CoursePlayed, courses_played, holes_played
from server.questions.question import Span
from server.questions.ranked import UnrankedPlayer
from server.questions.squads import Member
from server.records.known_names import known_names
from server.records.validation import Fault, InvalidError, shown
from server.reports.heading import BaselineNamed

NO_ROUND: Final = "no round of nine holes or more there"


class HolesDocument(TypedDict):
    """How hard each hole of a course is for some players. Strokes gained each time a hole is played, unrounded."""

    course: Annotated[str | None, "null: none was asked for, and the answer lists the courses alone"]
    courses: Annotated[list[CoursePlayed], "on which rounds count, the one most played first"]
    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval contains the true figure, one hole at a time"]
    rounds: Annotated[int, "on the course, that count"]
    players: int
    holes: list[HoleEffect]
    left_out: list[UnrankedPlayer]
    words: str


def holes_document(
    members: Sequence[Member], baseline: Baseline, level: float, span: Span, course: str | None
) -> HolesDocument:
    """The holes of one course over the rounds of these players. ValueError for a level outside its range; InvalidError
    for a course that none of them played."""
    checked_level(level)
    courses = courses_played(members, span)
    if course is not None and course not in {one["course"] for one in courses}:
        known = known_names((one["course"] for one in courses), course) or "none yet"
        raise InvalidError([Fault("course", shown(course), "", f"is not a course with rounds that count: {known}")])
    found = holes_played(members, course, level, span)
    return {
        "course": course,
        "courses": courses,
        "baseline": {"id": baseline.id, "version": baseline.version},
        "level": level,
        "rounds": found.rounds,
        "players": found.players,
        "holes": found.holes,
        "left_out": found.left_out,
        "words": _words(course, courses, found.holes, found.rounds),
    }


def _words(course: str | None, courses: list[CoursePlayed], holes: list[HoleEffect], rounds: int) -> str:
    if course is None:
        return "Name one of the courses." if courses else "There is no round of nine holes or more with a course."
    judged = [one for one in holes if one["parts"][0]["beside"] is not None]
    if not judged:
        why = holes[0]["parts"][0]["lacking"] if holes else "too few rounds"
        return f"{course}: the holes cannot be separated, {why}."
    named = [
        (verdict, [one["hole"] for one in judged if one["parts"][0]["verdict"] == verdict])
        for verdict in (HARDER, EASIER)
    ]
    sentences = [
        f"Clearly {verdict} than the mean of its holes: {', '.join(map(str, found))}."
        for verdict, found in named
        if found
    ]
    over = f"over {len(judged)} holes looked at together, {rounds} rounds, for these players"
    if not sentences:
        return f"{course}: no hole is clearly harder or easier than the mean of its holes ({over})."
    return f"{course}: {' '.join(sentences)} ({over[0].upper()}{over[1:]}.)"
