"""A predicted round and the check of such forecasts, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.records.typed_schemas import Day
from server.reports.heading import BaselineNamed, OfPlayer
from server.reports.plan_rows import DayRow


class ScoreRange(TypedDict):
    """A range of scores, integers, between the two quantiles that leave the same on either side."""

    share: Annotated[float, "0.5 or 0.8: how often the score should lie in it at least"]
    low: int
    high: int
    chance: Annotated[float, "how often it lies in it; more than the share, since scores are whole"]


class ScoreChance(TypedDict):
    """One score of the round."""

    strokes: int
    chance: float
    at_most: Annotated[float, "chance of this score or a better one"]


class HoleChances(TypedDict):
    """One predicted hole: chances beside par add up to 1."""

    number: int
    par: int
    length_yd: float
    club: Annotated[str, "from the tee"]
    mean: Annotated[float, "strokes, with what play costs beyond the plan"]
    solved: Annotated[float, "strokes of the solved hole, without it"]
    low: Annotated[int, "8 times in 10 between this and `high`"]
    high: int
    birdie: Annotated[float, "chance of a birdie or better"]
    par_chance: Annotated[float, "chance of par"]
    bogey: Annotated[float, "chance of a bogey"]
    double: Annotated[float, "chance of a double bogey or worse"]


class ScoreSpread(TypedDict):
    """Where the spread of the round comes from: standard deviations in strokes, of the holes that are predicted."""

    holes: Annotated[float, "of independent holes"]
    form: Annotated[float, "of the form of the day"]
    unknown: Annotated[float, "of what is not known of patterns, putting and short game"]
    whole: Annotated[float, "of the round"]


class RoundAheadDocument(OfPlayer):
    """The predicted round: the score's distribution over the holes that have a map."""

    course: str
    tees: str
    day: Annotated[DayRow | None, "null when no correction was asked for"]
    baseline: BaselineNamed
    words: Annotated[str, "one sentence"]
    par: int
    mean: float
    most_likely: int
    ranges: Annotated[list[ScoreRange], "5 and 8 rounds in 10"]
    scores: Annotated[list[ScoreChance], "all scores with a chance of at least 1 in 1,000, ascending"]
    holes: list[HoleChances]
    unmapped: Annotated[list[int], "holes of these tees without a map, left out"]
    spread: ScoreSpread
    rounds: Annotated[int, "rounds before on this course that the forecast leans on"]
    beyond_plan: Annotated[float, "strokes over these holes that play costs beyond the plan"]
    about: Annotated[list[str], "how it was worked out, in sentences"]
    caution: str


class PredictedRound(TypedDict):
    """One round, predicted from the rounds before it alone, and what came."""

    played_on: Day
    tees: str | None
    holes: int
    par: int
    score: int
    mean: float
    low: Annotated[int, "8 rounds in 10 between this and `high`"]
    high: int
    place: Annotated[float, "where the score fell in its forecast, 0 to 1: the middle of its own chance"]
    rounds_before: int


class CoverageRow(TypedDict):
    """How often the middle of the forecasts contained the score."""

    share: Annotated[float, "how often it should"]
    observed: Annotated[float, "how often it did; scores at an edge count in parts"]
    low: Annotated[float, "by chance alone right forecasts lie between this and `high` 9 times in 10"]
    high: float


class ForecastScore(TypedDict):
    """Continuous ranked probability scores, strokes, less is better; of the rounds that have both."""

    rounds: int
    model: float
    naive: Annotated[float, "of a normal with mean and standard deviation of the earlier scores beside par"]
    difference: Annotated[float, "model less naive: below 0 the model is better"]
    error: Annotated[float | None, "standard error of the difference; null with one round"]


class RoundsCheckedDocument(OfPlayer):
    """Rounds predicted from the rounds before them, beside what came."""

    course: str
    baseline: BaselineNamed
    count: int
    few: Annotated[str | None, "why there is no answer; null when there is one"]
    words: str
    inside: Annotated[int, "scores within their range of 8 rounds in 10"]
    expected_inside: Annotated[float, "how many the ranges expect, more than 8 in 10 since scores are whole"]
    coverage: list[CoverageRow]
    fifths: Annotated[list[float], "scores in each fifth of their forecasts, best fifth first; even when right"]
    fifths_band: Annotated[list[float], "by chance alone each of them lies between these two 9 times in 10"]
    skill: ForecastScore | None
    solved: Annotated[int, "how many times the holes were solved anew"]
    rounds: list[PredictedRound]
    caution: str
