"""How well forecasts of scores came true: where each score fell in its forecast, how often ranges contained it, and
whether the forecast beats a naive one.

The place of a score y in its forecast F is drawn evenly from F(y - 1) to F(y), so that places are even between 0
and 1 when forecasts are right (probability integral transform: T. Gneiting, F. Balabdaoui and A. E. Raftery, JRSS B 69
(2007) 243-268, section 3.1; the draw within a step: P. K. Dunn and G. K. Smyth, J. Comp. Graph. Statistics 5 (1996)
236-244, read in the manual of R's package regressinator). The continuous ranked probability score in strokes is the sum
of (F(x) - [x >= y])^2 over integers x; less is better (T. Gneiting and A. E. Raftery, JASA 102 (2007) 359-378).

The naive forecast is a normal with mean and standard deviation of the player's earlier scores beside par on the course.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import stats
from scipy.special import ndtr

from server.analysis.expected_strokes.curves import Floats

COVERAGES: Final = (0.2, 0.35, 0.5, 0.65, 0.8, 0.9)
BINS: Final = 5
LEAST_NAIVE: Final = 3
FEW: Final = 10
"""With fewer rounds nothing is known of calibration: 80 % ranges of 10 right forecasts contain 6 to 10 scores."""
BAND: Final = 0.9
NO_CHANCE: Final = 1e-9
"""A score with less than this chance has a place and no width."""


@dataclass(frozen=True, eq=False)
class Forecast:
    """The forecast of one round and what came: chances of 0, 1, ... strokes, the score, and the naive forecast, None
    where the player had too few rounds before."""

    chances: Floats
    score: int
    naive: Floats | None

    def place(self, share: float) -> float:
        """Where the score fell, 0 to 1; `share`: which part of its own chance counts as below it."""
        below = float(self.chances[: self.score].sum())
        return below + share * (float(self.chances[self.score]) if self.score < self.chances.size else 0.0)


def crps(chances: Floats, score: int) -> float:
    """The continuous ranked probability score of a forecast over 0, 1, ..., strokes.

    >>> crps(np.array([0.0, 0.5, 0.5]), 1)
    0.25
    """
    size = max(chances.size, score + 1)
    reached = np.ones(size)
    reached[: chances.size] = np.cumsum(chances)
    return float(((reached - (np.arange(size) >= score)) ** 2).sum())


def naive_forecast(over_par: Floats, par: int, part: float = 1.0, size: int = 300) -> Floats | None:
    """The naive forecast over 0, 1, ... strokes out of earlier scores beside par for 18 holes; `part`: holes of this
    round as a share of 18. None where there are too few, or all are equal."""
    if over_par.size < LEAST_NAIVE or float(over_par.std(ddof=1)) == 0:
        return None
    mean, spread = par + part * float(over_par.mean()), np.sqrt(part) * float(over_par.std(ddof=1))
    reached = ndtr((np.arange(size) + 0.5 - mean) / spread)
    reached[-1] = 1.0
    return np.asarray(np.diff(reached, prepend=0.0), dtype=np.float64)


def places(forecasts: list[Forecast], seed: int = 0) -> Floats:
    """Where the scores fell in their forecasts, each drawn within its own chance (n,)."""
    rng = np.random.default_rng(seed)
    return np.array([one.place(float(share)) for one, share in zip(forecasts, rng.random(len(forecasts)), strict=True)])


def covered(forecasts: list[Forecast], coverage: float) -> float:
    """The share of scores in the middle `coverage` of their forecasts; a score at the edge counts with the part of its
    chance that lies inside, so that right forecasts cover exactly so much on average."""
    low, high = (1 - coverage) / 2, (1 + coverage) / 2
    found = []
    for one in forecasts:
        first, last = one.place(0.0), one.place(1.0)
        inside = max(min(last, high) - max(first, low), 0.0)
        found.append(inside / (last - first) if last > first else float(low <= first <= high))
    return float(np.mean(found))


def band(count: int, coverage: float) -> tuple[float, float]:
    """Between which shares of `count` rounds chance alone keeps 9 in 10 of right forecasts' coverages."""
    low, high = stats.binom.ppf([(1 - BAND) / 2, (1 + BAND) / 2], count, coverage)
    return float(low) / count, float(high) / count


def histogram(forecasts: list[Forecast]) -> list[float]:
    """How many scores fell in each fifth of their forecasts; one on an edge counts in parts."""
    edges = np.linspace(0, 1, BINS + 1)
    found = np.zeros(BINS)
    for one in forecasts:
        first, last = one.place(0.0), one.place(1.0)
        if last - first < NO_CHANCE:
            found[min(int(first * BINS), BINS - 1)] += 1
        else:
            found += np.maximum(np.minimum(edges[1:], last) - np.maximum(edges[:-1], first), 0.0) / (last - first)
    return [float(one) for one in found]
