"""Members of a squad in order, as screens, commands and season tables all report it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple, TypedDict

import numpy as np
import pandas as pd

from server.analysis.evidence.level import Rates
from server.analysis.evidence.ranking import LEAST_ROUNDS, SquadRounds, standings
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
    if by not in PARTS:
        raise ValueError(f"by: {by!r} is not one of {', '.join(PARTS)}")
    left_out: list[UnrankedPlayer] = []
    placed: list[Player] = []
    pieces: list[Rates] = []
    for member in members:
        player, tally = member.player, member.tally
        found = None
        if tally is not None and (by == TOTAL or by in tally.categories):
            found = tally.rates(tally.chosen(span.first, span.last, span.kinds), by)[0]
        why = LOCKED if tally is None else _lacking(player, by, found)
        if why is not None or found is None:
            left_out.append(left(member, why or FEW))
            continue
        placed.append(player)
        pieces.append(found)
    course, names = pd.factorize(np.array([one.names[code] for one in pieces for code in one.course], dtype=object))
    rows = []
    if pieces:
        rounds = SquadRounds(
            np.concatenate([one.strokes for one in pieces]),
            np.concatenate([one.parts for one in pieces]),
            np.repeat(np.arange(len(pieces)), [one.strokes.size for one in pieces]),
            course,
        )
        rows = standings(rounds, level)
    called = [player.name for player in placed]
    found_players: list[RankedPlayer] = [
        {**row, "player_id": placed[row["player"]].player_id, "name": called[row["player"]]} for row in rows
    ]
    return Ranked(found_players, left_out, called, len(names))


def left(member: Member, why: str) -> UnrankedPlayer:
    """A member without a place, with the reason."""
    return {"player_id": member.player.player_id, "name": member.player.name, "why": why}


def _lacking(player: Player, by: str, found: Rates | None) -> str | None:
    if by != TOTAL and player.category_scheme != FOUR_PART:
        return OTHER_SCHEME
    return FEW if found is None or found.strokes.size < LEAST_ROUNDS else None
