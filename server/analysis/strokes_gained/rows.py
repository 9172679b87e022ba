"""The figures of a summary, of a group and of all shots, key by key. Strokes, unrounded."""

from __future__ import annotations

from typing import Annotated, NotRequired, TypedDict


class IntervalColumns(TypedDict):
    """Intervals and figures a round of 18 holes; null where nothing can be stated."""

    per_shot_low: float | None
    per_shot_high: float | None
    per_round: Annotated[float | None, "of ball 1"]
    per_round_low: float | None
    per_round_high: float | None
    of_rounds: Annotated[int, "the rounds over which the figures a round are taken"]
    too_few: Annotated[str | None, "why there is no interval"]


class Counts(TypedDict):
    """Shots that have a value, and what they gained."""

    shots: int
    strokes_gained: float
    per_shot: Annotated[float | None, "null without a shot"]
    extended: Annotated[int, "shots whose value used an extension of the baseline"]


class SummaryFigures(IntervalColumns, Counts):
    """The figures of a group."""

    rounds: Annotated[int, "rounds with such a shot"]
    shrunk: NotRequired[Annotated[float | None, "a shot, drawn to the player's mean; of clubs and categories alone"]]
    shrunk_low: NotRequired[Annotated[float | None, "lower end of the interval of the adjusted mean"]]
    shrunk_high: NotRequired[Annotated[float | None, "upper end of the interval of the adjusted mean"]]


class SummaryRow(SummaryFigures):
    """A group of shots. It has the key that it is grouped by and no other one of them, but for a hole its course."""

    club: NotRequired[str]
    category: NotRequired[str]
    lie: NotRequired[str]
    distance: NotRequired[Annotated[str, "a band such as over 100 to 125 yd"]]
    hole: NotRequired[Annotated[int, "of the course beside it"]]
    round: NotRequired[Annotated[str, "day, course and kind"]]
    round_id: NotRequired[Annotated[str, "beside round"]]
    course: NotRequired[Annotated[str, "by course, and beside hole"]]
    month: NotRequired[Annotated[str, "YYYY-MM"]]
    setup: NotRequired[str]


class SummaryTotal(IntervalColumns, Counts):
    """All shots together."""

    rounds: Annotated[int, "rounds that count: 9 holes or more with a value"]
    short_rounds: Annotated[int, "rounds too short to count"]
    holes: Annotated[int, "holes with a value of the rounds that count"]
    unvalued: Annotated[int, "shots without a value"]
    of_record: Annotated[Counts, "ball 1, which scores"]
    extra_balls: Counts
