"""Two putters compared by the make-rate curve, over the player's own mix of lengths.

Each putter has its own curve. Both start from the player's curve with both putters together and may differ from it by a
prior spread, so that the one with fewer putts is not drawn towards the tour more than the other. A make-rate
that allows for length separates putters sooner than strokes gained a putt from like places, which is noisier.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from scipy.special import ndtri

from server.analysis.evidence.intervals import DEFAULT_LEVEL, checked_level
from server.analysis.expected_strokes.curves import Floats
from server.analysis.putting.make_rates import Posterior, Prior, posterior, weighted_quantiles
from server.analysis.putting.player_curve import LEAST_PUTTS, curve_of
from server.analysis.putting.rows import PutterComparison, PutterSide
from server.game.numbers import signed, two_figures

PUTTER_SD: Final = (0.2, 0.3)
"""Spread of putters in one player's hands about the player's own curve, in the logarithm of s_angle and s_dist. A
stated choice of this tool: 0.2 in s_angle is 6 or 7 putts of 100 from 8 ft."""
MINIMUM_EFFECT: Final = 0.03
"""Smallest difference that matters for which putts needed are reported: 3 of 100 putts over the player's mix. A stated
choice."""
POWER: Final = 0.8
STEPS: Final = 101
SHOWN_FT: Final = (5, 10, 20)


def compare_putters(
    a: pd.DataFrame, b: pd.DataFrame, names: tuple[str, str], level: float = DEFAULT_LEVEL
) -> PutterComparison:
    """Compare the putts of two putters (frames of `putts.putts_of`). ValueError for a level outside its range."""
    checked_level(level)
    sides: list[PutterSide] = [{"name": name, "putts": len(putts)} for name, putts in zip(names, (a, b), strict=True)]
    few = [side for side in sides if side["putts"] < LEAST_PUTTS]
    if few:
        counts = " and ".join(f"{_putts(side['putts'])} with {side['name']}" for side in few)
        words = f"Make-rate: {counts} in these rounds; comparing needs at least {LEAST_PUTTS} with each."
        return {
            "a": sides[0],
            "b": sides[1],
            "minimum_effect": MINIMUM_EFFECT,
            "difference": None,
            "low": None,
            "high": None,
            "chance_a_better": None,
            "putts_needed": None,
            "feet": [],
            "words": words,
        }
    both = pd.concat([a, b])
    prior = Prior(curve_of(both).log_mean(), np.array(PUTTER_SD))
    feet, place = np.unique(both["feet"].to_numpy(dtype=np.float64).round(3), return_inverse=True)
    holed = both["holed"].to_numpy(dtype=np.float64)
    parts = [slice(0, len(a)), slice(len(a), None)]
    tried, made = (
        np.array([np.bincount(place[part], weights=values[part], minlength=feet.size) for part in parts])
        for values in (np.ones(len(both)), holed)
    )
    curves = posterior(feet, tried, made, prior)
    share = tried.sum(axis=0) / tried.sum()
    middle, low, high, chance = difference(curves, feet, share, level)
    rates = curves.rates(feet) @ share
    by_length = curves.rates(SHOWN_FT)
    needed = _needed(low, high, len(a), len(b), level)
    for side, rate in zip(sides, rates, strict=True):
        side["rate"] = float(rate)
    return {
        "a": sides[0],
        "b": sides[1],
        "minimum_effect": MINIMUM_EFFECT,
        "difference": middle,
        "low": low,
        "high": high,
        "chance_a_better": chance,
        "feet": [
            {"feet": length, "a": float(by_length[0, place_]), "b": float(by_length[1, place_])}
            for place_, length in enumerate(SHOWN_FT)
        ],
        "putts_needed": needed,
        "words": _words((middle, low, high, chance), (sides[0], sides[1]), needed, level),
    }


def difference(curves: Posterior, feet: Floats, share: Floats, level: float) -> tuple[float, float, float, float]:
    """Make-rate of the first of two curves less that of the second over a mix of lengths: mean, low, high, and the
    chance that it is above 0."""
    chances = (np.arange(STEPS) + 0.5) / STEPS
    ours, theirs = curves.quantiles(feet, share, chances)
    apart = np.subtract.outer(ours, theirs).ravel()
    even = np.full(apart.size, 1 / apart.size)
    low, high = weighted_quantiles(apart, even, np.array([0.5 - level / 2, 0.5 + level / 2]))
    return float(apart.mean()), float(low), float(high), float((apart > 0).mean())


def _needed(low: float, high: float, putts_a: int, putts_b: int, level: float) -> int:
    """Putts with each to settle `MINIMUM_EFFECT` with power 0.8, from today's interval (it goes with 1 / sqrt(n))."""
    z = float(ndtri(0.5 + level / 2))
    error = (high - low) / (2 * z)
    each = 2 / (1 / putts_a + 1 / putts_b)
    return int(np.ceil(each * (error * (z + float(ndtri(POWER))) / MINIMUM_EFFECT) ** 2))


def _putts(count: int) -> str:
    return {0: "no putt", 1: "one putt"}.get(count, f"{count} putts")


def _words(
    found: tuple[float, float, float, float], sides: tuple[PutterSide, PutterSide], needed: int, level: float
) -> str:
    """`found`: as `difference` returns it."""
    middle, low, high, chance = found
    names = sides[0]["name"], sides[1]["name"]
    ahead = middle > 0
    front, rear = names if ahead else names[::-1]
    low, high, chance = (low, high, chance) if ahead else (-high, -low, 1 - chance)
    sure = "more than 99" if chance > 0.99 else f"{100 * chance:.0f}"
    size = f"{100 * abs(middle):.1f} of 100 putts more than {rear}, allowing for length"
    interval = f"{100 * level:g} % interval {signed(100 * low, 1)} to {signed(100 * high, 1)}"
    words = f"Make-rate: {front} holed {size} ({interval}; chance that it holes more {sure} in 100)"
    if low <= 0 and needed > min(side["putts"] for side in sides):
        words += f"; about {two_figures(needed)} putts with each would settle {100 * MINIMUM_EFFECT:g} of 100"
    return f"{words}."
