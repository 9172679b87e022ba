"""How often a putt of a given length falls, and what a player's own putts show of that curve.

    p(x) = [2 Phi(asin((R - r) / x) / s_angle) - 1] * [Phi((t - o) / ((x + o) s_dist)) - Phi(-o / ((x + o) s_dist))]

x: length in feet; R, r: radius of hole and ball; s_angle: spread of the starting angle in radians; s_dist: spread of
the roll as a share of the intended roll; o = 1 ft: how far past the hole a putt is meant to roll; t = 3 ft: the
farthest that it may roll past and still fall. Source: A. Gelman and D. Nolan, Teaching Statistics 24 (2002); A. Gelman,
"Model building and expansion for golf putting" (2019), which adds the distance.

A player's curve is the posterior of (log s_angle, log s_dist): binomial counts, and a normal prior centred on the
published fit to 1.25 million tour putts. It is summed over a grid that zooms in, not taken from the curvature at
its peak: with the curvature 90 % intervals held the truth in 86 % of simulated seasons of 1,000 putts at 30 ft, for
angle and distance can replace each other and the posterior is skew.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.special import log_ndtr, ndtr

from server.analysis.expected_strokes.curves import Floats

HOLE_RADIUS_FT: Final = 4.25 / 2 / 12
"""Rules of Golf 2023, definition of the hole: 4.25 in across."""
BALL_RADIUS_FT: Final = 1.68 / 2 / 12
"""Equipment Rules: a ball is at least 1.68 in across."""
OVERSHOT_FT: Final = 1.0
TOLERANCE_FT: Final = 3.0
"""Both fixed in Gelman (2019)."""
TOUR: Final = (0.0178, 0.080)
"""s_angle in radians and s_dist of the tour: Gelman (2019), fit to M. Broadie's counts of 2018."""
CARELESS: Final = 0.003
"""Share of putts missed whatever their length. Gelman's fit leaves 0.003 unexplained at every length (its sigma_y);
without it one missed tap-in would outweigh a season."""
PRIOR_SD: Final = (0.5, 0.8)
"""Spread of players about the tour in the logarithm of both parameters. A stated choice, wide enough for a 90-golfer,
whose published shares (M. Broadie, Every Shot Counts, 2014) give 0.0225 and 0.18: half and once of these away."""

FIRST_POINTS: Final = 61
POINTS: Final = 41
ZOOMS: Final = 2
REACH_SD: Final = 3.5
WIDEST_SD: Final = 1.2
"""The first grid reaches 3.5 spreads of the prior each way; a flat prior counts as 1.2 wide there."""
KEPT: Final = 12.0
"""A grid zooms to where the log posterior is within 12 of its peak: 4.9 standard deviations of a normal."""
SMALLEST: Final = 1e-300


@dataclass(frozen=True, eq=False)
class Prior:
    """A normal prior of (log s_angle, log s_dist): `mean` and `sd`, shape (2,). An infinite sd is a flat prior."""

    mean: Floats
    sd: Floats


TOUR_PRIOR: Final = Prior(np.log(TOUR), np.array(PRIOR_SD))


