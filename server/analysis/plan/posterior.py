"""What a club's shots and a prior show of its pattern, as draws: centre, spread and share of mishits, each uncertain.

Right and along are shares of the club's reach. Usual shots spread in each direction around a centre m with standard
deviation s, in tails heavier than the normal's (Student's t with `TAILS` degrees of freedom); mishits come up short by
a uniform share and spread wider, and one in ten of them may end anywhere. The belief on (m, s) is
normal-inverse-chi-square (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 3.3):

    s^2 ~ v s0^2 / chi2(v),   m | s ~ N(m0, s^2 / k)

so the prior's own centre and spread are drawn anew in each draw. Spreads of heavy tails are known less well: n shots
count as n `SPREAD_WORTH` there. The share of mishits is Beta. Which shots are mishits
is drawn too (data augmentation, Tanner and Wong, JASA 82 (1987) 528-540), one chain a draw.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy import special, stats

from server.analysis.expected_strokes.curves import Floats

DRAWS: Final = 200
SWEEPS: Final = 8
"""Steps of each chain. It starts from a robust fit, and few shots are in doubt, so that it settles in two or three."""
ANYWHERE: Final = 0.1
"""Share of mishits that may end anywhere within a reach either way: a topped ball, a shank. A choice of this tool."""
DOUBTFUL: Final = (1.0, 2.5)
"""A shot may be a mishit when it is so many spreads short, or so many aside: nearer ones are usual shots."""
TAILS: Final = 8.0
"""Degrees of freedom of the usual shots' tails: 6 sigma^4 / (TAILS - 4) of excess. A choice of this tool."""
SPREAD_WORTH: Final = 0.35
"""What a shot counts for the spread. The variance of a sample variance is (kurtosis - 1) / n: 2 / n of a normal
pattern, 3.5 / n of 8 degrees of freedom, 8 / n of 5, so that a shot counts 1, 0.57 or 0.25. A choice of this tool
between them, for which simulated intervals contain the truth."""
TO_SPREAD: Final = 1.4826
"""Median absolute deviation to standard deviation, of a normal pattern."""

_HIGHEST: Final = float(stats.t.pdf(0.0, TAILS) * np.sqrt(TAILS / (TAILS - 2)))


@dataclass(frozen=True)
class Belief:
    """A normal-inverse-chi-square belief on one direction: `centre` m0 worth `shots` k, and `spread` s0 worth
    `freedom` v, in shares of the reach. `worth`: what a shot counts for the spread, 1 of a normal pattern."""

    centre: float
    shots: float
    spread: float
    freedom: float
    worth: float = SPREAD_WORTH

    def updated(self, count: Floats, mean: Floats, squares: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """k, m0, v, s0^2 after `count` shots with this `mean` and sum of squares around it, all of one shape (d,)."""
        shots = self.shots + count
        centre = (self.shots * self.centre + count * mean) / shots
        freedom = self.freedom + self.worth * count
        between = self.shots * count / shots * (mean - self.centre) ** 2
        variance = (self.freedom * self.spread**2 + self.worth * squares + between) / freedom
        return shots, centre, freedom, variance

    def drawn(self, count: Floats, mean: Floats, squares: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """One draw of centre and spread for each entry of `count`, `mean`, `squares` (d,)."""
        shots, centre, freedom, variance = self.updated(count, mean, squares)
        spread = np.sqrt(freedom * variance / (2 * rng.standard_gamma(freedom / 2)))
        return centre + spread / np.sqrt(shots) * rng.standard_normal(spread.shape), spread


@dataclass(frozen=True)
class Prior:
    """What is believed of a club before its own shots. `mishits`: the two counts of a Beta belief on their share;
    `short`: from how much of the reach to how much they come up short; `wider`: factor of their side spread."""

    side: Belief
    depth: Belief
    mishits: tuple[float, float]
    short: tuple[float, float]
    wider: float

    def widened(self, factor: float) -> Prior:
        """The same with both spreads wider by a factor."""
        side, depth = (replace(one, spread=one.spread * factor) for one in (self.side, self.depth))
        return replace(self, side=side, depth=depth)


@dataclass(frozen=True, eq=False)
class Draws:
    """Drawn patterns of a club in shares of its reach: `centre` and `spread` (d, 2), right and along; `mishits` (d,)
    their share. `doubt`: how likely each own shot is a mishit (n,)."""

    centre: Floats
    spread: Floats
    mishits: Floats
    doubt: Floats


def drawn_patterns(own: Floats, prior: Prior, rng: np.random.Generator, draws: int = DRAWS) -> Draws:
    """Draws of a club's pattern. `own`: (n, 2) right and along of its shots in shares of the reach, n >= 2."""
    beliefs = (prior.side, prior.depth)
    middle = np.median(own, axis=0)
    usual = np.array([one.spread for one in beliefs])
    width = np.maximum(TO_SPREAD * np.median(np.abs(own - middle), axis=0), usual / 2)
    off = (own - middle) / width
    doubtful = (off[:, 1] < -DOUBTFUL[0]) | (np.abs(off) > DOUBTFUL[1]).any(axis=1)
    sure, open_ = own[~doubtful] - middle, own[doubtful] - middle
    sums = sure.sum(axis=0), (sure**2).sum(axis=0)
    shifted = [replace(one, centre=one.centre - at) for one, at in zip(beliefs, middle, strict=True)]
    centre, spread = np.zeros((draws, 2)), np.tile(width, (draws, 1))
    share = np.full(draws, prior.mishits[0] / sum(prior.mishits))
    mishit = np.zeros((draws, len(open_)), dtype=bool)
    likely = np.zeros(len(open_))
    for _ in range(SWEEPS):
        if len(open_):
            chance = _chances(open_, centre, spread, share, prior)
            mishit = rng.random(chance.shape) < chance
            likely = chance.mean(axis=0)
        fair = (~mishit).astype(np.float64)
        count = len(sure) + fair.sum(axis=1)
        for place, belief in enumerate(shifted):
            mean = (sums[0][place] + fair @ open_[:, place]) / np.maximum(count, 1.0)
            squares = np.maximum(sums[1][place] + fair @ open_[:, place] ** 2 - count * mean**2, 0.0)
            centre[:, place], spread[:, place] = belief.drawn(count, mean, squares, rng)
        many = mishit.sum(axis=1)
        share = rng.beta(prior.mishits[0] + many, prior.mishits[1] + len(own) - many)
    doubt = np.zeros(len(own))
    doubt[doubtful] = likely
    return Draws(centre + middle, spread, share, doubt)


def _chances(shots: Floats, centre: Floats, spread: Floats, share: Floats, prior: Prior) -> Floats:
    """Chance that each shot (n, 2) is a mishit under each drawn pattern: (d, n)."""
    z = (shots[None] - centre[:, None]) / spread[:, None]
    low, high = (one / spread[:, 1, None] for one in prior.short)
    wide = z[..., 0] / prior.wider
    short = (special.ndtr(z[..., 1] + high) - special.ndtr(z[..., 1] + low)) / (high - low)
    fair = _bell(z[..., 0]) * _bell(z[..., 1])
    poor = (1 - ANYWHERE) * _bell(wide) / prior.wider * short + ANYWHERE / 4 * spread.prod(axis=1)[:, None]
    odds = share[:, None] * poor
    return np.asarray(odds / (odds + (1 - share[:, None]) * fair), dtype=np.float64)


def _bell(z: Floats) -> Floats:
    """Density of a usual shot at `z` standard deviations from the centre."""
    return _HIGHEST * (1 + z**2 / (TAILS - 2)) ** (-(TAILS + 1) / 2)
