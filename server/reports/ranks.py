"""A squad in order as a document for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, NamedTuple, TypedDict

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import Floats
from server.analysis.evidence.level import rates_of, round_places
from server.analysis.evidence.ranking import LEAST_ROUNDS, SquadRounds, ranking_words, standings
from server.analysis.evidence.round_lengths import round_lengths
from server.analysis.evidence.rows import Standing
from server.analysis.expected_strokes.baseline import Baseline
from server.game.categories import FOUR_PART, SCHEMES
from server.reports.heading import BaselineNamed
from server.store.players import Player

TOTAL: Final = "total"
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


class Entrant(NamedTuple):
    """A player to be ranked. `valued`: all their shots by the common baseline, None while locked."""

    player: Player
    valued: pd.DataFrame | None


Played = tuple[Floats, Floats, list[str]]
"""Strokes gained for 18 holes, length and course of rounds."""


def ranks_document(entrants: Sequence[Entrant], baseline: Baseline, by: str, level: float) -> SquadRanks:
    """The squad in order. `by`: one of `PARTS`. ValueError for another, or a level outside its range."""
    if by not in PARTS:
        raise ValueError(f"by: {by!r} is not one of {', '.join(PARTS)}")
    left_out: list[UnrankedPlayer] = []
    ranked: list[Player] = []
    pieces: list[Played] = []
    for player, valued in entrants:
        found = None if valued is None else _rounds(valued, by)
        why = LOCKED if valued is None else _lacking(player, by, found)
        if why is not None or found is None:
            left_out.append({"player_id": player.player_id, "name": player.name, "why": why or FEW})
            continue
        ranked.append(player)
        pieces.append(found)
    course, names = pd.factorize(np.array([name for _, _, played in pieces for name in played], dtype=object))
    rows = []
    if pieces:
        rounds = SquadRounds(
            np.concatenate([strokes for strokes, _, _ in pieces]),
            np.concatenate([parts for _, parts, _ in pieces]),
            np.repeat(np.arange(len(pieces)), [strokes.size for strokes, _, _ in pieces]),
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


def _rounds(valued: pd.DataFrame, by: str) -> Played:
    """Strokes gained for 18 holes, length and course of each round that counts and has a course."""
    lengths = round_lengths(valued)
    at = lengths.places(valued["round_id"])
    mine = valued["ball"].eq(1).to_numpy(dtype=bool) & valued["strokes_gained"].notna().to_numpy(dtype=bool) & (at >= 0)
    if by != TOTAL:
        mine &= valued["category"].astype("object").eq(by).to_numpy(dtype=bool)
    gained = valued["strokes_gained"].to_numpy(dtype=np.float64)[mine]
    strokes = np.bincount(at[mine], weights=gained, minlength=lengths.rounds).astype(np.float64)
    rates, _ = rates_of(strokes, lengths.parts, round_places(valued, lengths))
    return rates.strokes, rates.parts, [rates.names[code] for code in rates.course]


def _lacking(player: Player, by: str, found: Played | None) -> str | None:
    if by != TOTAL and player.category_scheme != FOUR_PART:
        return OTHER_SCHEME
    return FEW if found is None or found[0].size < LEAST_ROUNDS else None
