"""The landings that a plan spreads over a hole, and how likely each is under patterns drawn from their posterior.

The landings are own shots, smoothed, beside a stated shape worth `PRIOR_SHOTS` shots, and mishits of both kinds.
Centre, spread and share of mishits are uncertain (`posterior`). A drawn pattern moves no landing: it changes the
weights of all of them, by the ratio of the drawn density to the one that the landings have (importance weights;
Hesterberg, Technometrics 37 (1995) 185-194). So the hole is looked at once however many patterns are drawn. What own
shots show of the shape is drawn by the Bayesian bootstrap (Rubin, Annals of Statistics 9 (1981)).
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import special
from scipy.stats import qmc

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.posterior import TAILS, Prior, drawn_patterns
from server.analysis.plan.priors import Skill

LANDINGS: Final = 2000
PRIOR_SHOTS: Final = 60.0
"""The stated shape weighs as much as so many shots: with 60 own shots it is one half. Own shots alone know nothing of
what lies beyond the farthest of them, so that with 15 the intervals beside out of bounds were too narrow. It is the
shape alone: centre and spread have beliefs of their own. A choice of this tool."""
PRIOR_MISHITS: Final = 1.2
"""The stated mishits weigh as much as so many mishits, 8 % of 15 shots. A choice of this tool."""
KINDS: Final = 5.0
"""The stated mishits of one player are drawn as if of so many kinds: how short and how wide they come is uncertain. A
choice of this tool."""
MOST_OWN_SHOTS: Final = 500
FEWEST_OWN_SHOTS: Final = 5
SMOOTHING: Final = 0.5
"""Width of the smoothing kernel: 0.5 n^(-1/6) of the spread, half of Scott's rule, which is made for one normal
hump."""
MOST_SCALED: Final = 3.0
"""Own shots are scaled to the spread that is believed of them, by at most this factor."""
LEAST_SPREAD: Final = 0.5
"""Own shots drawn closer together than this part of their spread count as this far apart."""
KERNEL_OF_MISHITS: Final = 0.25
"""Each own mishit is spread by so much of the usual spread."""

Singles = npt.NDArray[np.float32]
"""Weights of many landings under many patterns: seven digits are more than enough."""


@lru_cache(maxsize=8)
def _even(n: int, dimensions: int, seed: int) -> Floats:
    """`n` points that fill the unit cube evenly (scrambled Sobol points), never 0 or 1."""
    sobol = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed))
    points = sobol.random_base2(max(1, int(np.ceil(np.log2(max(n, 2))))))[:n]
    return np.asarray(np.clip(points, 1e-9, 1 - 1e-9), dtype=np.float64)


def stated(skill: Skill, distance_yd: float, count: int = LANDINGS, seed: int = 1) -> tuple[Floats, Floats]:
    """Right and along (yards) of `count` balls of a stated pattern at a target `distance_yd` yards away."""
    even = _even(count, 4, seed)
    mishit = even[:, 0] < skill.mishit_share
    low, high = skill.mishit_short
    along = distance_yd * (1 + skill.depth_share * special.ndtri(even[:, 1]))
    along -= np.where(mishit, distance_yd * (low + (high - low) * even[:, 2]), 0.0)
    side = np.tan(np.radians(skill.side_deg)) * distance_yd * special.ndtri(even[:, 3])
    return side * np.where(mishit, skill.mishit_wider, 1.0), along


@dataclass(frozen=True, eq=False)
class Landings:
    """Where balls come to rest, seen from the start along the line of aim: `right`, `along` in yards (n,), with the
    share of each, which sum to 1 (n,). `own_shots`: how many shots it is based on; `own_share`: their part of the
    shares; `pattern`: what drawn patterns need, None when the pattern is taken as known."""

    right: Floats
    along: Floats
    share: Floats
    own_shots: int = 0
    own_share: float = 0.0
    pattern: Drawable | None = None

    def evenly(self, count: int) -> npt.NDArray[np.intp]:
        """Places of `count` landings in proportion to their shares: those at the middles of equal parts of the shares,
        so that the same pattern gives the same ones."""
        reached = np.searchsorted(np.cumsum(self.share), (np.arange(count) + 0.5) / count)
        return np.minimum(reached, self.share.size - 1)

    def aside(self, parts: tuple[float, ...]) -> list[float]:
        """How far right of the line of aim, yards, those parts of the balls finish at the most: quantiles."""
        order = np.argsort(self.right, kind="stable")
        reached = np.cumsum(self.share[order]) - self.share[order] / 2
        return [float(np.interp(part, reached, self.right[order])) for part in parts]

    @cached_property
    def drawn(self) -> Singles:
        """Shares of the landings under drawn patterns (d, n), each row summing to 1: one row when it is known. The same
        for every hole that they are played on."""
        return self.share[None].astype(np.float32) if self.pattern is None else self.pattern.shares()


@dataclass(frozen=True, eq=False)
class Drawable:
    """Landings in standard units of the pattern's middle, and the drawn patterns in the same units.

    Landings come in four groups, in this order: usual own shots, the stated shape, own mishits, stated mishits.
    `z`: (n, 2); `each`: landings of one own shot; `sizes`: landings of the groups; `centre`, `spread`: (d, 2);
    `mishits`: (d,); `wide`: spreads of the stated shape's landings (2,).
    """

    z: Floats
    each: int
    sizes: tuple[int, int, int, int]
    centre: Floats
    spread: Floats
    mishits: Floats
    wide: Floats
    seed: int

    def shares(self) -> Singles:
        """Shares of the landings under each drawn pattern (d, n)."""
        rng = np.random.default_rng(self.seed)
        draws, ends = len(self.mishits), np.cumsum(self.sizes)
        own, mishits = self.sizes[0] // self.each, self.sizes[2] // self.each
        found = np.empty((draws, ends[-1]), dtype=np.float32)
        base = np.repeat(rng.standard_gamma(1.0, (draws, own), dtype=np.float32), self.each, axis=1)
        self._usual(base, own / (own + PRIOR_SHOTS), found[:, : ends[1]])
        found[:, : ends[1]] *= (1 - self.mishits)[:, None]
        poor = found[:, ends[1] :]
        poor[:, : self.sizes[2]] = np.repeat(rng.standard_gamma(1.0, (draws, mishits)) / self.each, self.each, axis=1)
        kinds = rng.standard_gamma(KINDS / self.sizes[3], (draws, self.sizes[3]))
        total = rng.standard_gamma(PRIOR_MISHITS, draws)
        poor[:, self.sizes[2] :] = kinds * (total / kinds.sum(axis=1))[:, None]
        poor *= (self.mishits / poor.sum(axis=1))[:, None]
        return found

    def _usual(self, base: Singles, fair: float, found: Singles) -> None:
        """Shares of usual own shots and stated shape among them, rows summing to 1, into `found`. `base`: weights of
        own shots; `fair`: their part. Reweighted twice: the second time towards what the first fell short by, since
        own shots have no stated shape."""
        own = base.shape[1]
        z = self.z[: found.shape[1]].astype(np.float32)
        base /= base.sum(axis=1, keepdims=True)
        mean = base @ z[:own]
        spread = np.sqrt(np.maximum(base @ z[:own] ** 2 - mean**2, LEAST_SPREAD**2))
        from_own, from_shape = _tails(z[:own], mean, spread), _tails(z[own:], np.zeros((1, 2)), self.wide[None])
        centre, wide = self.centre, self.spread
        for _ in range(2):
            for place, (before, weights, part) in enumerate(((from_own, base, fair), (from_shape, None, 1 - fair))):
                group = found[:, :own] if place == 0 else found[:, own:]
                after = _tails(z[:own] if place == 0 else z[own:], centre, wide)
                np.divide(before, after, out=group)
                _to_density(group)
                if weights is not None:
                    group *= weights
                group *= (part / group.sum(axis=1))[:, None]
            got = found @ z
            spread = np.sqrt(np.maximum(found @ z**2 - got**2, LEAST_SPREAD**2))
            centre, wide = 2 * self.centre - got, self.spread * np.clip(self.spread / spread, 0.5, 2.0)


def _to_density(ratio: Singles) -> None:
    """The power (TAILS + 1) / 2 = 4.5 in place, without logarithms: the ratio of densities."""
    root = np.sqrt(ratio)
    np.square(ratio, out=ratio)
    np.square(ratio, out=ratio)
    ratio *= root


def _tails(z: Singles, mean: Floats | Singles, spread: Floats | Singles) -> Singles:
    """Product over both directions of 1 + t^2 / TAILS, the density of usual shots to the power -2 / (TAILS + 1), for
    each of `mean`, `spread` (d, 2) at `z` (n, 2): (d, n)."""
    found = None
    for place in (0, 1):
        scale = (1 / (spread[:, place, None] * np.sqrt(TAILS - 2))).astype(np.float32)
        away = z[None, :, place] * scale
        away -= (mean[:, place, None] * scale).astype(np.float32)
        np.square(away, out=away)
        away += np.float32(1.0)
        found = away if found is None else np.multiply(found, away, out=found)
    assert found is not None
    return np.asarray(found, dtype=np.float32)


def usual_at(shares: Floats) -> Floats:
    """Quantiles of usual shots, in standard deviations."""
    return np.asarray(special.stdtrit(TAILS, shares) * np.sqrt((TAILS - 2) / TAILS), dtype=np.float64)


def of_pattern(right: Floats, along: Floats) -> Landings:
    """Landings of a pattern that is taken as known: every ball weighs the same and nothing is uncertain."""
    return Landings(right, along, np.full(right.size, 1 / right.size))


def own_landings(own: Floats, prior: Prior, count: int = LANDINGS, reach_yd: float | None = None) -> Landings:
    """The player's own finishes, smoothed, beside what the prior adds.

    `own`: (n, 2) right and along in yards, the latest last (more than 500: the latest 500 count); `reach_yd`: how far
    the club goes, the median of `own` unless given. About `count` landings; fewer than 5 own shots raise ValueError.
    """
    if len(own) < FEWEST_OWN_SHOTS:
        raise ValueError(f"{len(own)} shots are too few to plan with; at least {FEWEST_OWN_SHOTS} are needed")
    own = own[-MOST_OWN_SHOTS:]
    reach = float(np.median(own[:, 1])) if reach_yd is None else reach_yd
    seed = zlib.crc32(np.ascontiguousarray(own, dtype=np.float64).tobytes())
    draws = drawn_patterns(own / reach, prior, np.random.default_rng(seed))
    centre, spread = draws.centre.mean(axis=0), np.sqrt((draws.spread**2).mean(axis=0))
    wide = np.sqrt(((draws.centre - centre) ** 2).mean(axis=0) + spread**2) / spread
    z = (own / reach - centre) / spread
    poor = (draws.doubt > 0.5) & (draws.doubt > draws.doubt.min())
    n = len(own)
    each = max(1, round(count / (n + PRIOR_SHOTS)))
    rest = max(60, count - each * n)
    bad = max(20, round(rest * float(draws.mishits.mean())))
    groups = (
        _smoothed(_by_side(z[~poor]), each),
        _by_side(usual_at(_even(rest - bad, 2, 1)) * wide),
        np.repeat(z[poor], each, axis=0)
        + special.ndtri(_even(max(1, int(poor.sum()) * each), 2, 3))[: int(poor.sum()) * each] * KERNEL_OF_MISHITS,
        _stated_mishits(prior, spread[1], bad),
    )
    at = np.concatenate(groups)
    sizes = (len(groups[0]), len(groups[1]), len(groups[2]), len(groups[3]))
    pattern = Drawable(
        at, each, sizes, (draws.centre - centre) / spread, draws.spread / spread, draws.mishits, wide, seed
    )
    share = pattern.shares().mean(axis=0, dtype=np.float64)
    share /= share.sum()
    yards = (at * spread + centre) * reach
    mine = float(share[: sizes[0]].sum() + share[sizes[0] + sizes[1] : sizes[0] + sizes[1] + sizes[2]].sum())
    return Landings(yards[:, 0], yards[:, 1], share, n, mine, pattern)


def _by_side(z: Floats) -> Floats:
    """From left to right, so that a sample of every so-manyth landing spreads evenly over the sides."""
    return z[np.argsort(z[:, 0], kind="stable")]


def _stated_mishits(prior: Prior, depth: float, count: int) -> Floats:
    """Mishits of the prior in standard units (count, 2). `depth`: spread along, a share of the reach."""
    even = _even(count, 3, 4)
    low, high = prior.short
    along = special.ndtri(even[:, 1]) - (low + (high - low) * even[:, 2]) / depth
    return np.column_stack([special.ndtri(even[:, 0]) * prior.wider, along])


def _smoothed(z: Floats, each: int) -> Floats:
    """Every usual shot `each` times with a normal kernel around it, in standard units: all together with mean 0 and
    spread 1, for centre and spread are the drawn patterns' (n x each, 2)."""
    width = SMOOTHING * len(z) ** (-1 / 6)
    spread = z.std(axis=0, ddof=1) if len(z) > 1 else np.ones(2)
    scale = np.clip(1 / np.maximum(spread, 1e-9), 1 / MOST_SCALED, MOST_SCALED)
    moved = (z - z.mean(axis=0)) * scale / np.sqrt(1 + width**2)
    noise = special.ndtri(_even(len(z) * each, 2, 2)) * width
    return np.asarray(np.repeat(moved, each, axis=0) + noise)
