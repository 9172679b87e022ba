"""Intervals of the figures of a pattern: means, standard deviations, shares, medians, of shots that come in rounds.

All are two-sided at 90 % unless asked otherwise. Shots of one round are not independent, so means and shares take the
round as the unit; a spread's interval takes shots as independent and their tails as they are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from scipy import stats

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.rows import FigureRow

LEVEL: Final = 0.90
FEWEST_SHOTS: Final = 5
FEWEST_ROUNDS: Final = 2
"""Below these nothing is stated of an interval."""
FEWEST_FOR_SPREAD: Final = 10
"""Below these the interval of a spread is too wide to be of use. A choice of this tool."""
TAIL_SHOTS: Final = 8.0
"""Shots for one degree of freedom of a spread's interval; set by simulation of patterns with mishits, see there."""


@dataclass(frozen=True)
class Figure:
    """A value with its interval; `low` and `high` are missing where nothing can be stated. `n`: shots behind it."""

    value: float | None
    low: float | None
    high: float | None
    n: int

    def through(self, way: Callable[[float], float]) -> Figure:
        """The figure in another scale; `way` rises."""
        value, low, high = (None if end is None else way(end) for end in (self.value, self.low, self.high))
        return Figure(value, low, high, self.n)

    def as_dict(self) -> FigureRow:
        """The figure in a document."""
        return {"value": self.value, "low": self.low, "high": self.high, "n": self.n}


def _clean(values: Any, rounds: Any) -> tuple[Floats, np.ndarray]:
    numbers = np.asarray(values, dtype=np.float64)
    codes, _ = pd.factorize(np.asarray(rounds, dtype=object))
    known = np.isfinite(numbers)
    return numbers[known], codes[known]


def _too_few(numbers: Floats, codes: np.ndarray) -> bool:
    return numbers.size < FEWEST_SHOTS or np.unique(codes).size < FEWEST_ROUNDS


def _cluster_variance(numbers: Floats, codes: np.ndarray) -> tuple[float, int]:
    """Variance of the mean with rounds as clusters, G/(G-1) sum over rounds of (sum of residuals)^2 / n^2; and G."""
    sums = np.bincount(codes, weights=numbers - numbers.mean())
    count = int(np.unique(codes).size)
    return float(count / (count - 1) * np.sum(sums**2) / numbers.size**2), count


def mean_figure(values: Any, rounds: Any, level: float = LEVEL) -> Figure:
    """Mean of shots with a t interval whose degrees of freedom are rounds - 1. `values`, `rounds`: (n,); NaN left out.

    The variance is the larger of the clustered and the plain one: with few rounds the clustered one is too small.
    """
    numbers, codes = _clean(values, rounds)
    if numbers.size == 0:
        return Figure(None, None, None, 0)
    mean = float(numbers.mean())
    if _too_few(numbers, codes):
        return Figure(mean, None, None, int(numbers.size))
    clustered, count = _cluster_variance(numbers, codes)
    variance = max(clustered, float(numbers.var(ddof=1)) / numbers.size)
    half = float(stats.t.ppf((1 + level) / 2, count - 1)) * variance**0.5
    return Figure(mean, mean - half, mean + half, int(numbers.size))


