"""How many shots a comparison needs.

Means: n = 2 (z(1 - a/2) + z(1 - b))^2 s^2 / d^2 a side in the normal approximation; here with Student's t, which needs
one or two more when n is small. Shares: the normal approximation that R's power.prop.test uses. Shots of one round are
not independent, so either is multiplied by the design effect 1 + (m - 1) rho.

Source: J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, chapters 2 and 6. Tests hold both to
Cohen's tables and to R's documented example. The design effect is Kish's.

The standard deviation is estimated itself, so the number has a range: with f degrees of freedom f s^2 / sigma^2 has
the chi-square distribution, and the shots needed are worked out at both ends of sigma's interval. Source: R. H. Browne,
Statistics in Medicine 14, 1995, 1933-1940, doi 10.1002/sim.4780141709 (the upper limit of a pilot's variance for a
study's size), through R's package ssPilot, whose vignette computes that limit alike.
"""

from __future__ import annotations

import math
from typing import Final

from scipy.special import chdtri, nctdtr, ndtri, stdtrit

from server.analysis.evidence.confidence_sequences import reach
from server.analysis.evidence.intervals import DEFAULT_LEVEL, checked_level

DEFAULT_POWER: Final = 0.8
"""Chance to settle a true difference of the size asked for. Cohen's convention."""

MOST_SHOTS: Final = 1e7


def two_means_power(shots: float, effect: float, alpha: float) -> float:
    """Chance that a two-sided t test of two groups of `shots` each finds a difference of `effect` standard deviations
    in its direction."""
    freedom = 2 * (shots - 1)
    edge = stdtrit(freedom, 1 - alpha / 2)
    return 1 - float(nctdtr(freedom, effect * math.sqrt(shots / 2), edge))


def two_means_shots(effect: float, alpha: float, power: float = DEFAULT_POWER) -> float:
    """Shots in each of two groups to find a difference of `effect` standard deviations (> 0) with chance `power`.

    Unrounded; never below 2 nor above `MOST_SHOTS`.
    """
    normal = 2 * (ndtri(1 - alpha / 2) + ndtri(power)) ** 2 / effect**2
    if normal > 1e4:
        return float(min(normal, MOST_SHOTS))
    low, high = 2.0, 2.0 + 2.0 * float(normal)
    while two_means_power(high, effect, alpha) < power:
        high *= 2
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if two_means_power(middle, effect, alpha) >= power else (middle, high)
    return high


def settling_shots(
    effect: float, alpha: float, design: float, shots_a_round: float, power: float = DEFAULT_POWER
) -> float:
    """Shots with each of two sides after which a confidence sequence of 1 - alpha has settled a difference of `effect`
    standard deviations (> 0) with chance `power` at that look. `design`: design effect; `shots_a_round`: a side's.

    Unrounded, normal approximation at the edge: n = 2 D (c + z(power))^2 / effect^2 with c the reach of the sequence at
    n / `shots_a_round` rounds. Never above `MOST_SHOTS`.
    """
    z = float(ndtri(power))

    def enough(shots: float) -> bool:
        return shots >= 2 * design * ((reach(shots / shots_a_round - 1, alpha) + z) / effect) ** 2

    high = 2.0
    while high < MOST_SHOTS and not enough(high):
        high *= 2
    if high >= MOST_SHOTS:
        return MOST_SHOTS
    low = high / 2
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def spread_factors(freedom: float, level: float = DEFAULT_LEVEL) -> tuple[float, float]:
    """Between which multiples of its estimate a standard deviation lies with chance `level`; normal values.

    `freedom`: degrees of freedom of the estimate, above 0. ValueError for another, or a level outside its range.

    >>> low, high = spread_factors(19)
    >>> round(low, 3), round(high, 3)
    (0.794, 1.37)
    """
    if not freedom > 0:
        raise ValueError(f"freedom: {freedom:g} is not above 0")
    beyond = (1 - checked_level(level)) / 2
    # chdtri is the inverse of the upper tail
    few, many = float(chdtri(freedom, beyond)), float(chdtri(freedom, 1 - beyond))
    return math.sqrt(freedom / few), math.sqrt(freedom / many)


def two_means_range(
    effect: float, freedom: float, alpha: float, power: float = DEFAULT_POWER, level: float = DEFAULT_LEVEL
) -> tuple[float, float]:
    """Fewest and most shots in each of two groups that `two_means_shots` may have to ask for, with chance `level`, when
    the standard deviation is an estimate.

    `effect`: the difference as a multiple (> 0) of that estimate; `freedom`: its degrees of freedom (> 0). Unrounded,
    within the bounds of `two_means_shots`. ValueError as `spread_factors`.
    """
    low, high = spread_factors(freedom, level)
    return two_means_shots(effect / low, alpha, power), two_means_shots(effect / high, alpha, power)


def two_shares_shots(first: float, second: float, alpha: float, power: float = DEFAULT_POWER) -> float:
    """Shots in each of two groups to find that two shares (0 to 1, not equal) differ. Unrounded."""
    middle = (first + second) / 2
    apart = ndtri(1 - alpha / 2) * math.sqrt(2 * middle * (1 - middle))
    own = ndtri(power) * math.sqrt(first * (1 - first) + second * (1 - second))
    return float(((apart + own) / (first - second)) ** 2)


def design_effect(shots_a_round: float, round_share: float) -> float:
    """1 + (m - 1) rho: how many times as many shots are needed because those of one round have something in common.

    `shots_a_round`: m; `round_share`: intraclass correlation, 0 to 1. Never below 1.
    """
    return max(1.0, 1 + (shots_a_round - 1) * round_share)
