"""How many shots a comparison needs.

Means: n = 2 (z(1 - a/2) + z(1 - b))^2 s^2 / d^2 a side in the normal approximation; here with Student's t, which needs
one or two more when n is small. Shares: the normal approximation that R's power.prop.test uses. Shots of one round are
not independent, so either is multiplied by the design effect 1 + (m - 1) rho.

Source: J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988, chapters 2 and 6. Tests hold both to
Cohen's tables and to R's documented example. The design effect is Kish's.
"""

from __future__ import annotations

import math
from typing import Final

from scipy.special import nctdtr, ndtri, stdtrit

from server.analysis.evidence.confidence_sequences import reach

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
