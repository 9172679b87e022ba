"""How hard the holes of a course are, as a document for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, TypedDict

import numpy as np

from server.analysis.evidence.hole_effects import EASIER, HARDER, hole_effects, played_on
from server.analysis.evidence.intervals import Flags, checked_level
from server.analysis.evidence.rows import HoleEffect
from server.analysis.evidence.tallies import Tally
from server.analysis.expected_strokes.baseline import Baseline
from server.game.categories import FOUR_PART, SCHEMES
from server.questions.question import Span
from server.questions.squads import Member
from server.records.validation import Fault, InvalidError, shown
from server.reports.heading import BaselineNamed
from server.reports.ranks import LOCKED, OTHER_SCHEME, UnrankedPlayer

NO_ROUND: Final = "no round of nine holes or more there"


class CoursePlayed(TypedDict):
    """A course on which rounds count."""

    course: str
    rounds: int
    players: int


class HolesDocument(TypedDict):
    """How hard each hole of a course is for some players. Strokes gained each time a hole is played, unrounded."""

    course: Annotated[str | None, "null: none was asked for, and the courses are all that is said"]
    courses: Annotated[list[CoursePlayed], "on which rounds count, the one most played first"]
    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval holds the true figure, one hole at a time"]
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
    there = [
        (one, one.tally, one.tally.chosen(span.first, span.last, span.kinds))
        for one in members
        if one.tally is not None
    ]
    courses = _courses([(tally, chosen) for _, tally, chosen in there])
    left_out: list[UnrankedPlayer] = [_left(one, LOCKED) for one in members if one.tally is None]
    if course is not None and course not in {one["course"] for one in courses}:
        known = ", ".join(sorted(one["course"] for one in courses)) or "none yet"
        raise InvalidError([Fault("course", shown(course), "", f"is not a course with rounds that count: {known}")])
    played = [(one, tally, chosen) for one, tally, chosen in there if (chosen & (tally.course == course)).any()]
    # categories of two schemes do not add up together
    scheme = _scheme([tally for _, tally, _ in played])
    left_out += [_left(one, OTHER_SCHEME) for one, tally, _ in played if tally.categories != scheme]
    used = [(tally, chosen) for _, tally, chosen in played if tally.categories == scheme]
    holes: list[HoleEffect] = []
    if course is not None and used:
        tallies, flags = zip(*used, strict=True)
        holes = hole_effects(played_on(course, tallies, flags), scheme, level)
    rounds = sum(int((chosen & (tally.course == course)).sum()) for tally, chosen in used)
    return {
        "course": course,
        "courses": courses,
        "baseline": {"id": baseline.id, "version": baseline.version},
        "level": level,
        "rounds": rounds,
        "players": len(used),
        "holes": holes,
        "left_out": left_out,
        "words": _words(course, courses, holes, rounds),
    }


def _scheme(tallies: Sequence[Tally]) -> tuple[str, ...]:
    """The categories that most of the players count in; four where as many do."""
    four = SCHEMES[FOUR_PART]
    found = [tally.categories for tally in tallies]
    return max(dict.fromkeys([four, *found]), key=found.count)


def _left(member: Member, why: str) -> UnrankedPlayer:
    return {"player_id": member.player.player_id, "name": member.player.name, "why": why}


def _courses(played: Sequence[tuple[Tally, Flags]]) -> list[CoursePlayed]:
    rounds: dict[str, int] = {}
    players: dict[str, int] = {}
    for tally, chosen in played:
        names, counts = np.unique(
            np.array([name for name in tally.course[chosen] if name is not None], dtype=str), return_counts=True
        )
        for name, count in zip(names.tolist(), counts.tolist(), strict=True):
            rounds[name] = rounds.get(name, 0) + count
            players[name] = players.get(name, 0) + 1
    order = sorted(rounds, key=lambda name: (-rounds[name], name))
    return [{"course": name, "rounds": rounds[name], "players": players[name]} for name in order]


def _words(course: str | None, courses: list[CoursePlayed], holes: list[HoleEffect], rounds: int) -> str:
    if course is None:
        return "Name one of the courses." if courses else "There is no round of nine holes or more with a course."
    told = [one for one in holes if one["parts"][0]["beside"] is not None]
    if not told:
        why = holes[0]["parts"][0]["lacking"] if holes else "too few rounds"
        return f"{course}: the holes cannot be separated, {why}."
    named = [
        (verdict, [one["hole"] for one in told if one["parts"][0]["verdict"] == verdict])
        for verdict in (HARDER, EASIER)
    ]
    said = [
        f"Clearly {verdict} than the mean of its holes: {', '.join(map(str, found))}."
        for verdict, found in named
        if found
    ]
    over = f"over {len(told)} holes looked at together, {rounds} rounds, for these players"
    if not said:
        return f"{course}: no hole is clearly harder or easier than the mean of its holes ({over})."
    return f"{course}: {' '.join(said)} ({over[0].upper()}{over[1:]}.)"
