"""What is left of a difference once courses and days are taken out, when there are few courses.

A round's strokes gained, for 18 holes, are

    y_r = x_r b + course + day + e_r,     course ~ N(0, (q s)^2),   e_r ~ N(0, s^2 / length_r)

with the length as a part of 18 holes. From a handful of courses q, the spread of courses beside that of rounds, is
hardly known, and REML's best guess of it is often 0, so it is not guessed: b is averaged over every q by how well q
explains the rounds (b and s integrated out) and by a weakly informative prior,

    q ~ half-Cauchy with scale `PRIOR_SCALE`,

which leaves any spread possible and settles two or three courses only where the rounds cannot. For a given q, c'b has a
t distribution with n - p degrees of freedom; the intervals are those of the mixture. Rounds of one day share an effect
when a day has more than one round; how much of a round's variance it is, is taken from REML. Effects with a prior
(`held`, the conditions of a round) are b with a normal prior whose variance is a share of s^2, integrated likewise.

The scale is a stated choice, made by simulation: with 4 courses that differ by 3.6 strokes a round and rounds by 3 the
half-Cauchy of scale 1 held 88 % and of scale 2 91 %; Kenward and Roger's interval held 91 % where each course has its
share of rounds, and was 1.4 to 3 times as wide where one course had most of them. The measured rates of this
model: DEVELOPERS.md.

Sources: A. Gelman, Bayesian Analysis 1(3), 2006, 515-534 (half-Cauchy for a standard deviation of few groups); the
integral over b and s is the usual one of a linear model with flat priors on b and log s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import gammaln, stdtr, stdtrit

from server.analysis.evidence.intervals import Codes, Floats, checked_level
from server.analysis.evidence.mixed_model import fit

PRIOR_SCALE: Final = 1.5
"""Half-Cauchy scale of the spread of courses as a multiple of that of rounds."""
POINTS: Final = 120
"""Values of q, of equal prior chance each."""


@dataclass(frozen=True, eq=False)
class Averaged:
    """Fixed effects for every q. `ratios`, `chances`: q and how likely it is, shape (points,); `fixed`: (points, p);
    `covariance`: (points, p, p); `residual`: s^2, (points,); `effects`, `errors`: predicted effects of the courses and
    their errors of prediction, (points, courses); `freedom`: degrees of freedom, n - p."""

    ratios: Floats
    chances: Floats
    fixed: Floats
    covariance: Floats
    residual: Floats
    effects: Floats
    errors: Floats
    freedom: int

    def contrast(self, weights: Floats | list[float]) -> Figure:
        """The figure c'b. `weights`: c, shape (p,)."""
        c = np.asarray(weights, dtype=np.float64)
        errors = np.sqrt(np.einsum("i,gij,j->g", c, self.covariance, c))
        return Figure(self.chances, self.fixed @ c, errors, self.freedom)

    def course(self, place: int) -> Figure:
        """What a course adds to a round there. `place`: its code."""
        return Figure(self.chances, self.effects[:, place], self.errors[:, place], self.freedom)

    @property
    def course_sd(self) -> float:
        """Spread of the courses in the response's unit: the median of what is likely."""
        spread = self.ratios * np.sqrt(self.residual)
        order = np.argsort(spread)
        place = int(np.searchsorted(np.cumsum(self.chances[order]), 0.5))
        return float(spread[order][min(place, spread.size - 1)])


@dataclass(frozen=True, eq=False)
class Figure:
    """A mixture of t distributions: chances, middles and errors, shape (points,), and degrees of freedom."""

    chances: Floats
    middles: Floats
    errors: Floats
    freedom: int

    @property
    def mean(self) -> float:
        """The figure itself."""
        return float(self.chances @ self.middles)

    def chance_below(self, value: float) -> float:
        """Chance that the truth lies below a value."""
        return float(self.chances @ stdtr(self.freedom, (value - self.middles) / self.errors))

    def interval(self, level: float) -> tuple[float, float]:
        """Low and high end, as much chance beyond either. ValueError for a level outside its range."""
        low, high = intervals([self], level)[0]
        return float(low), float(high)


def intervals(figures: Sequence[Figure], level: float) -> Floats:
    """Low and high end of the interval of each figure, all of as many points, shape (figures, 2). ValueError for a
    level outside its range."""
    tail = (1 - checked_level(level)) / 2
    if not figures:
        return np.empty((0, 2))
    chances, middles, errors = (
        np.repeat(np.stack([getattr(one, name) for one in figures]), 2, axis=0)
        for name in ("chances", "middles", "errors")
    )
    freedom = np.repeat([one.freedom for one in figures], 2).astype(np.float64)
    parts = np.tile([tail, 1 - tail], len(figures))
    return _quantiles(chances, middles, errors, freedom, parts).reshape(-1, 2)


CLOSE: Final = 1e-5
"""Share of its tail by which a chance may be off where the last step begins: the step leaves its third power."""
STEPS: Final = 200
"""More than are ever taken: each halves what is off, or the room that is left."""


