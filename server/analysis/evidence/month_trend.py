"""Form over the months: a straight line through the rounds, adjusted for courses and days.

The slope in strokes gained a month is in the model of `course_model` beside the level, so that a hard course played
late in the season is no worse form. "Better" and "worse" are reported at `SURE_LEVEL` of `adjusted_spans`, whatever the
level of the interval beside it. Form that comes and goes is no line: the interval is about the line alone.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.adjusted_spans import is_sure
from server.analysis.evidence.conditions import condition_columns, condition_costs, conditions_words
from server.analysis.evidence.course_model import averaged
from server.analysis.evidence.intervals import ALIKE, DEFAULT_LEVEL, checked_level
from server.analysis.evidence.level import NO_COURSE, Rates, round_rates
from server.analysis.evidence.rows import MonthTrend
from server.game.numbers import plain, signed

LEAST_ROUNDS: Final = 6
LEAST_MONTHS: Final = 1.0
FEW: Final = f"at least {LEAST_ROUNDS} rounds with a course, over a month or more, are needed"
APART: Final = "each course was played on one day: a course cannot be separated from the season"


def month_trend(valued: pd.DataFrame, level: float = DEFAULT_LEVEL) -> MonthTrend:
    """The slope of strokes gained for 18 holes, a month.

    `valued`: as `attribute` returns it, with `course` and `played_on`. ValueError for a level outside its range.
    """
    rates, without = round_rates(valued)
    return stated_trend(rates, without, level)


def stated_trend(rates: Rates, without_course: int, level: float = DEFAULT_LEVEL) -> MonthTrend:
    """The same out of rounds. `without_course`: how many were left out."""
    checked_level(level)
    rounds, time = rates.strokes.size, rates.month
    months = float(np.ptp(time)) if rounds else 0.0
    row: MonthTrend = {
        "rounds": rounds,
        "without_course": without_course,
        "courses": len(rates.names),
        "months": months,
        "a_month": None,
        "low": None,
        "high": None,
        "chance_better": None,
        "conditions": [],
        "lacking": _lacking(rates, months, without_course),
        "words": "",
    }
    if row["lacking"]:
        return {**row, "words": f"No trend: {row['lacking']}."}
    design = np.column_stack([np.ones(rounds), time])
    taken = condition_columns(rates.conditions, design, (time > np.median(time)).astype(np.intp))
    found = averaged(
        rates.strokes,
        design,
        rates.course,
        rates.day,
        rates.parts,
        held=taken.columns,
        precision=taken.precision,
    )
    if found is None:
        return {**row, "lacking": ALIKE, "words": f"No trend: {ALIKE}."}
    slope = found.contrast([0.0, 1.0, *np.zeros(taken.columns.shape[1])])
    low, high = slope.interval(level)
    chance = 1 - slope.chance_below(0.0)
    row = {**row, "a_month": slope.mean, "low": low, "high": high, "chance_better": chance}
    row["conditions"] = condition_costs(found, taken, design.shape[1], level)
    words = _words(slope.mean, (low, high), chance, level)
    return {**row, "words": f"{words} {conditions_words(row['conditions'])}".strip()}


def _lacking(rates: Rates, months: float, without_course: int) -> str | None:
    if not rates.names:
        return NO_COURSE if without_course else FEW
    if rates.strokes.size < LEAST_ROUNDS or months < LEAST_MONTHS:
        return FEW
    one_day = all(np.ptp(rates.month[rates.course == place]) == 0 for place in range(len(rates.names)))
    return APART if one_day and len(rates.names) < LEAST_ROUNDS else None


def _words(middle: float, ends: tuple[float, float], chance: float, level: float) -> str:
    """Whether form rose or fell, adjusted for courses and days."""
    low, high = ends
    interval = f"{100 * level:g} % interval {signed(low, 1)} to {signed(high, 1)}"
    verdict = "Better" if middle > 0 else "Worse"
    if is_sure(chance):
        size = f"{plain(abs(middle), 1)} strokes a round each month"
        return f"{verdict} by {size}, adjusted for courses and days ({interval})."
    size = f"{signed(middle, 1)} strokes a round each month, {interval}"
    if low > 0 or high < 0:
        return f"Perhaps {verdict.lower()}, adjusted for courses and days ({size}): not clear enough."
    return f"No clear trend, adjusted for courses and days ({size})."
