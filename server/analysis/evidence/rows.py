"""Two spans, a trend and priorities, key by key. Strokes, unrounded."""

from __future__ import annotations

from typing import Annotated, TypedDict


class ConditionCost(TypedDict):
    """A condition that is taken out, and what a step of it costs."""

    condition: Annotated[str, "wind_mph, temperature_c or firmness"]
    step: Annotated[float, "10 mph, 10 degrees C, or 1: from soft to medium or from medium to firm"]
    rounds: Annotated[int, "rounds with a value"]
    cost: Annotated[float, "strokes a round of 18 holes that a step costs; negative: it gains"]
    low: float
    high: float
    words: Annotated[str, "the same in words"]


class SpanDifference(TypedDict):
    """The first span less the second; null where nothing can be stated."""

    per_shot: float | None
    per_shot_low: float | None
    per_shot_high: float | None
    per_round: float | None
    per_round_low: float | None
    per_round_high: float | None
    lacking: Annotated[str | None, "why there is no interval"]
    lacking_per_round: Annotated[str | None, "why there is none by the round"]
    adjusted: Annotated[float | None, "a round of 18 holes, adjusted for courses and days"]
    adjusted_low: float | None
    adjusted_high: float | None
    chance_first_better: Annotated[float | None, "adjusted for courses and days, 0 to 1"]
    lacking_adjusted: Annotated[str | None, "why courses cannot be taken out"]


class LevelFigure(TypedDict):
    """A player's level in strokes gained for 18 holes, and which truth its interval holds."""

    mean: Annotated[float | None, "null where nothing can be stated"]
    low: float | None
    high: float | None
    about: Annotated[str, "which truth the interval is about"]
    lacking: Annotated[str | None, "why there is no figure"]


class CourseLevel(TypedDict):
    """A course beside the average course, the player and the days taken out."""

    course: str
    rounds: int
    effect: Annotated[float, "strokes gained that it adds to a round of 18 holes; negative: harder"]
    low: float
    high: float


class Level(TypedDict):
    """A player's level: on these courses this season, and lasting, on an average course."""

    rounds: Annotated[int, "rounds that count and have a course"]
    days: int
    without_course: Annotated[int, "rounds that count and have no course: in no figure here"]
    season: LevelFigure
    lasting: LevelFigure
    course_sd: Annotated[float | None, "spread of courses in strokes a round; where courses are few the prior decides"]
    courses: Annotated[list[CourseLevel], "hardest first; none where courses cannot be separated from days"]
    ratings_ignored: Annotated[list[str], "tees whose rating lies too far from the player's others: course, tees"]
    words: str


class MonthTrend(TypedDict):
    """The slope of strokes gained a round over the months, adjusted for courses and days; null where not stated."""

    rounds: Annotated[int, "rounds that count and have a course"]
    without_course: Annotated[int, "rounds that count and have no course: left out"]
    courses: int
    months: Annotated[float, "from the first of them to the last"]
    a_month: Annotated[float | None, "strokes gained for 18 holes, each month"]
    low: float | None
    high: float | None
    chance_better: Annotated[float | None, "that the slope is above 0, 0 to 1"]
    conditions: Annotated[list[ConditionCost], "conditions that are taken out as well"]
    lacking: Annotated[str | None, "why there is no slope"]
    words: str


class Trend(TypedDict):
    """The later half of the latest rounds against the earlier half, a round of 18 holes; the difference and its
    interval with the courses played allowed for."""

    rounds: int
    mean: Annotated[float | None, "null without a round"]
    later: Annotated[float | None, "as played"]
    earlier: float | None
    difference: Annotated[float | None, "later less earlier, less what the courses played are likely to add"]
    low: float | None
    high: float | None
    words: str


class Cell(TypedDict):
    """A part of the game: a category and a distance. Strokes a round of 18 holes; null where too little is known."""

    cell: Annotated[str, "category|distance"]
    category: str
    distance: str
    shots: int
    rounds: int
    per_round: float
    low: float | None
    high: float | None
    adjusted: Annotated[float | None, "on an average course"]
    adjusted_low: float | None
    adjusted_high: float | None
    shrunk_per_round: Annotated[float | None, "on an average course, drawn to the player's other cells"]
    chance_of_loss: Annotated[float | None, "on an average course"]
    named: Annotated[bool, "a loss beyond chance that is worth naming"]