def _quantiles(chances: Floats, middles: Floats, errors: Floats, freedom: Floats, parts: Floats) -> Floats:
    """Quantiles of mixtures of t distributions by Halley's steps, halving the room where a step gains too little.
    `chances`, `middles`, `errors`: (mixtures, points); `freedom`, `parts`: (mixtures,), as the result."""
    each = middles + errors * stdtrit(freedom, parts)[:, None]
    # a mixture's quantile lies among those of its points, but for rounding
    room = 1e-6 * errors.max(axis=1)
    low, high, value = each.min(axis=1) - room, each.max(axis=1) + room, (chances * each).sum(axis=1)
    scale = np.exp(gammaln((freedom + 1) / 2) - gammaln(freedom / 2)) / np.sqrt(np.pi * freedom)
    left = np.full(parts.size, np.inf)
    going = np.arange(parts.size)
    for _ in range(STEPS):
        free = freedom[going, None]
        away = (value[going, None] - middles[going]) / errors[going]
        off = (chances[going] * stdtr(free, away)).sum(axis=1) - parts[going]
        heights = chances[going] * (1 + away**2 / free) ** (-(free + 1) / 2) / errors[going]
        slope = scale[going] * heights.sum(axis=1)
        bend = -scale[going] * (heights * (free + 1) * away / (free + away**2) / errors[going]).sum(axis=1)
        at = value[going]
        low[going], high[going] = np.where(off > 0, low[going], at), np.where(off > 0, at, high[going])
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            newton = off / slope
            curved = newton * bend / slope
            step = newton / np.maximum(1 - curved / 2, 0.5)
        taken = at - step
        rounding = 8 * np.spacing(np.abs(at))
        inside = (taken >= low[going] - rounding) & (taken <= high[going] + rounding)
        near = inside & (np.abs(off) <= CLOSE * np.minimum(parts[going], 1 - parts[going]))
        # between points far apart the chance is flat: near it there is not near the value
        near &= np.abs(curved) <= 10 * CLOSE
        inside &= np.abs(off) <= left[going] / 2
        value[going] = np.where(inside | near, taken, (low[going] + high[going]) / 2)
        left[going] = np.where(inside, np.abs(off), np.inf)
        going = going[~near]
        if not going.size:
            break
    return np.asarray(value)


def averaged(
    response: Floats,
    design: Floats,
    courses: Codes,
    days: Codes,
    lengths: Floats,
    *,
    held: Floats | None = None,
    precision: Floats | None = None,
) -> Averaged | None:
    """Fixed effects adjusted for courses and days; None where the responses have no spread at all.

    `response`: strokes gained for 18 holes, shape (n,); `design`: X, shape (n, p), of full rank, p < n; `courses`,
    `days`: codes from 0, each used, shape (n,); `lengths`: each round as a part of 18 holes, shape (n,). `held`: more
    columns, shape (n, k), whose effects are normal about 0 with variance s^2 / `precision`, shape (k,) above 0; their
    effects follow those of the design, and they need no full rank. ValueError as `mixed_model.fit`.
    """
    y, x, z = (np.asarray(part, dtype=np.float64) for part in (response, design, courses[:, None] == _levels(courses)))
    turn = _whitening(y, x, courses, days, lengths)
    freedom = y.size - x.shape[1]
    certain = np.zeros(x.shape[1])
    if held is not None and precision is not None:
        x, certain = np.column_stack([x, held]), np.concatenate([certain, precision])
    y, x, z = turn @ y, turn @ x, turn @ z
    u, d, v = np.linalg.svd(z, full_matrices=False)
    ratios = PRIOR_SCALE * np.tan(np.pi / 2 * (np.arange(POINTS) + 0.5) / POINTS)
    spread = (ratios[:, None] * d) ** 2
    taken = spread / (1 + spread)
    ux, uy = u.T @ x, u.T @ y
    xx = x.T @ x + np.diag(certain) - np.einsum("ri,gr,rj->gij", ux, taken, ux)
    xy = x.T @ y - np.einsum("ri,gr,r->gi", ux, taken, uy)
    fixed = np.linalg.solve(xx, xy[..., None])[..., 0]
    rest = y @ y - taken @ uy**2 - (xy * fixed).sum(axis=1)
    if not np.all(rest > y.size * NO_SPREAD**2):
        return None
    logs = -0.5 * np.log1p(spread).sum(axis=1) - 0.5 * np.linalg.slogdet(xx)[1] - 0.5 * freedom * np.log(rest)
    chances = np.exp(logs - logs.max())
    chances /= chances.sum()
    residual = rest / freedom
    inverse = np.linalg.inv(xx)
    squared = ratios[:, None] ** 2
    drawn = squared * d / (1 + spread)
    effects = (drawn * (uy - fixed @ ux.T)) @ v
    ahead = np.einsum("gr,ri,rj->gij", drawn, ux, v)
    errors = (squared / (1 + spread)) @ v**2 + np.einsum("gij,gik,gkj->gj", ahead, inverse, ahead)
    return Averaged(
        ratios=ratios,
        chances=chances,
        fixed=fixed,
        covariance=inverse * residual[:, None, None],
        residual=residual,
        effects=effects,
        errors=np.sqrt(residual[:, None] * errors),
        freedom=int(freedom),
    )


NO_SPREAD: Final = 1e-7
"""Strokes a round below which what is left is rounding."""


def _levels(codes: Codes) -> Codes:
    return np.arange(int(np.max(codes)) + 1)


def _whitening(y: Floats, x: Floats, courses: Codes, days: Codes, lengths: Floats) -> Floats:
    """T with T (W^-1 + t^2 D D') T' = (1 + t^2) I, D the days, t^2 their variance beside that of what is left, so that
    s^2 is the variance of a round of 18 holes. Shape (n, n)."""
    plain = np.diag(np.sqrt(lengths))
    played = _levels(days).size
    if played in (1, days.size):
        return plain
    found = fit(y, x, [courses, days], weights=lengths)
    share = found.variances[1] / found.residual
    if not np.isfinite(share) or share <= 0:
        return plain
    lower = np.linalg.cholesky((np.diag(1 / lengths) + share * (days[:, None] == days)) / (1 + share))
    return np.asarray(np.linalg.inv(lower), dtype=np.float64)