@dataclass(frozen=True, eq=False)
class Posterior:
    """The curve after some putts. `log_angle`, `log_distance`: axes of a grid, shape (..., g); `weight`: (..., g, g),
    sums to 1. Leading axes: seasons."""

    log_angle: Floats
    log_distance: Floats
    weight: Floats
    careless: float = CARELESS

    def sigma(self) -> tuple[Floats, Floats]:
        """Posterior means of s_angle (radians) and s_dist, shape (...)."""
        angle = np.einsum("...gh,...g->...", self.weight, np.exp(self.log_angle))
        return angle, np.einsum("...gh,...h->...", self.weight, np.exp(self.log_distance))

    def log_mean(self) -> Floats:
        """Posterior mean of (log s_angle, log s_dist), shape (..., 2)."""
        angle = np.einsum("...gh,...g->...", self.weight, self.log_angle)
        return np.stack([angle, np.einsum("...gh,...h->...", self.weight, self.log_distance)], axis=-1)

    def rates(self, feet: Any) -> Floats:
        """Make-rate at lengths `feet`, shape (k,): the posterior mean, shape (..., k)."""
        straight, _ = straight_start(_feet(feet), self.log_angle)
        right, _ = right_roll(_feet(feet), self.log_distance)
        falls = np.einsum("...gh,...gk,...hk->...k", self.weight, straight, right, optimize=True)
        return np.asarray((1 - self.careless) * falls)

    def interval(self, feet: Any, level: float = 0.9) -> tuple[Floats, Floats, Floats]:
        """Lower end, middle and upper end of the make-rate at `feet`, shape (k,): quantiles of the posterior, shape
        (..., k). The middle is the median, which lies between the ends however skew the posterior is."""
        chances = [0.5 - level / 2, 0.5, 0.5 + level / 2]
        all_three = np.stack([self.quantiles([length], [1.0], chances) for length in _feet(feet)], axis=-2)
        return all_three[..., 0], all_three[..., 1], all_three[..., 2]

    def over_mix(self, feet: Any, share: Any) -> Floats:
        """Make-rate over a mix of lengths (`feet`, `share`: shape (k,), shares sum to 1) at each point of the grid,
        shape (..., g, g)."""
        straight, _ = straight_start(_feet(feet), self.log_angle)
        right, _ = right_roll(_feet(feet), self.log_distance)
        part = np.asarray(share, dtype=np.float64)
        return np.asarray((1 - self.careless) * np.matmul(straight * part, np.swapaxes(right, -1, -2)))

    def quantiles(self, feet: Any, share: Any, chances: Any) -> Floats:
        """Quantiles of the make-rate over a mix of lengths, shape (..., chances)."""
        values = self.over_mix(feet, share)
        flat = (*values.shape[:-2], values.shape[-2] * values.shape[-1])
        return weighted_quantiles(values.reshape(flat), self.weight.reshape(flat), np.asarray(chances))


def weighted_quantiles(values: Floats, weight: Floats, chances: Floats) -> Floats:
    """Quantiles of discrete distributions, straight between middles of steps.

    `values`, `weight`: shape (..., n), weights sum to 1; `chances`: shape (q,). Returns shape (..., q).
    """
    order = np.argsort(values, axis=-1)
    ordered = np.take_along_axis(values, order, axis=-1)
    parts = np.take_along_axis(weight, order, axis=-1)
    middles = np.cumsum(parts, axis=-1) - parts / 2
    rows = zip(middles.reshape(-1, values.shape[-1]), ordered.reshape(-1, values.shape[-1]), strict=True)
    found = np.array([np.interp(chances, middle, row) for middle, row in rows])
    return found.reshape(*values.shape[:-1], chances.size)


def make_rate(feet: Any, angle_sd: float, distance_sd: float) -> Floats:
    """Share of putts that fall from `feet`, shape (k,), by the published formula, without careless misses."""
    straight, _ = straight_start(_feet(feet), np.log([angle_sd]))
    right, _ = right_roll(_feet(feet), np.log([distance_sd]))
    return np.asarray((straight * right)[0])


def _feet(feet: Any) -> Floats:
    return np.atleast_1d(np.asarray(feet, dtype=np.float64))


def straight_start(feet: Floats, log_angle: Floats) -> tuple[Floats, Floats]:
    """Chance that the start is straight enough, and of the contrary (exact near 0). Shape (..., g, k)."""
    widest = np.arcsin(np.minimum(1.0, (HOLE_RADIUS_FT - BALL_RADIUS_FT) / feet))
    z = widest / np.exp(log_angle)[..., None]
    return -np.expm1(np.log(2.0) + log_ndtr(-z)), 2 * ndtr(-z)


def right_roll(feet: Floats, log_distance: Floats) -> tuple[Floats, Floats]:
    """Chance that the roll is right, and of the contrary. Shape (..., g, k)."""
    reach = (feet + OVERSHOT_FT) * np.exp(log_distance)[..., None]
    wrong = ndtr(-(TOLERANCE_FT - OVERSHOT_FT) / reach) + ndtr(-OVERSHOT_FT / reach)
    return 1 - wrong, wrong


