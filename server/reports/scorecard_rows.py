"""A scorecard and a listed round, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.game.closings import Between
from server.records.typed_schemas import Day
from server.reports.heading import BaselineNamed


class Closing(TypedDict):
    """A closing of a round and the opening after it; client times."""

    closed_at: str | None
    reopened_at: str | None


class OpenedAgain(TypedDict):
    """What a competition round shows after it was opened again."""

    words: str
    between: Annotated[list[Between], "the times between which evidence could be read"]


class ScorecardHole(TypedDict):
    """One hole of the ball of record."""

    number: int
    par: int
    length_yd: float
    shots: Annotated[int, "without penalty strokes"]
    score: Annotated[int | None, "null where the hole is not complete"]
    to_par: int | None
    putts: Annotated[int | None, "null without a shot"]
    penalty_strokes: int | None
    strokes_gained: Annotated[float | None, "null without a value, and while locked"]
    unvalued: Annotated[int, "shots without a value"]
    complete: bool


class ScorecardTotal(TypedDict):
    """The holes together."""

    par: Annotated[int, "of the complete holes once the round is complete, else of all"]
    score: Annotated[int | None, "null until the round is complete"]
    score_of_complete_holes: int
    to_par: Annotated[int, "over the complete holes"]
    holes_complete: int
    complete: Annotated[bool, "all holes that were to be played are complete"]
    strokes_gained: float | None


class RoundProblem(TypedDict):
    """Something among the shots that does not fit."""

    severity: Annotated[str, "error or warning"]
    field: str
    message: str
    hole: Annotated[int | None, "null where it is about the round"]
    ball: int | None
    order: int | None


class RoundFacts(TypedDict):
    """What a round is, wherever it is shown."""

    round_id: str
    played_on: Day
    kind: str
    course: str | None
    tees: str | None
    closed: bool
    closings: list[Closing]
    opened_again: Annotated[OpenedAgain | None, "of a competition round that was reopened"]
    holes_meant: Annotated[int | None, "how many holes were to be played, where that was recorded"]
    stopped: bool


class Scorecard(RoundFacts):
    """The scorecard of one round: score, strokes gained, totals."""

    player: Annotated[str, "the player's name"]
    baseline: BaselineNamed
    holes: list[ScorecardHole]
    total: ScorecardTotal
    locked: Annotated[str | None, "why strokes gained are left out"]
    problems: list[RoundProblem]
