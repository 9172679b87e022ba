"""Two players side by side: how many strokes a round one gains on the other, adjusted for courses and days.

The difference is that of `adjusted_spans`, with players in place of spans: courses both played count most, others as
much as the likely spread of courses lets them. Nobody is drawn towards anybody.

Each difference has two intervals: of one row at a time, and of all rows together, each row at
1 - (1 - level) / rows (Bonferroni), so that the chance of any interval missing is at most that of one. Somebody is
called better only where the interval of all rows together leaves out 0, and at `SURE_LEVEL` at least: of two players
alike at most one pair in ten is separated in anything.
"""

from __future__ import annotations

from typing import Final

from server.analysis.evidence.adjusted_spans import FEW as FEW_IN_A_SPAN
from server.analysis.evidence.adjusted_spans import NO_COURSE as NO_COURSE_IN_A_SPAN
from server.analysis.evidence.adjusted_spans import TwoRates, difference_of, is_sure, lacking_of
from server.analysis.evidence.intervals import ALIKE, DEFAULT_LEVEL, Flags, checked_level
from server.analysis.evidence.rows import PairPart
from server.analysis.evidence.tallies import TOTAL, Tally

FEW: Final = "each of the two needs two rounds of nine holes or more with a course, on two days"
NO_COURSE: Final = "one of the two has no round of nine holes or more with a course"
NONE_SHARED: Final = (
    "no course was played by both, and one of the two has a single course: a harder course cannot be separated from "
    "worse play"
)
NO_SHOT: Final = "no such shot"
OTHER_SCHEME: Final = "the two do not count in the same categories"
NOT_SEPARATED: Final = "not separated"
CANNOT_SAY: Final = "not clear"
A_BETTER: Final = "a better"
B_BETTER: Final = "b better"
VERDICTS: Final = (A_BETTER, B_BETTER, NOT_SEPARATED, CANNOT_SAY)

_WORDS: Final = {FEW_IN_A_SPAN: FEW, NO_COURSE_IN_A_SPAN: NO_COURSE}


def pair_parts(a: Tally, b: Tally, chosen: tuple[Flags, Flags], level: float = DEFAULT_LEVEL) -> list[PairPart]:
    """All strokes, then each category where both count in the same ones: a less b, strokes for 18 holes. `chosen`: the
    rounds of each, shape (rounds,). ValueError for a level outside its range."""
    checked_level(level)
    parts = (TOTAL, *(a.categories if a.categories == b.categories else ()))
    return [_part(a, b, chosen, part, level, len(parts)) for part in parts]


def _part(a: Tally, b: Tally, chosen: tuple[Flags, Flags], part: str, level: float, rows: int) -> PairPart:
    both = TwoRates(a.rates(chosen[0], part)[0], b.rates(chosen[1], part)[0])
    lacking = lacking_of(both)
    lacking = NONE_SHARED if lacking and lacking not in _WORDS else _WORDS.get(lacking or "")
    if lacking is None and not all(one.has_shots(where, part) for one, where in ((a, chosen[0]), (b, chosen[1]))):
        lacking = NO_SHOT
    found = None if lacking else difference_of(both)
    row: PairPart = {
        "part": part,
        "mean_a": _mean(a, chosen[0], part),
        "mean_b": _mean(b, chosen[1], part),
        "difference": None,
        "low": None,
        "high": None,
        "together_low": None,
        "together_high": None,
        "chance_a_better": None,
        "verdict": CANNOT_SAY,
        "lacking": lacking or (ALIKE if found is None else None),
    }
    if found is None:
        return row
    figure = found.figure
    low, high = figure.interval(level)
    wide_low, wide_high = figure.interval(min(1 - (1 - level) / rows, _WIDEST))
    chance = 1 - figure.chance_below(0.0)
    clear = is_sure(chance) and (wide_low > 0 or wide_high < 0) and (low > 0 or high < 0)
    return {
        **row,
        "difference": figure.mean,
        "low": low,
        "high": high,
        "together_low": wide_low,
        "together_high": wide_high,
        "chance_a_better": chance,
        "verdict": (A_BETTER if figure.mean > 0 else B_BETTER) if clear else NOT_SEPARATED,
    }


_WIDEST: Final = 0.998


def _mean(tally: Tally, chosen: Flags, part: str) -> float | None:
    """Strokes gained for 18 holes as played; None without a round or a shot."""
    return tally.mean(chosen, part) if tally.has_shots(chosen, part) else None
