"""The difference of two spans adjusted for courses and days.

A harder course in one of two spans looks like worse play. With the span in the model of `course_model`, rounds on
courses that appear in both spans count most, and rounds on others as much as the likely spread of courses lets them.
Where no course appears in both and a span has one course alone, span and course are the same thing: nothing is stated.

Wind, temperature and firmness are taken out too where enough rounds of both spans recorded them (`conditions`).

"Better" and "worse" are reported at `SURE_LEVEL`, whatever the level of the interval beside it.
"""

from __future__ import annotations

from typing import Final, NamedTuple, TypedDict

import numpy as np

from server.analysis.evidence.conditions import condition_columns, condition_costs
from server.analysis.evidence.course_model import Figure, averaged
from server.analysis.evidence.intervals import ALIKE, DEFAULT_LEVEL, Floats
from server.analysis.evidence.level import Rates
from server.analysis.evidence.rows import ConditionCost
from server.game import numbers

SURE_LEVEL: Final = 0.95
"""Of the interval that must leave out 0 before one span is called better: with nothing changed at most one time in 20
either way. A stated choice."""

NO_COURSE: Final = "the rounds of a period have no course"
NONE_SHARED: Final = (
    "no course is in both periods, and one period has a single course: "
    "a harder course cannot be separated from worse play"
)
FEW: Final = "each period needs two rounds with a course, on two days"


class Adjusted(TypedDict):
    """The fields of a difference that give what is left of it."""

    adjusted: float | None
    adjusted_low: float | None
    adjusted_high: float | None
    chance_first_better: float | None
    lacking_adjusted: str | None


class TwoRates(NamedTuple):
    """The rounds of both spans with a course."""

    first: Rates
    second: Rates

    @property
    def shared(self) -> list[str]:
        """Courses in both spans."""
        return [name for name in self.first.names if name in self.second.names]


def lacking_of(both: TwoRates) -> str | None:
    """Why courses cannot be taken out of a difference; None where they can."""
    if any(not rates.names for rates in both):
        return NO_COURSE
    if any(rates.strokes.size < 2 or int(rates.day.max()) == 0 for rates in both):
        return FEW
    if not both.shared and min(len(rates.names) for rates in both) < 2:
        return NONE_SHARED
    return None


class Difference(NamedTuple):
    """The first span less the second, strokes for 18 holes, and what is taken out beside courses and days."""

    figure: Figure
    costs: list[ConditionCost]


def difference_of(both: TwoRates, level: float = DEFAULT_LEVEL) -> Difference | None:
    """The difference of two spans; None where the rounds are all alike. `level`: of the conditions' intervals."""
    names = list(dict.fromkeys([*both.first.names, *both.second.names]))
    course = [np.array([names.index(name) for name in rates.names])[rates.course] for rates in both]
    strokes, parts = (np.concatenate([rates[place] for rates in both]) for place in (0, 1))
    day = np.concatenate([both.first.day, both.second.day + int(both.first.day.max()) + 1])
    span = np.repeat([1.0, 0.0], [rates.strokes.size for rates in both])
    design = np.column_stack([np.ones(span.size), span])
    taken = condition_columns(_conditions(both), design, span.astype(np.intp))
    where = np.concatenate(course), day, parts
    found = averaged(strokes, design, *where, held=taken.columns, precision=taken.precision)
    if found is None:
        return None
    weights = np.zeros(found.fixed.shape[1])
    weights[1] = 1.0
    return Difference(found.contrast(weights), condition_costs(found, taken, design.shape[1], level))


def _conditions(both: TwoRates) -> Floats | None:
    """The conditions of the rounds of both spans; None where one has none."""
    first, second = both.first.conditions, both.second.conditions
    return None if first is None or second is None else np.concatenate([first, second])


def costs_of(both: TwoRates, level: float, lacking: str | None = None) -> list[ConditionCost]:
    """The conditions that are taken out of the difference. `lacking`: why there is no difference."""
    found = None if lacking or lacking_of(both) else difference_of(both, level)
    return [] if found is None else found.costs


def adjusted_difference(both: TwoRates, level: float, lacking: str | None = None) -> Adjusted:
    """The difference as fields. `lacking`: why there is none for another reason."""
    lacking = lacking or lacking_of(both)
    found = None if lacking else difference_of(both, level)
    if found is None:
        return {
            "adjusted": None,
            "adjusted_low": None,
            "adjusted_high": None,
            "chance_first_better": None,
            "lacking_adjusted": lacking or ALIKE,
        }
    low, high = found.figure.interval(level)
    return {
        "adjusted": found.figure.mean,
        "adjusted_low": low,
        "adjusted_high": high,
        "chance_first_better": 1 - found.figure.chance_below(0.0),
        "lacking_adjusted": None,
    }


def is_sure(chance: float | None) -> bool:
    """Whether "better" or "worse" may be reported. `chance`: of better, 0 to 1, None where nothing can be stated."""
    return chance is not None and max(chance, 1 - chance) > (1 + SURE_LEVEL) / 2


def courses_words(both: TwoRates, without: int) -> str:
    """On which courses the spans were played, and what that means for their difference."""
    lacking, shared = lacking_of(both), both.shared
    parts = []
    if lacking:
        parts.append(f"The difference is not adjusted for courses: {lacking}.")
    elif not shared:
        parts.append(
            "No course is in both periods: how much courses may differ is in the interval, which is wide for that."
        )
    elif sorted(both.first.names) == sorted(both.second.names):
        one = "the same course" if len(shared) == 1 else f"the same {len(shared)} courses"
        parts.append(f"Both periods were played on {one}.")
    else:
        one = "one course" if len(shared) == 1 else f"{len(shared)} courses"
        parts.append(f"Courses differ between the periods, {one} in both: the difference is adjusted for them.")
    if without:
        parts.append(f"Rounds left out of it for want of a course: {without}.")
    return " ".join(parts)


def verdict(found: Adjusted, level: float) -> str:
    """Whether the first span was better, adjusted for courses and days."""
    middle, low, high = found["adjusted"], found["adjusted_low"], found["adjusted_high"]
    if middle is None or low is None or high is None:
        return f"No result adjusted for courses: {found['lacking_adjusted']}."
    size = f"{numbers.plain(abs(middle), 1)} strokes a round"
    ends = f"{100 * level:g} % interval {numbers.signed(low, 1)} to {numbers.signed(high, 1)}"
    direction = "better" if middle > 0 else "worse"
    if is_sure(found["chance_first_better"]):
        return f"Period 2 was {direction} by {size}, adjusted for courses and days ({ends})."
    if low > 0 or high < 0:
        return f"Period 2 was perhaps {direction} by {size}, adjusted for courses and days ({ends}): not clear enough."
    return f"No clear difference, adjusted for courses and days ({numbers.signed(middle, 1)}, {ends})."