class Priority(Cell):
    """A named cell in words."""

    what: str
    strokes_a_round: Annotated[float, "what it costs: shrunk, and never more than was measured"]
    sure: Annotated[str, "chance that it costs strokes at all, such as 97 in 100"]
    next: Annotated[str, "what to look at next"]
    words: str


class PrioritiesFound(TypedDict):
    """At most three priorities, greatest loss first."""

    rounds: Annotated[int, "rounds that count"]
    short_rounds: Annotated[int, "rounds too short to count"]
    cells: Annotated[list[Cell], "greatest loss first"]
    priorities: list[Priority]
    courses: Annotated[str | None, "how far the courses played are allowed for; null where nothing is judged"]
    words: str


class Standing(TypedDict):
    """A player's place in a squad. Strokes gained for 18 holes."""

    player: Annotated[int, "its number in the list of players"]
    rounds: Annotated[int, "that count and have a course"]
    courses: int
    mean: Annotated[float, "as played, courses not taken out"]
    beside_squad: Annotated[
        float, "more than the squad's mean, adjusted for courses, pulled towards it where rounds are few"
    ]
    low: float
    high: float
    rank_low: Annotated[int, "best rank of the interval"]
    rank_high: int
    chances: Annotated[list[float], "of each rank, 0 to 1"]
    chance_above_next: Annotated[float | None, "that the player is truly above the one in the next line"]


class AgainstPart(TypedDict):
    """A player beside the mean of others, by all strokes or those of a category. Strokes gained for 18 holes; null
    where nothing can be stated."""

    part: Annotated[str, "total, or a category"]
    mean: Annotated[float | None, "of the player, as played: courses not taken out"]
    difference: Annotated[
        float | None,
        "the player less the mean of the others, adjusted for courses, pulled towards it where rounds are few",
    ]
    low: Annotated[float | None, "of the interval of this row alone"]
    high: float | None
    chance_better: Annotated[float | None, "that the player truly gains more than the others' mean, 0 to 1"]
    verdict: Annotated[str, "better, worse, perhaps better, perhaps worse, not separated or not clear"]
    lacking: Annotated[str | None, "why there is no figure"]


class PairPart(TypedDict):
    """Two players side by side, by all strokes or those of a category. Strokes gained for 18 holes; null where nothing
    can be stated."""

    part: Annotated[str, "total, or a category"]
    mean_a: Annotated[float | None, "as played: courses not taken out"]
    mean_b: float | None
    difference: Annotated[float | None, "a less b, adjusted for courses and days"]
    low: Annotated[float | None, "of the interval of this row alone"]
    high: float | None
    together_low: Annotated[float | None, "of the interval of all rows together"]
    together_high: float | None
    chance_a_better: Annotated[float | None, "0 to 1"]
    verdict: Annotated[str, "a better, b better, not separated or not clear; by all rows together"]
    lacking: Annotated[str | None, "why there is no figure"]


class HolePart(TypedDict):
    """A hole by all strokes or those of a category. Strokes gained each time it is played; null where nothing can be
    stated."""

    part: Annotated[str, "total, or a category"]
    shots: Annotated[int, "with a value"]
    mean: Annotated[float | None, "as played, against the baseline; negative: strokes are lost"]
    mean_low: float | None
    mean_high: float | None
    beside: Annotated[float | None, "more than the mean of the course's holes, adjusted for who played when"]
    low: Annotated[float | None, "of the interval of this hole alone"]
    high: float | None
    together_low: Annotated[float | None, "of the interval of all holes together"]
    together_high: float | None
    verdict: Annotated[str, "harder, easier, not separated or not clear; over all holes together"]
    lacking: Annotated[str | None, "why it cannot be compared with the others"]


class HoleEffect(TypedDict):
    """A hole of a course."""

    hole: int
    par: Annotated[int, "the commonest, where it has several"]
    times: Annotated[int, "played, in rounds that count"]
    parts: Annotated[list[HolePart], "all strokes, then the categories"]
