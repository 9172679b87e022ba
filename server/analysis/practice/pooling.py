"""What practice shows of the course: figures of both sources put together without trusting that both are alike.

Range balls, mats, no pressure: a club's practice differs from its course by a shift that nobody knows. Where rounds
give a figure with its interval, that figure is used: no interval can be narrower than the course's own and hold the
truth as often whatever the shift is (A. Kopp-Schneider, S. Calderazzo and M. Wiesenfarth, Biometrical Journal 62, 2020,
361-374). Tried and refused: pooling by precisions with the shift of the other clubs believed beforehand, practice
weighing at most one half, and given up where the club's own shift contradicts it: with a club whose shift lay two
standard errors of its course off the others' the 90 % interval held the truth 71 times of 100.

Where rounds do not give it yet, practice does, by the shifts of the player's other clubs where both sources give the
figure, d_1 ... d_K, practice less course:

    course ~ practice - mean(d),   half width  sqrt((z s_practice)^2 + t^2 s_d^2 (1 + 1 / K))

s_d: the standard deviation of the K shifts, their own errors in it; t, z: the quantiles of Student's t with K - 1
degrees of freedom and of the normal. So it is the prediction of a further shift of the same family (J. P. T. Higgins,
S. G. Thompson and D. J. Spiegelhalter, J. R. Statist. Soc. A 172, 2009, 137-159), as what is believed beforehand of the
course (B. Neuenschwander, G. Capkun-Niglio, M. Branson and D. J. Spiegelhalter, Clinical Trials 7, 2010, 5-18). Below
`LEAST_OTHERS` other clubs nothing is stated.

All in a scale in which shifts of clubs are alike: shares in logits, spreads and lengths in logarithms, finishes in
shares of the target. `tests/analysis/test_practice_pooling.py` measures how often the course's truth is held where both
sources differ.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special, stats

from server.analysis.patterns.spread import LEVEL, Figure

LEAST_OTHERS: Final = 4
"""Other clubs whose shift is known, from which on a further one can be predicted."""
SHARE_EDGE: Final = 0.002
"""Shares nearer to 0 or 1 count as this far from it in logits."""


@dataclass(frozen=True)
class Scale:
    """A scale in which shifts of clubs are alike, and the way back. Both rise."""

    to: Callable[[float], float]
    back: Callable[[float], float]


def proportional(size: float) -> Scale:
    """In shares of a size, such as the target in yards."""
    return Scale(lambda value: value / size, lambda value: value * size)


PLAIN: Final = Scale(float, float)
LOG: Final = Scale(lambda value: float(np.log(max(value, 1e-9))), lambda value: float(np.exp(value)))
LOGIT: Final = Scale(
    lambda value: float(special.logit(min(max(value, SHARE_EDGE), 1 - SHARE_EDGE))),
    lambda value: float(special.expit(value)),
)


@dataclass(frozen=True)
class Estimate:
    """A figure in its scale: `middle` and standard error `error`."""

    middle: float
    error: float


def estimate(figure: Figure, scale: Scale = PLAIN, level: float = LEVEL) -> Estimate | None:
    """The figure in its scale; None without an interval. The error is the wider half of the interval by the normal
    quantile, so that few rounds count as few."""
    if figure.value is None or figure.low is None or figure.high is None:
        return None
    low, high = scale.to(figure.low), scale.to(figure.high)
    middle = min(max(scale.to(figure.value), low), high)
    error = max(high - middle, middle - low) / float(stats.norm.ppf((1 + level) / 2))
    return Estimate(middle, error) if np.isfinite(error) and error > 0 else None


def shift_of(course: Figure, practice: Figure, scale: Scale = PLAIN) -> float | None:
    """Practice less course in the scale; None where one of them has no interval."""
    one, other = estimate(course, scale), estimate(practice, scale)
    return None if one is None or other is None else other.middle - one.middle


def pooled(
    course: Figure, practice: Figure, shifts: Sequence[float], scale: Scale = PLAIN, level: float = LEVEL
) -> Figure:
    """The figure of the course: its own where it has an interval, else what practice shows of it. `shifts`: of the
    player's other clubs, shape (K,), never of this one. `n` counts the balls that it rests on."""
    known, beside = estimate(course, scale, level), estimate(practice, scale, level)
    if known is not None or beside is None or len(shifts) < LEAST_OTHERS:
        return course
    others = len(shifts)
    believed = beside.middle - float(np.mean(shifts))
    of_practice = float(stats.norm.ppf((1 + level) / 2)) * beside.error
    of_shift = float(stats.t.ppf((1 + level) / 2, others - 1)) * float(np.std(shifts, ddof=1)) * (1 + 1 / others) ** 0.5
    half = float(np.hypot(of_practice, of_shift))
    return Figure(scale.back(believed), scale.back(believed - half), scale.back(believed + half), practice.n)


def difference(practice: Figure, course: Figure, scale: Scale = PLAIN, level: float = LEVEL) -> Figure:
    """Practice less course on the scale itself: half widths add as squares (balls of a session and of a round are never
    the same). Without an interval where one of them has none."""
    count = practice.n + course.n
    if practice.value is None or course.value is None:
        return Figure(None, None, None, count)
    value = scale.to(practice.value) - scale.to(course.value)
    one, other = estimate(practice, scale, level), estimate(course, scale, level)
    if one is None or other is None:
        return Figure(value, None, None, count)
    half = float(stats.norm.ppf((1 + level) / 2)) * (one.error**2 + other.error**2) ** 0.5
    middle = one.middle - other.middle
    return Figure(middle, middle - half, middle + half, count)
