"""Practice beside the course, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.analysis.patterns.rows import FigureRow


class PracticeClub(TypedDict):
    """One club's full swings in practice less on the course; null or without ends where one of them not clear yet."""

    club: str
    shots: Annotated[int, "full swings on the course with a known length or side"]
    rounds: int
    balls: Annotated[int, "full swings of practice with a known length or side"]
    sessions: int
    course_yd: Annotated[FigureRow, "median length on the course"]
    practice_yd: Annotated[FigureRow, "median length in practice"]
    length_yd: Annotated[FigureRow, "practice less course; above zero: practice goes farther"]
    direction_deg: Annotated[FigureRow, "mean direction, practice less course; right is positive"]
    spread_ratio: Annotated[FigureRow, "spread of the direction in practice over that on the course"]
    words: str


class PracticeRate(TypedDict):
    """The make-rate from one length in practice less on the course."""

    feet: int
    course: float
    practice: float
    difference: Annotated[float, "practice less course"]
    low: float
    high: float


class PracticePutting(TypedDict):
    """Make-rates of both sources."""

    putts: Annotated[int, "on the course"]
    rounds: int
    practice_putts: int
    sessions: int
    rates: Annotated[list[PracticeRate], "empty where one of them has too few putts"]
    lacking: Annotated[str | None, "why nothing is stated"]
    words: Annotated[list[str], "sentences"]


class PracticeDuels(TypedDict):
    """Pairs of balls hit from one spot, one with each side: A less B, sessions as clusters."""

    pairs: int
    sessions: int
    length_yd: Annotated[FigureRow, "how far they go"]
    offline_deg: Annotated[FigureRow, "degrees off the line, to either side"]
    holed: Annotated[FigureRow, "share holed"]
    strokes: Annotated[FigureRow, "strokes that the baseline expects to be left on the green; less is better"]
    words: Annotated[list[str], "sentences"]
