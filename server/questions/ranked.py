"""Members of a squad in order, as screens, commands and season tables all report it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple, TypedDict

import numpy as np
import numpy.typing as npt
import pandas as pd

from server.analysis.evidence.intervals import Floats
from server.analysis.evidence.level import ONE_DAY
from server.analysis.evidence.ranking import LEAST_ROUNDS, SquadRounds, standings_of_many
from server.analysis.evidence.rows import Standing
from server.analysis.evidence.tallies import TOTAL
from server.game.categories import FOUR_PART, SCHEMES
from server.questions.question import Span
from server.questions.squads import Member
from server.store.players import Player

PARTS: Final = (TOTAL, *SCHEMES[FOUR_PART])
"""What a squad is ranked by: all strokes gained, or those of one category."""

LOCKED: Final = "a competition round is open"
FEW: Final = f"fewer than {LEAST_ROUNDS} rounds of nine holes or more with a course"
OTHER_SCHEME: Final = "counts in three categories, not in four"

NOTHING: Final = np.zeros(0)
NO_NAME: Final = np.zeros(0, dtype=object)


class RankedPlayer(Standing):
    """A player's place, with who it is."""

    player_id: str
    name: str


class UnrankedPlayer(TypedDict):
    """A player without a place."""

    player_id: str
    name: str
    why: str


class Ranked(NamedTuple):
    """`players`: best first; `names`: by the number `player` of a row; `courses`: how many were taken out."""

    players: list[RankedPlayer]
    left_out: list[UnrankedPlayer]
    names: list[str]
    courses: int


def ranked(members: Sequence[Member], by: str, level: float, span: Span) -> Ranked:
    """The members in order, over the rounds of a span. `by`: one of `PARTS`. ValueError for another, or a level outside
    its range."""
    return ranked_by_each(members, [by], level, span)[0]


def ranked_by_each(members: Sequence[Member], parts: Sequence[str], level: float, span: Span) -> list[Ranked]:
    """The members in order by each of some parts; what a member holds is read once. ValueError as `ranked`."""
    for by in parts:
        if by not in PARTS:
            raise ValueError(f"by: {by!r} is not one of {', '.join(PARTS)}")
    entered = [_entered(member, parts, span) for member in members]
    squads = [_squad(members, entered, by) for by in parts]
    orders = standings_of_many([squad.rounds for squad in squads], level)
    return [_named(squad, rows) for squad, rows in zip(squads, orders, strict=True)]


class _Entered(NamedTuple):
    """The rounds of a member that have a course: its name, days since 1970, the length as a part of 18 holes, each
    shape (rounds,), and strokes gained for 18 holes by part, of the parts that the member counts."""

    course: npt.NDArray[np.object_]
    day: npt.NDArray[np.int64]
    lengths: Floats
    strokes: dict[str, Floats]


class _Squad(NamedTuple):
    """Who is put in order by a part, in the order of the codes, and by which rounds; `courses`: how many."""

    placed: list[Player]
    rounds: SquadRounds
    courses: int
    left_out: list[UnrankedPlayer]


def _entered(member: Member, parts: Sequence[str], span: Span) -> _Entered | None:
    """What a member brings; None while a competition round is open."""
    tally = member.tally
    if tally is None:
        return None
    taken = tally.chosen(span.first, span.last, span.kinds) & tally.has_course
    counted = [by for by in parts if by == TOTAL or by in tally.categories]
    strokes = tally.of_rounds(taken, counted).T if counted else ()
    return _Entered(
        tally.course[taken], tally.day[taken], tally.lengths[taken], dict(zip(counted, strokes, strict=True))
    )


def _squad(members: Sequence[Member], entered: Sequence[_Entered | None], by: str) -> _Squad:
    left_out: list[UnrankedPlayer] = []
    placed: list[Player] = []
    pieces: list[tuple[_Entered, Floats]] = []
    for member, found in zip(members, entered, strict=True):
        strokes = None if found is None else found.strokes.get(by)
        why = LOCKED if found is None else _lacking(member.player, by, strokes, found.day)
        if found is None or strokes is None or why is not None:
            left_out.append(left(member, why or FEW))
            continue
        placed.append(member.player)
        pieces.append((found, strokes))
    course, courses = pd.factorize(np.concatenate([NO_NAME, *(one.course for one, _ in pieces)]))
    rounds = SquadRounds(
        np.concatenate([NOTHING, *(strokes for _, strokes in pieces)]),
        np.concatenate([NOTHING, *(one.lengths for one, _ in pieces)]),
        np.repeat(np.arange(len(pieces)), [strokes.size for _, strokes in pieces]),
        course,
        np.concatenate([NOTHING, *(one.day for one, _ in pieces)]).astype(np.int64),
    )
    return _Squad(placed, rounds, len(courses), left_out)


def _named(squad: _Squad, rows: Sequence[Standing]) -> Ranked:
    called = [player.name for player in squad.placed]
    players: list[RankedPlayer] = [
        {**row, "player_id": squad.placed[row["player"]].player_id, "name": called[row["player"]]} for row in rows
    ]
    return Ranked(players, squad.left_out, called, squad.courses)


def left(member: Member, why: str) -> UnrankedPlayer:
    """A member without a place, with the reason."""
    return {"player_id": member.player.player_id, "name": member.player.name, "why": why}


def _lacking(player: Player, by: str, strokes: Floats | None, day: npt.NDArray[np.int64]) -> str | None:
    if by != TOTAL and player.category_scheme != FOUR_PART:
        return OTHER_SCHEME
    if strokes is None or strokes.size < LEAST_ROUNDS:
        return FEW
    return ONE_DAY if np.ptp(day) == 0 else None
