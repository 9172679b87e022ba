"""A squad in order as a document for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

from server.analysis.evidence.ranking import ranking_words
from server.analysis.evidence.tallies import TOTAL
from server.analysis.expected_strokes.baseline import Baseline
from server.questions.question import Span
from server.questions.ranked import RankedPlayer, UnrankedPlayer, ranked
from server.questions.squads import Member
from server.reports.heading import BaselineNamed


class SquadRanks(TypedDict):
    """The players that may be read, best first."""

    by: Annotated[str, "total, or a category"]
    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval contains the true figure"]
    players: list[RankedPlayer]
    left_out: list[UnrankedPlayer]
    courses: Annotated[int, "taken out"]
    words: str


def ranks_document(members: Sequence[Member], baseline: Baseline, by: str, level: float, span: Span) -> SquadRanks:
    """The squad in order, over the rounds of a span. `by`: one of `PARTS`. ValueError for another, or a level outside
    its range."""
    found = ranked(members, by, level, span)
    return {
        "by": by,
        "baseline": {"id": baseline.id, "version": baseline.version},
        "level": level,
        "players": found.players,
        "left_out": found.left_out,
        "courses": found.courses,
        "words": ranking_words([*found.players], found.names, "all strokes" if by == TOTAL else by.replace("_", " ")),
    }
