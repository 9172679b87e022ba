"""Two measures that separate clubs sooner than strokes gained: spread of length, and share of playable shots."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from scipy.special import fdtrc, ndtri

from server.analysis.evidence.intervals import LEAST_SHOTS, Floats


class SpreadTest(NamedTuple):
    """`typical_a`, `typical_b`: mean distance of a side's shots from its own middle (median), in the unit given;
    `statistic`, `p`: of the test that both spread alike, None where neither side spreads at all."""

    typical_a: float
    typical_b: float
    statistic: float | None
    p: float | None


def brown_forsythe(a: Floats, b: Floats) -> SpreadTest | None:
    """Test whether two groups spread alike: analysis of variance of |x - median|. None below `LEAST_SHOTS` each.

    Source: M. B. Brown and A. B. Forsythe, JASA 69, 1974, 364-367. Equals Levene's test about the median.
    """
    if min(a.size, b.size) < LEAST_SHOTS:
        return None
    away = [np.abs(side - np.median(side)) for side in (a, b)]
    means = [float(side.mean()) for side in away]
    shots = a.size + b.size
    middle = float(np.concatenate(away).mean())
    between = sum(side.size * (mean - middle) ** 2 for side, mean in zip(away, means, strict=True))
    within = sum(float(((side - mean) ** 2).sum()) for side, mean in zip(away, means, strict=True)) / (shots - 2)
    if within <= 1e-12 * max(1.0, middle**2):
        return SpreadTest(means[0], means[1], None, None)
    return SpreadTest(means[0], means[1], between / within, float(fdtrc(1, shots - 2, between / within)))


class ShareDifference(NamedTuple):
    """Two shares, their difference a - b and its interval, all 0 to 1 (differences -1 to 1)."""

    share_a: float
    share_b: float
    difference: float
    low: float
    high: float


def newcombe(hits_a: int, shots_a: int, hits_b: int, shots_b: int, level: float) -> ShareDifference:
    """The difference of two shares with the hybrid score interval; `shots_a`, `shots_b` > 0.

    Source: R. G. Newcombe, Statistics in Medicine 17, 1998, 873-890, method 10: the ends come from each share's own
    Wilson interval, so that 0 and 100 % are no trouble. Shots are taken as independent: whether a ball stays playable
    hardly depends on the round (a stated simplification).
    """
    a, b = hits_a / shots_a, hits_b / shots_b
    low_a, high_a = wilson(hits_a, shots_a, level)
    low_b, high_b = wilson(hits_b, shots_b, level)
    apart = a - b
    low = apart - math.hypot(a - low_a, high_b - b)
    high = apart + math.hypot(high_a - a, b - low_b)
    return ShareDifference(a, b, apart, max(low, -1.0), min(high, 1.0))


def wilson(hits: int, shots: int, level: float) -> tuple[float, float]:
    """Wilson's score interval of one share; `shots` > 0. Source: E. B. Wilson, JASA 22, 1927, 209-212."""
    z = float(ndtri(1 - (1 - level) / 2))
    share = hits / shots
    middle = (share + z**2 / (2 * shots)) / (1 + z**2 / shots)
    half = z / (1 + z**2 / shots) * math.sqrt(share * (1 - share) / shots + z**2 / (4 * shots**2))
    return max(0.0, middle - half), min(1.0, middle + half)
