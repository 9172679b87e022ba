"""A squad in order as a document for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, TypedDict

import numpy as np
import pandas as pd

from server.analysis.evidence.level import Rates
from server.analysis.evidence.ranking import LEAST_ROUNDS, SquadRounds, ranking_words, standings
from server.analysis.evidence.rows import Standing
from server.analysis.evidence.tallies import TOTAL
from server.analysis.expected_strokes.baseline import Baseline
from server.game.categories import FOUR_PART, SCHEMES
from server.questions.question import Span
from server.questions.squads import Member
from server.reports.heading import BaselineNamed
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


class SquadRanks(TypedDict):
    """The players that may be read, best first."""

    by: Annotated[str, "total, or a category"]
    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval holds the true figure"]
    players: list[RankedPlayer]
    left_out: list[UnrankedPlayer]
    courses: Annotated[int, "taken out"]
    words: str


def ranks_document(members: Sequence[Member], baseline: Baseline, by: str, level: float, span: Span) -> SquadRanks:
    """The squad in order, over the rounds of a span. `by`: one of `PARTS`. ValueError for another, or a level outside
    its range."""
    if by not in PARTS:
        raise ValueError(f"by: {by!r} is not one of {', '.join(PARTS)}")
    left_out: list[UnrankedPlayer] = []
    ranked: list[Player] = []
    pieces: list[Rates] = []
    for member in members:
        player, tally = member.player, member.tally
        found = None
        if tally is not None and (by == TOTAL or by in tally.categories):
            found = tally.rates(tally.chosen(span.first, span.last, span.kinds), by)[0]
        why = LOCKED if tally is None else _lacking(player, by, found)
        if why is not None or found is None:
            left_out.append({"player_id": player.player_id, "name": player.name, "why": why or FEW})
            continue
        ranked.append(player)
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
    called = [player.name for player in ranked]
    return {
        "by": by,
        "baseline": {"id": baseline.id, "version": baseline.version},
        "level": level,
        "players": [
            {**row, "player_id": ranked[row["player"]].player_id, "name": called[row["player"]]} for row in rows
        ],
        "left_out": left_out,
        "courses": len(names),
        "words": ranking_words(rows, called, "all strokes" if by == TOTAL else by.replace("_", " ")),
    }


def _lacking(player: Player, by: str, found: Rates | None) -> str | None:
    if by != TOTAL and player.category_scheme != FOUR_PART:
        return OTHER_SCHEME
    return FEW if found is None or found.strokes.size < LEAST_ROUNDS else None
