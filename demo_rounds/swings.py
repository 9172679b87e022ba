"""Swings and putts drawn from the truth, many at once or one.

The draws come from `numpy.random.RandomState`, whose stream numpy keeps frozen for good (NEP 19), so that a seed
gives the same season under every release.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from demo_rounds.skills import Putting, Swing

Floats = npt.NDArray[np.float64]

HOLE_RADIUS_FT: Final = 2.125 / 12
"""Rules of Golf 2023, definition of the hole: 4.25 in across."""
BALL_RADIUS_FT: Final = 0.84 / 12
"""Equipment Rules: a ball is at least 1.68 in across."""


class Finishes(NamedTuple):
    """Where swings finished against their target (yards), the actual shape, whether mishit. Shape (n,)."""

    long_yd: Floats
    right_yd: Floats
    shape: npt.NDArray[np.str_]
    mishit: npt.NDArray[np.bool_]


def hit(swing: Swing, target_yd: float, rng: np.random.RandomState, n: int = 1) -> Finishes:
    """Draw `n` finishes of a swing at a target `target_yd` yards away. Formula: top of `truth.toml`."""
    mishit = rng.random_sample(n) < swing.mishit_share
    loss = rng.uniform(*swing.mishit_short, size=n) * target_yd
    long_yd = rng.standard_normal(n) * swing.depth_sd(target_yd) + swing.bias * target_yd
    long_yd -= np.where(mishit, loss, 0.0)
    chances = swing.shape_chances()
    names = np.array(list(chances))
    bounds = np.cumsum(list(chances.values()))
    place = np.minimum(np.searchsorted(bounds, rng.random_sample(n), side="right"), len(names) - 1)
    offsets = np.array([swing.shape_offset(name) for name in chances])
    wide = np.where(mishit, swing.mishit_side_factor, 1.0)
    right_yd = rng.standard_normal(n) * swing.side_sd(target_yd) * wide + offsets[place]
    return Finishes(long_yd, right_yd, names[place], mishit)


class Putts(NamedTuple):
    """Whether putts fell, and where they stopped past the hole and right of it, in feet. Shape (n,)."""

    holed: npt.NDArray[np.bool_]
    past_ft: Floats
    right_ft: Floats


def putt(putting: Putting, distance_ft: float, rng: np.random.RandomState, n: int = 1) -> Putts:
    """Draw `n` putts from `distance_ft`.

    A putt falls when it starts within the angle that hits the hole and would roll no farther past it than the
    tolerance; the player aims to roll it `overshot_ft` past. Gelman and Nolan, Teaching Statistics 24
    (2002); Gelman (2019).
    """
    angle = rng.standard_normal(n) * putting.angle_sd_rad
    reach = distance_ft + putting.overshot_ft
    roll = reach * (1 + rng.standard_normal(n) * putting.distance_sd)
    over = roll - distance_ft
    holed = (np.abs(angle) < widest_angle(distance_ft)) & (over > 0) & (over < putting.tolerance_ft)
    return Putts(holed, roll * np.cos(angle) - distance_ft, roll * np.sin(angle))


def widest_angle(distance_ft: float) -> float:
    """Largest starting angle, in radians, at which a putt still falls: asin((R - r)/x)."""
    return math.asin(min(1.0, (HOLE_RADIUS_FT - BALL_RADIUS_FT) / distance_ft))


def make_rate(putting: Putting, distance_ft: float) -> float:
    """Closed form of the share of putts that fall from `distance_ft`, for comparison with `putt`."""
    cdf = NormalDist().cdf
    straight = 2 * cdf(widest_angle(distance_ft) / putting.angle_sd_rad) - 1
    spread = (distance_ft + putting.overshot_ft) * putting.distance_sd
    return straight * (cdf((putting.tolerance_ft - putting.overshot_ft) / spread) - cdf(-putting.overshot_ft / spread))
