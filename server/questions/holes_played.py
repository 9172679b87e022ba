"""The holes of a course as many players played them, for screens, commands and season tables alike."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, TypedDict

import numpy as np

from server.analysis.evidence.hole_effects import Played, hole_effects, played_in, together
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
    left_out = [left(one, LOCKED) for one in members if one.held is None]
    # one tally at a time: of each only what was played on the course is held
    played = [(one, there) for one in members if one.held is not None and (there := _there(one, course, span))]
    # categories of two schemes do not add up together
    scheme = _scheme([there.categories for _, there in played])
    left_out += [left(one, OTHER_SCHEME) for one, there in played if there.categories != scheme]
    used = [there for _, there in played if there.categories == scheme]
    holes: list[HoleEffect] = []
    if course is not None and used:
        holes = hole_effects(together([there.played for there in used]), scheme, level)
    rounds = sum(there.rounds for there in used)
    return HolesPlayed(holes, rounds, len(used), left_out)


class _There(NamedTuple):
    """What a player played on a course in the chosen rounds: how many, and their holes."""

    categories: tuple[str, ...]
    rounds: int
    played: Played


def _there(member: Member, course: str | None, span: Span) -> _There | None:
    tally = member.tally
    chosen = None if tally is None else _chosen(tally, span) & (tally.course == course)
    if tally is None or chosen is None or not chosen.any():
        return None
    return _There(tally.categories, int(chosen.sum()), played_in(tally, chosen))


def _chosen(tally: Tally, span: Span) -> Flags:
    return tally.chosen(span.first, span.last, span.kinds)


def _scheme(found: list[tuple[str, ...]]) -> tuple[str, ...]:
    """The categories that most of the players count in; four where as many do."""
    four = SCHEMES[FOUR_PART]
    return max(dict.fromkeys([four, *found]), key=found.count)
