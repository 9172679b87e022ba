"""The holes of a course as many players played them, for screens, commands and season tables alike."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, TypedDict

import numpy as np

from server.analysis.evidence.hole_effects import hole_effects, played_on
from server.analysis.evidence.intervals import Flags
from server.analysis.evidence.rows import HoleEffect
from server.analysis.evidence.tallies import Tally
from server.game.categories import FOUR_PART, SCHEMES
from server.questions.question import Span
from server.questions.ranked import LOCKED, OTHER_SCHEME, UnrankedPlayer, left
from server.questions.squads import Member


class CoursePlayed(TypedDict):
    """A course on which rounds count."""

    course: str
    rounds: int
    players: int


class HolesPlayed(NamedTuple):
    """`holes`: of the course, none without one; `rounds`, `players`: that count on it."""

    holes: list[HoleEffect]
    rounds: int
    players: int
    left_out: list[UnrankedPlayer]


def courses_played(members: Sequence[Member], span: Span) -> list[CoursePlayed]:
    """The courses on which rounds of these players count, the one most played first."""
    rounds: dict[str, int] = {}
    players: dict[str, int] = {}
    for tally, chosen in ((one.tally, _chosen(one.tally, span)) for one in members if one.tally is not None):
        names, counts = np.unique(
            np.array([name for name in tally.course[chosen] if name is not None], dtype=str), return_counts=True
        )
        for name, count in zip(names.tolist(), counts.tolist(), strict=True):
            rounds[name] = rounds.get(name, 0) + count
            players[name] = players.get(name, 0) + 1
    order = sorted(rounds, key=lambda name: (-rounds[name], name))
    return [{"course": name, "rounds": rounds[name], "players": players[name]} for name in order]


def holes_played(members: Sequence[Member], course: str | None, level: float, span: Span) -> HolesPlayed:
    """How hard each hole of the course is for these players. ValueError for a level outside its range."""
    left_out = [left(one, LOCKED) for one in members if one.tally is None]
    there = [(one, one.tally, _chosen(one.tally, span)) for one in members if one.tally is not None]
    played = [(one, tally, chosen) for one, tally, chosen in there if (chosen & (tally.course == course)).any()]
    # categories of two schemes do not add up together
    scheme = _scheme([tally for _, tally, _ in played])
    left_out += [left(one, OTHER_SCHEME) for one, tally, _ in played if tally.categories != scheme]
    used = [(tally, chosen) for _, tally, chosen in played if tally.categories == scheme]
    holes: list[HoleEffect] = []
    if course is not None and used:
        tallies, flags = zip(*used, strict=True)
        holes = hole_effects(played_on(course, tallies, flags), scheme, level)
    rounds = sum(int((chosen & (tally.course == course)).sum()) for tally, chosen in used)
    return HolesPlayed(holes, rounds, len(used), left_out)


def _chosen(tally: Tally, span: Span) -> Flags:
    return tally.chosen(span.first, span.last, span.kinds)


def _scheme(tallies: Sequence[Tally]) -> tuple[str, ...]:
    """The categories that most of the players count in; four where as many do."""
    four = SCHEMES[FOUR_PART]
    found = [tally.categories for tally in tallies]
    return max(dict.fromkeys([four, *found]), key=found.count)