def posterior(feet: Any, attempts: Any, made: Any, prior: Prior = TOUR_PRIOR, careless: float = CARELESS) -> Posterior:
    """The posterior of the curve.

    `feet`: lengths above 0, shape (k,); `attempts`, `made`: counts, shape (..., k), many seasons at once. Without any
    putt it is the prior. ValueError for counts that are not 0 <= made <= attempts, or lengths not above 0.
    """
    x = _feet(feet)
    tried, holed = np.broadcast_arrays(np.asarray(attempts, dtype=np.float64), np.asarray(made, dtype=np.float64))
    if not (np.all(x > 0) and np.all((holed >= 0) & (holed <= tried))):
        raise ValueError("putts: lengths must be above 0 ft and counts must be 0 <= made <= attempts")
    shape = tried.shape[:-1]
    seasons = math.prod(shape)
    tried, holed = tried.reshape(seasons, x.size), holed.reshape(seasons, x.size)
    reach = REACH_SD * np.minimum(prior.sd, WIDEST_SD)
    axes = np.linspace(prior.mean - reach, prior.mean + reach, FIRST_POINTS).T
    angle, distance = (np.broadcast_to(axis, (len(tried), FIRST_POINTS)) for axis in axes)
    height = _height(x, tried, holed, axes[0], axes[1], prior, careless)
    for _ in range(ZOOMS):
        angle, distance = zoomed(angle, height.max(axis=-1)), zoomed(distance, height.max(axis=-2))
        height = _height(x, tried, holed, angle, distance, prior, careless)
    weight = np.exp(height - height.max(axis=(-2, -1), keepdims=True))
    weight /= weight.sum(axis=(-2, -1), keepdims=True)
    return Posterior(
        angle.reshape(*shape, POINTS),
        distance.reshape(*shape, POINTS),
        weight.reshape(*shape, POINTS, POINTS),
        careless,
    )


def zoomed(axis: Floats, height: Floats) -> Floats:
    """A finer axis over the part where the log posterior (its greatest along the other axis, shape (n, g)) is near its
    peak, and one step beyond. Shape (n, POINTS)."""
    near = height >= height.max(axis=-1, keepdims=True) - KEPT
    step = axis[:, 1] - axis[:, 0]
    low = np.where(near, axis, np.inf).min(axis=-1) - step
    high = np.where(near, axis, -np.inf).max(axis=-1) + step
    return np.linspace(low, high, POINTS, axis=-1)


def _height(
    x: Floats, tried: Floats, holed: Floats, angle: Floats, distance: Floats, prior: Prior, careless: float
) -> Floats:
    """Log posterior of n seasons on a grid of each (axes of shape (n, g)) or on one of all (axes of shape (g,)): shape
    (n, g, g)."""
    (straight, wide), (right, wrong) = straight_start(x, angle), right_roll(x, distance)
    each = angle.ndim > 1
    holed_log = np.log1p(-careless) * holed.sum(axis=-1)[:, None, None]
    holed_log = holed_log + _summed(np.log(np.maximum(straight, SMALLEST)), holed, each)[:, :, None]
    holed_log = holed_log + _summed(np.log(np.maximum(right, SMALLEST)), holed, each)[:, None, :]
    miss = careless + (1 - careless) * (wide[..., :, None, :] + straight[..., :, None, :] * wrong[..., None, :, :])
    missed_log = _summed(np.log(np.maximum(miss, SMALLEST)), tried - holed, each)
    away = ((angle - prior.mean[0]) / prior.sd[0]) ** 2
    along = ((distance - prior.mean[1]) / prior.sd[1]) ** 2
    return np.asarray(holed_log + missed_log - 0.5 * (away[..., :, None] + along[..., None, :]))


def _summed(logs: Floats, counts: Floats, each: bool) -> Floats:
    """Sum over lengths of logs times counts (n, k), with logs of each season (n, ..., k) or of all alike (..., k).

    Shape (n, ...).
    """
    points = logs.shape[1:-1] if each else logs.shape[:-1]
    flat = logs.reshape(*logs.shape[:each], math.prod(points), logs.shape[-1])
    total = np.matmul(flat, counts[:, :, None])[..., 0] if each else counts @ flat.T
    return np.asarray(total.reshape(len(counts), *points))