def spread_figure(values: Any, rounds: Any, level: float = LEVEL) -> Figure:
    """Standard deviation (n - 1) with an interval that allows for long tails.

    After Bonett; its coverage is measured by simulation in the tests:
    exp(ln(c s^2) +- z c sqrt((g - (n - 3)/n)/(n - 1))), c = n/(n - z), g = n sum(x - m)^4 / (sum(x - mean)^2)^2 with
    m the mean trimmed by 1/(2 sqrt(n - 4)) on each side. Instead of Bonett's normal quantile z is the t quantile
    with n / 8 degrees of freedom: of rare mishits a few shots show little, and with the normal quantile the interval
    held the truth of a pattern with 8 % mishits only 79 of 100 times at 20 and 30 shots.
    """
    numbers, codes = _clean(values, rounds)
    n = int(numbers.size)
    if n < 2:
        return Figure(None, None, None, n)
    sd = float(numbers.std(ddof=1))
    if _too_few(numbers, codes) or n < FEWEST_FOR_SPREAD or sd == 0:
        return Figure(sd, None, None, n)
    z = float(stats.t.ppf((1 + level) / 2, max(2.0, n / TAIL_SHOTS)))
    trimmed = float(stats.trim_mean(numbers, min(0.45, 1 / (2 * (n - 4) ** 0.5))))
    fourth = n * float(np.sum((numbers - trimmed) ** 4)) / float(np.sum((numbers - numbers.mean()) ** 2)) ** 2
    c = n / max(n - z, 1.0)
    half = z * c * max(0.0, (fourth - (n - 3) / n) / (n - 1)) ** 0.5
    return Figure(sd, float(np.sqrt(c * np.exp(-half))) * sd, float(np.sqrt(c * np.exp(half))) * sd, n)


def share_figure(flags: Any, rounds: Any, level: float = LEVEL) -> Figure:
    """Share of shots with a flag (1, 0, NaN left out), Wilson's interval on the shots that the rounds are worth.

    Where rounds differ more than chance, n is divided by the design effect: clustered over binomial variance, at least
    1. Source: Wilson, JASA 22 (1927); Kish, Survey Sampling (1965) for the design effect.
    """
    numbers, codes = _clean(flags, rounds)
    n = int(numbers.size)
    if n == 0:
        return Figure(None, None, None, 0)
    share = float(numbers.mean())
    if _too_few(numbers, codes):
        return Figure(share, None, None, n)
    effective = float(n)
    if 0 < share < 1:
        clustered, _ = _cluster_variance(numbers, codes)
        effective = n / max(1.0, clustered / (share * (1 - share) / n))
    z = float(stats.norm.ppf((1 + level) / 2))
    middle = (share + z**2 / (2 * effective)) / (1 + z**2 / effective)
    half = z / (1 + z**2 / effective) * (share * (1 - share) / effective + z**2 / (4 * effective**2)) ** 0.5
    return Figure(share, max(0.0, middle - half), min(1.0, middle + half), n)


def median_figure(values: Any, rounds: Any, level: float = LEVEL) -> Figure:
    """Median with the interval between two order statistics that holds it with at least `level` (binomial, exact for
    independent shots)."""
    numbers, codes = _clean(values, rounds)
    n = int(numbers.size)
    if n == 0:
        return Figure(None, None, None, 0)
    middle = float(np.median(numbers))
    place = int(stats.binom.ppf((1 - level) / 2, n, 0.5))
    if _too_few(numbers, codes) or place < 1:
        return Figure(middle, None, None, n)
    ordered = np.sort(numbers)
    return Figure(middle, float(ordered[place - 1]), float(ordered[n - place]), n)


def session_median(values: Any, sessions: Any, level: float = LEVEL) -> Figure:
    """Median of practice balls, sessions as clusters; values and sessions of shape (n,).

    The ends are the quantiles at one half -+ t times the clustered standard error of the share below the median, with t
    of sessions - 1 degrees of freedom (R. S. Woodruff, JASA 47, 1952, 635-646). No interval below 5 balls in 2
    sessions, nor where it would reach past the balls.
    """
    numbers, codes = _clean(values, sessions)
    n = int(numbers.size)
    if n == 0:
        return Figure(None, None, None, 0)
    middle = float(np.median(numbers))
    clusters = int(np.unique(codes).size)
    if _too_few(numbers, codes):
        return Figure(middle, None, None, n)
    below = (numbers < middle) + 0.5 * (numbers == middle) - 0.5
    sums = np.bincount(codes, weights=below)
    clustered = clusters / (clusters - 1) * float((sums**2).sum()) / n**2
    half = float(stats.t.ppf((1 + level) / 2, clusters - 1)) * max(clustered, 0.25 / n) ** 0.5
    if half >= 0.5:
        return Figure(middle, None, None, n)
    low, high = (float(end) for end in np.quantile(numbers, (0.5 - half, 0.5 + half)))
    return Figure(middle, low, high, n)
