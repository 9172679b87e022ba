"""The landings that a plan spreads over a hole: the player's own shots, smoothed, and a stated prior when they are few.

Own shots and prior are mixed as a Dirichlet process does (Ferguson, Annals of Statistics 1 (1973)): with n own shots
the next one comes from them with probability n / (n + PRIOR_SHOTS), from the prior otherwise. The uncertainty of the
pattern is the Bayesian bootstrap of the same mixture (Rubin, Annals of Statistics 9 (1981)): weights drawn from a
Dirichlet distribution, 1 for each own shot, PRIOR_SHOTS spread over the prior.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import special
from scipy.stats import qmc

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.ellipses import robust_fit

LANDINGS: Final = 2000
PRIOR_SHOTS: Final = 15.0
"""The prior weighs as much as so many shots. A choice of this tool: with 15 own shots it is one half."""
PRIOR_PARTS: Final = 40
MOST_OWN_SHOTS: Final = 500
FEWEST_OWN_SHOTS: Final = 5
SMOOTHING: Final = 0.5
"""Width of the smoothing kernel: 0.5 n^(-1/6) of the spread, half of Scott's rule, which is made for one normal
hump."""


@dataclass(frozen=True)
class Skill:
    """A stated pattern: clean shots and mishits that come up short. Length as a share of the distance, side in degrees.

    The defaults are a low handicap's: side between 3.4 to 4.0 degrees (professionals) and 5.4 (scores of 70 to 83;
    Broadie, Science and Golf V, 2008); depth so that the median error is about 6 % (James and Rees 2008: 4.6 to 6.5
    % on the tour); the share of mishits is a choice of this tool.
    """

    depth_share: float = 0.045
    side_deg: float = 4.5
    mishit_share: float = 0.08
    mishit_short: tuple[float, float] = (0.05, 0.25)
    mishit_wider: float = 1.6

    @property
    def words(self) -> str:
        """What the pattern is, in words."""
        return (
            f"a low handicap's: side spread {self.side_deg:g} degrees, length {self.depth_share:.1%} of the distance, "
            f"{self.mishit_share:.0%} mishits {self.mishit_short[0]:.0%} to {self.mishit_short[1]:.0%} short"
        )


@dataclass(frozen=True, eq=False)
class Landings:
    """Where balls come to rest, seen from the start along the line of aim: `right`, `along` in yards, shape (n,).

    `atom`: which own shot or part of the prior each belongs to, ascending (n,); `weight`: the Dirichlet weight of
    each atom (a,). `own_shots`: how many shots stand behind it.
    """

    right: Floats
    along: Floats
    atom: npt.NDArray[np.intp]
    weight: Floats
    own_shots: int = 0

    @property
    def starts(self) -> npt.NDArray[np.intp]:
        """First landing of each atom (a,)."""
        return np.flatnonzero(np.r_[True, np.diff(self.atom) > 0])


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


def of_pattern(right: Floats, along: Floats) -> Landings:
    """Landings of a pattern that is taken as known: every ball weighs the same and nothing is uncertain."""
    return Landings(right, along, np.zeros(right.size, dtype=np.intp), np.ones(1))


def own_landings(
    own: Floats, prior: tuple[Floats, Floats], count: int = LANDINGS, prior_shots: float = PRIOR_SHOTS
) -> Landings:
    """The player's own finishes, smoothed, mixed with a prior.

    `own`: (n, 2) right and along in yards, the latest last (more than 500: the latest 500 count); `prior`: right and
    along of evenly spread balls, (m,). About `count` landings; fewer than 5 own shots raise ValueError.
    """
    if len(own) < FEWEST_OWN_SHOTS:
        raise ValueError(f"{len(own)} shots are too few to plan with; {FEWEST_OWN_SHOTS} are the least")
    own = own[-MOST_OWN_SHOTS:]
    n = len(own)
    each = max(1, round(count * n / (n + prior_shots) / n))
    rest = max(PRIOR_PARTS, count - each * n) // PRIOR_PARTS * PRIOR_PARTS if prior_shots > 0 else 0
    right, along = _smoothed(own, each)
    pick = np.linspace(0, prior[0].size - 1, rest).astype(np.intp).reshape(-1, PRIOR_PARTS).T.ravel()
    parts = PRIOR_PARTS if rest else 0
    atom = np.concatenate([np.repeat(np.arange(n), each), n + np.repeat(np.arange(parts), rest // PRIOR_PARTS)])
    weight = np.concatenate([np.ones(n), np.full(parts, prior_shots / PRIOR_PARTS)])
    return Landings(np.concatenate([right, prior[0][pick]]), np.concatenate([along, prior[1][pick]]), atom, weight, n)


def _smoothed(own: Floats, each: int) -> tuple[Floats, Floats]:
    """Every shot `each` times with a normal kernel around it.

    Shots of the usual pattern are drawn towards its centre so that the kernel adds no spread (Silverman and Young,
    Biometrika 74 (1987) 469-479); shots far out stay where they were.
    """
    fit = robust_fit(own)
    covariance = np.cov(own.T) if fit is None else fit.covariance
    centre = own.mean(axis=0) if fit is None else fit.centre
    usual = np.ones(len(own), dtype=bool) if fit is None else ~fit.aside
    width = SMOOTHING * len(own) ** (-1 / 6)
    moved = np.where(usual[:, None], centre + (own - centre) / np.sqrt(1 + width**2), own)
    root = np.linalg.cholesky(covariance + 0.01 * np.eye(2))
    noise = special.ndtri(_even(len(own) * each, 2, 2)) @ root.T * width
    spread = np.repeat(moved, each, axis=0) + noise
    return spread[:, 0], spread[:, 1]
