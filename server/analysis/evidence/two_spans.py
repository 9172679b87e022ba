"""Two spans of days side by side: strokes gained of each group in both, and the difference with its interval.

The difference of two means of different rounds: d = m1 - m2, s^2 = s1^2 + s2^2 with the jackknife errors over rounds of
`intervals`, interval d -+ t(f) s with Welch and Satterthwaite's degrees of freedom
f = s^4 / (s1^4 / f1 + s2^4 / f2). It is given only where both means have an interval and the spans share no round.

Source: B. L. Welch, Biometrika 34, 1947, 28-35, and F. E. Satterthwaite, Biometrics Bulletin 2, 1946, 110-114 (from
memory; checked against scipy's unequal-variance t in tests).

Beside it is the difference adjusted for courses and days (`adjusted_spans`): the one to judge a change by.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.adjusted_spans import TwoRates, adjusted_difference, costs_of, courses_words
from server.analysis.evidence.conditions import conditions_words
from server.analysis.evidence.course_ratings import NONE, Ratings
from server.analysis.evidence.intervals import (
    ALIKE,
    DEFAULT_LEVEL,
    TOO_FEW,
    Floats,
    Intervals,
    RoundSums,
    checked_level,
    enough,
    freedom_per_round,
    freedom_per_shot,
    per_round,
    per_shot,
    round_sums,
    t_quantile,
)
from server.analysis.evidence.level import RoundPlaces, hardness_of, rates_of, round_places
from server.analysis.evidence.round_lengths import LEAST_HOLES, round_lengths
from server.analysis.evidence.rows import ConditionCost, SpanDifference
from server.analysis.strokes_gained.rows import SummaryTotal
from server.analysis.strokes_gained.summaries import ALL_BALLS, Summary, default_balls, group_keys, summarise
from server.analysis.strokes_gained.summary_intervals import OfRounds, of_rounds

SHARED: Final = "the two periods share rounds"
ONE_SIDE: Final = "in only one of the periods"
AT_RATINGS: Final = "In the difference of the whole round courses are expected at their ratings."
SHORT_ROUNDS: Final = f"too few rounds of {LEAST_HOLES} holes or more with a value"


class TotalCompared(NamedTuple):
    """All shots in both spans."""

    first: SummaryTotal
    second: SummaryTotal
    difference: SpanDifference


@dataclass(frozen=True)
class GroupCompared:
    """A group in both spans: its name, the rows of both summaries (None where there is none), and the difference."""

    group: Any
    first: Mapping[str, Any] | None
    second: Mapping[str, Any] | None
    difference: SpanDifference


@dataclass(frozen=True)
class Compared:
    """Two summaries of the same grouping and their differences, first less second.

    `rows`: one a group of either; in the rows of the summaries NaN where nothing is stated. `total`: the same of all
    shots; `courses`: on which courses, in words; `conditions`: those taken
    out of the total. A round is 18 holes (`round_lengths`), so that spans of
    rounds of nine and of eighteen can be compared.
    """

    by: str
    first: Summary
    second: Summary
    rows: list[GroupCompared]
    total: TotalCompared
    courses: str
    conditions: list[ConditionCost]


def compare(
    first: pd.DataFrame,
    second: pd.DataFrame,
    by: str,
    balls: str | None = None,
    *,
    level: float = DEFAULT_LEVEL,
    only: tuple[pd.Series | None, pd.Series | None] = (None, None),
    ratings: Ratings = NONE,
) -> Compared:
    """Compare two frames that `attribute` returned, one for each span of days.

    `only`: of each span the shots to report on, as in `summarise`. `ratings`: where all shots are reported on, courses
    are expected at them in the total; how a rating divides among groups nobody knows. Groups are reported in the order
    of the first summary, then those of the second alone. ValueError as `summarise`."""
    checked_level(level)
    balls = balls or default_balls(by)
    summaries = [
        summarise(valued, by, balls, level=level, only=part) for valued, part in zip((first, second), only, strict=True)
    ]
    keys = _keys_of(summaries, by)
    shared = bool(set(first["round_id"]) & set(second["round_id"]))
    spans = list(zip((first, second), only, strict=True))
    by_group = [_sums(valued, part, (by, balls), keys) for valued, part in spans]
    at_all = [_sums(valued, part, (None, balls), [0]) for valued, part in spans]
    places = [round_places(valued, round_lengths(valued)) for valued in (first, second)]
    found, in_total = _differences(*by_group, level=level), _differences(*at_all, level=level)
    sides = [{row[by]: row for row in one.rows.to_dict("records")} for one in summaries]
    rows = [
        GroupCompared(
            key,
            sides[0].get(key),
            sides[1].get(key),
            _about(found, place, _rates(by_group, places, place)[0], shared=shared, level=level),
        )
        for place, key in enumerate(keys)
    ]
    both, without = _rates(at_all, places, 0)
    rated = ""
    if ratings.hardness and all(part is None for part in only):
        hard = [hardness_of(rates, ratings) for rates in both]
        both = TwoRates(*(rates._replace(strokes=rates.strokes + more) for rates, more in zip(both, hard, strict=True)))
        rated = AT_RATINGS if any(more.any() for more in hard) else ""
    total = TotalCompared(summaries[0].total, summaries[1].total, _about(in_total, 0, both, shared=shared, level=level))
    costs = costs_of(both, level, total.difference["lacking_adjusted"])
    rated = "" if total.difference["lacking_adjusted"] else rated
    words = " ".join(filter(None, (courses_words(both, without), rated, conditions_words(costs))))
    return Compared(by, summaries[0], summaries[1], rows, total, words, costs)


def _rates(sums: list[Sums], places: list[RoundPlaces], group: int) -> tuple[TwoRates, int]:
    """The rounds of a group in both spans, and how many have no course."""
    made = [
        rates_of(one.by_round.sums.strokes[group], one.by_round.parts[group], where)
        for one, where in zip(sums, places, strict=True)
    ]
    return TwoRates(made[0][0], made[1][0]), made[0][1] + made[1][1]


def _keys_of(summaries: list[Summary], by: str) -> list[Any]:
    """The groups of the first summary, then those of the second alone."""
    return list(dict.fromkeys(key for one in summaries for key in one.rows[by].tolist()))


class Sums(NamedTuple):
    """`by_shot`: sums by group and round of all the shots; `by_round`: those of the rounds that count."""

    by_shot: RoundSums
    by_round: OfRounds


def _sums(valued: pd.DataFrame, part: pd.Series | None, how: tuple[str | None, str], keys: list[Any]) -> Sums:
    """Sums of the shots that count, by the groups `keys`; of grouping None they are all of one group."""
    by, balls = how
    taken = valued[valued["strokes_gained"].notna() & (balls == ALL_BALLS or valued["ball"].eq(1))]
    if part is not None:
        taken = taken[part[taken.index]]
    places = {key: place for place, key in enumerate(keys)}
    place = pd.Series(0, index=taken.index) if by is None else group_keys(taken, by).astype("object").map(places)
    reported = place.notna().to_numpy()
    counted = taken[reported].assign(of_record=lambda shots: shots["ball"].eq(1))
    group = place.to_numpy(dtype=np.float64, na_value=0.0)[reported].astype(np.intp)
    codes, ids = pd.factorize(counted["round_id"])
    values = counted["strokes_gained"].to_numpy(dtype=np.float64)
    by_shot = round_sums(group, codes, values, len(keys), len(ids))
    return Sums(by_shot, of_rounds(group, counted, len(keys), by, round_lengths(valued)))


def _differences(first: Sums, second: Sums, *, level: float) -> dict[str, Floats]:
    """Differences per shot and per round with their ends, and `plenty`, 1 where both sides have the least shots and
    rounds; each shape (groups,)."""
    both = (first, second)
    plenty = [enough(one.by_shot.shots.sum(axis=1), (one.by_shot.shots > 0).sum(axis=1)) for one in both]
    found: dict[str, Floats] = {"plenty": (plenty[0] & plenty[1]).astype(np.float64)}
    means = [per_shot(one.by_shot, level) for one in both]
    freedoms = [freedom_per_shot(one.by_shot.shots) for one in both]
    found |= {"per_shot" + end: value for end, value in welch(means, freedoms, level).items()}
    means = [per_round(one.by_round.sums, level, counted=one.by_round.parts) for one in both]
    freedoms = [freedom_per_round(*one.by_round) for one in both]
    return found | {"per_round" + end: value for end, value in welch(means, freedoms, level).items()}


def welch(means: list[Intervals], freedoms: list[Floats], level: float) -> dict[str, Floats]:
    """The difference of two independent means: "" (first less second), "_low" and "_high", each shape (groups,)."""
    first, second = means
    squares = [mean.standard_error**2 for mean in means]
    both = squares[0] + squares[1]
    freedom = both**2 / sum(square**2 / each for square, each in zip(squares, freedoms, strict=True))
    reach = t_quantile(1 - (1 - level) / 2, freedom) * np.sqrt(both)
    difference = first.mean - second.mean
    return {"": difference, "_low": difference - reach, "_high": difference + reach}


def _about(found: dict[str, Floats], place: int, both: TwoRates, *, shared: bool, level: float) -> SpanDifference:
    """One group's difference, None where nothing is stated; without interval where the spans share rounds, too little
    is known, or the shots of a side are all alike; without one by the round where too few rounds are long enough.
    `both`: its rounds, to take courses and days out."""

    def stated(name: str) -> float | None:
        value = float(found[name][place])
        return None if np.isnan(value) else value

    lacking = None
    if stated("per_shot") is None:
        lacking = ONE_SIDE
    elif shared:
        lacking = SHARED
    elif stated("per_shot_low") is None:
        lacking = ALIKE if found["plenty"][place] else TOO_FEW
    sound = lacking is None
    short = SHORT_ROUNDS if stated("per_round_low") is None else None
    return {
        "per_shot": stated("per_shot"),
        "per_shot_low": stated("per_shot_low") if sound else None,
        "per_shot_high": stated("per_shot_high") if sound else None,
        "per_round": stated("per_round"),
        "per_round_low": stated("per_round_low") if sound else None,
        "per_round_high": stated("per_round_high") if sound else None,
        "lacking": lacking,
        "lacking_per_round": lacking or short,
        **adjusted_difference(both, level, lacking or short),
    }
