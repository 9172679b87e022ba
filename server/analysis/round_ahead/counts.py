"""Distributions of strokes, integers: tilted to a mean, added up, read off.

A distribution is an array over 1, 2, ... K strokes, or over 0, 1, ... of a sum. Tilting multiplies the chance of k
strokes by exp(t k) and keeps everything else of the shape; t is chosen so that the mean is the one that is asked for
(exponential tilting; M. J. Wurm and P. J. Rathouz, R Journal 10(1) (2018) 288-307, first section).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from server.analysis.expected_strokes.curves import Floats

MOST_STROKES: Final = 15
"""Strokes on one hole; what would be more counts as so many."""
STROKES: Final = np.arange(1, MOST_STROKES + 1, dtype=np.float64)
STEEPEST: Final = 12.0
STEPS: Final = 481
NEWTON: Final = 3


def tilted(base: Floats, means: Floats) -> Floats:
    """The distribution `base` over 1 to K strokes, (K,), tilted to each mean (n,): (n, K). Means beyond what the shape
    allows give the nearest that it does."""
    strokes = np.arange(1, base.size + 1, dtype=np.float64)
    log = np.log(np.maximum(base, 1e-300))
    steps = np.linspace(-STEEPEST, STEEPEST, STEPS)
    table = _tilted_by(log, steps, strokes) @ strokes
    held = np.clip(means, table[0], table[-1])
    t = np.interp(held, table, steps)
    for _ in range(NEWTON):
        found = _tilted_by(log, t, strokes)
        mean = found @ strokes
        variance = found @ strokes**2 - mean**2
        t = np.clip(t + np.clip((held - mean) / np.maximum(variance, 1e-6), -1.0, 1.0), -STEEPEST, STEEPEST)
    return _tilted_by(log, t, strokes)


def _tilted_by(log: Floats, t: Floats, strokes: Floats) -> Floats:
    raised = log + t[:, None] * strokes
    raised -= raised.max(axis=1, keepdims=True)
    found = np.exp(raised)
    return np.asarray(found / found.sum(axis=1, keepdims=True))


def tilted_together(holes: Floats, shifts: Floats) -> tuple[Floats, Floats]:
    """Holes (h, K) tilted by one and the same t so that their means add up to `shifts` (n,) more: the holes (n, h, K)
    and the sum of their means that was reached (n,)."""
    strokes = np.arange(1, holes.shape[1] + 1, dtype=np.float64)
    log = np.log(np.maximum(holes, 1e-300))
    steps = np.linspace(-2.0, 2.0, 161)
    sums = np.array([(_tilted_rows(log, t, strokes) @ strokes).sum() for t in steps])
    before = float((holes @ strokes).sum())
    t = np.interp(before + shifts, sums, steps)
    found = np.array([_tilted_rows(log, one, strokes) for one in t])
    return found, np.asarray((found @ strokes).sum(axis=1))


def _tilted_rows(log: Floats, t: float, strokes: Floats) -> Floats:
    return _normed(np.exp(log + t * strokes - (log + t * strokes).max(axis=1, keepdims=True)))


def _normed(rows: Floats) -> Floats:
    return np.asarray(rows / rows.sum(axis=-1, keepdims=True))


def summed(holes: Floats) -> Floats:
    """The distribution of the sum of independent holes, (h, K) over 1 to K each: over 0, 1, ... h K strokes."""
    found = np.ones(1)
    for hole in holes:
        found = np.convolve(found, np.concatenate(([0.0], hole)))
    return found


def mean_and_variance(chances: Floats, first: int = 0) -> tuple[float, float]:
    """Mean and variance of a distribution over `first`, `first` + 1, ..."""
    values = first + np.arange(chances.size, dtype=np.float64)
    mean = float(chances @ values)
    return mean, float(chances @ (values - mean) ** 2)


def interval(chances: Floats, share: float) -> tuple[int, int, float]:
    """The range of integers (from 0 on) between the two quantiles that leave (1 - share) / 2 on either side, and
    the chance that it has, which is at least `share`.

    >>> interval(np.array([0.1, 0.2, 0.4, 0.2, 0.1]), 0.5)
    (1, 3, 0.8)
    """
    reached = np.cumsum(chances) / chances.sum()
    slack = 1e-12
    low, high = (int(np.searchsorted(reached, at - slack)) for at in ((1 - share) / 2, (1 + share) / 2))
    high = min(high, chances.size - 1)
    return low, high, round(float(chances[low : high + 1].sum() / chances.sum()), 12)


def mixed(parts: Sequence[Floats], weights: Floats) -> Floats:
    """A mixture of distributions over 0, 1, ..., of any lengths."""
    found = np.zeros(max(part.size for part in parts))
    for part, weight in zip(parts, weights, strict=True):
        found[: part.size] += weight * part
    return found
