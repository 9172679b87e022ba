"""How much of a player's mean over rounds may be the courses' doing: what a loss against a baseline must exceed.

With shares w_j of the rounds on courses of effects c_j, the mean over rounds is off the mean on an average course by
m = sum_j w_j c_j. Its likely value comes from the predicted effects (a hard course that was played oftenest), its
spread is at most s_c sqrt(sum_j w_j^2): the courses played may all be hard together, which the rounds on them cannot
show. The spread of courses s_c is that of `course_model` over k courses, pooled with `COURSE_SD`, which weighs as
`PRIOR_FREEDOM` further courses beside k - 1; with one course it is used alone. Rounds without a course are taken as
rounds on one more course.

A part of the game takes its share of m by its share of the shots: a stated choice.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.course_model import averaged
from server.analysis.evidence.intervals import Floats
from server.analysis.evidence.level import RoundPlaces, round_places
from server.analysis.evidence.round_lengths import RoundLengths
from server.game.numbers import plain

COURSE_SD: Final = 2.5
"""Strokes a round of 18 holes by which courses differ beyond their lengths, if rounds cannot show it. A stated choice:
common practice, no source."""


PRIOR_FREEDOM: Final = 2.0
"""A stated choice, made by simulation: with three courses, one of them 2 strokes harder, what was learnt alone named
something in 13 % of 150 seasons of 40 rounds."""


class Allowance(NamedTuple):
    """Strokes a round of 18 holes: `mean`, what the courses played are likely to add beside the average course, and
    `sd`, how sure that is. `courses`: how many; `known`: whether their spread was learnt from rounds."""

    mean: float
    sd: float
    courses: int
    known: bool

    @property
    def words(self) -> str:
        """What is allowed for."""
        where = "one course" if self.courses == 1 else f"{self.courses} courses"
        source = "" if self.known else " (an assumption, with only one course)"
        return (
            f"Played on {where}: the intervals allow for some {plain(self.sd, 1)} strokes a round that "
            f"{'it' if self.courses == 1 else 'they'} may be harder or easier than the average course{source}."
        )


NOTHING: Final = Allowance(0.0, 0.0, 1, known=True)
"""Where the courses played add nothing."""


def allowance(valued: pd.DataFrame, lengths: RoundLengths, strokes: Floats, weights: Floats | None = None) -> Allowance:
    """The allowance of rounds that count. `valued`: as `attribute` returns it; `strokes`: strokes gained of the ball of
    record in each round, in the order of `lengths.holes`, shape (rounds,); `weights`: as in `allowance_of_rounds`."""
    return allowance_of_rounds(round_places(valued, lengths), lengths.parts, strokes, weights)


def allowance_of_rounds(
    places: RoundPlaces, parts: Floats, strokes: Floats, weights: Floats | None = None
) -> Allowance:
    """The same out of sums by round: `parts` of 18 holes and `strokes` in the order of `places`, shape (rounds,).
    `weights`: how each round weighs in the figure, same shape: by its length in the mean over all rounds, which is the
    default; in a difference of two means they sum to 0, and a course with the same share in both adds nothing."""
    # rounds without a course are as on one more
    course = np.unique(pd.factorize(places.course)[0], return_inverse=True)[1]
    day = np.unique(places.day, return_inverse=True)[1]
    courses = int(course.max()) + 1
    weights = parts / parts.sum() if weights is None else weights
    shares = np.bincount(course, weights=weights, minlength=courses)
    known = 1 < courses < parts.size
    found = averaged(strokes / parts, np.ones((parts.size, 1)), course, day, parts) if known else None
    if found is None:
        return Allowance(0.0, COURSE_SD * float(np.sqrt((shares**2).sum())), courses, known=False)
    mean = float(found.chances @ (found.effects @ shares))
    pooled = PRIOR_FREEDOM * COURSE_SD**2 + (courses - 1) * found.course_sd**2
    spread = float(np.sqrt(pooled / (PRIOR_FREEDOM + courses - 1)))
    return Allowance(mean, spread * float(np.sqrt((shares**2).sum())), courses, known=True)
