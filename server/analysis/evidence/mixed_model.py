"""Linear mixed models with crossed random effects, by restricted maximum likelihood (REML).

    y = X b + sum_k Z_k u_k + e,     u_k ~ N(0, s_k^2 I),     e_i ~ N(0, s^2 / w_i)

Each Z_k shows which level of grouping k a response belongs to; levels may cross, nest or be unbalanced as they like.
With known sampling variances v_i the residual is e_i ~ N(0, v_i) and s is not estimated.

The criterion, minus twice the restricted log likelihood, is profiled over b and s as Bates et al. do: for relative
standard deviations t_k = s_k / s, L L' = T Z'WZ T + I and

    d(t) = log |L|^2 + log |R_X|^2 + (n - p) (1 + log(2 pi r^2(t) / (n - p))) - sum log w_i,

minimised with its gradient under t_k >= 0. Only matrices of levels by levels are made for it. The slope in t_k is 0 at
t_k = 0 even where the criterion falls beyond, so a search that ends there is continued from places away from it.

Contrasts of b have the covariance of Kenward and Roger, which allows for the variances being estimated, and t with
their degrees of freedom: for one contrast c'b these are Satterthwaite's, 2 (c'Fc)^2 / (g' I^-1 g) with F the
covariance of b, g the slope of c'Fc in the variances and I the expected information. A variance that is estimated as 0
keeps its share in them: four courses leave three degrees of freedom however alike they look. The error is never less
than that of the plain covariance (a choice of this tool).

Sources: D. Bates, M. Maechler, B. Bolker and S. Walker, J. Stat. Software 67(1), 2015, sections 3 and 3.4 (the profiled
criterion); M. G. Kenward and J. H. Roger, Biometrics 53, 1997, 983-997, as the vignette of R's package mmrm writes them
out (https://openpharma.github.io/mmrm/latest-tag/articles/kenward.html; V is linear in the variances, so its R is 0),
with the expected information as in R's package pbkrtest (R/KR-vcovAdj.R); C. R. Henderson, Biometrics 31, 1975, 423-447
(predicted effects and their errors). Held to published fits, those formulas and statsmodels in tests/published.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np
from scipy.linalg.lapack import dtrtrs
from scipy.optimize import minimize

from server.analysis.evidence.intervals import Codes, Floats, checked_level, t_quantile

STARTS: Final = (1.0, 0.1)
"""Relative standard deviations from which the search begins; from the second only where the first ended at 0."""
AWAY: Final = (1.0, 0.5, 0.25, 0.1, 0.03, 0.01)
"""Relative standard deviations to which one that the search left at 0 is moved, to see whether the criterion falls."""
LEAST_GAIN: Final = 1e-9
"""By which the criterion must fall there. Each time it does, so that the search comes to an end."""
MOST: Final = 1e3
"""Greatest relative standard deviation that is tried: beyond it what is left of the responses is rounding."""
NO_WIDTH: Final = 1e-10
"""A share of the spread of the responses below which what is left of them is rounding."""


class Contrast(NamedTuple):
    """c'b: its estimate, its standard error (Kenward and Roger's) and the degrees of freedom of its t."""

    estimate: float
    error: float
    freedom: float

    def interval(self, level: float) -> tuple[float, float]:
        """Low and high end of the two-sided interval. ValueError for a level outside its range."""
        reach = float(t_quantile(1 - (1 - checked_level(level)) / 2, np.array([max(self.freedom, 1.0)]))[0])
        return self.estimate - reach * self.error, self.estimate + reach * self.error


class _Sums(NamedTuple):
    """Weighted products: of the levels with each other, of levels and columns, of levels and responses, and so on."""

    zz: Floats
    zx: Floats
    zy: Floats
    xx: Floats
    xy: Floats
    yy: float
    logs: float
    """sum log w_i."""


class _Solved(NamedTuple):
    """The normal equations at given relative standard deviations."""

    lower: Floats
    """L, shape (q, q)."""
    zx: Floats
    """L^-1 T Z'WX."""
    zy: Floats
    xx: Floats
    """X'V^-1 X, relative to s^2; shape (p, p)."""
    fixed: Floats
    rest: float
    """r^2: what is left, y'Py."""


@dataclass(frozen=True, eq=False)
class MixedModel:
    """A fitted model of n responses, p columns and k groupings.

    `fixed`: b, shape (p,); `covariance`: of b with the variances taken as known, shape (p, p); `variances`: s_k^2,
    shape (k,); `residual`: s^2 (1 where sampling variances are known); `effects`, `errors`: for each grouping the
    predicted effects of its levels and the standard errors of prediction (effect less truth, the variances taken as
    known), each shape (levels,); `criterion`: minus twice the restricted log likelihood.
    """

    fixed: Floats
    covariance: Floats
    variances: Floats
    residual: float
    effects: tuple[Floats, ...]
    errors: tuple[Floats, ...]
    criterion: float
    design: Floats
    groups: tuple[Codes, ...]
    weights: Floats
    known: bool

    def contrast(self, weights: Floats | Sequence[float]) -> Contrast:
        """The contrast c'b of the fixed effects. `weights`: c, shape (p,). Takes memory and time of n by n matrices.

        ValueError for another shape.
        """
        c = np.asarray(weights, dtype=np.float64)
        if c.shape != self.fixed.shape:
            raise ValueError(f"weights: shape {c.shape} is not {self.fixed.shape}, one for each fixed effect")
        covariance, spread, adjusted = self._small_sample
        slope = np.array([c @ covariance @ part @ covariance @ c for part in spread.slopes])
        scatter = float(slope @ spread.inverse @ slope)
        variance = float(c @ covariance @ c)
        freedom = np.inf if scatter <= 0 else 2 * variance**2 / scatter
        wider = max(float(c @ adjusted @ c), variance)
        return Contrast(float(c @ self.fixed), float(np.sqrt(wider)), freedom)

    @cached_property
    def _small_sample(self) -> tuple[Floats, _Spread, Floats]:
        """Covariance of b, the spread of the variances, and Kenward and Roger's covariance of b."""
        covariance = self.covariance
        inverse: Floats = np.asarray(np.linalg.inv(self._responses_covariance), dtype=np.float64)
        parts = [code[:, None] == code[None, :] for code in self.groups]
        changes = [part.astype(np.float64) for part in parts] + ([] if self.known else [np.diag(1 / self.weights)])
        if not changes:
            return covariance, _Spread([], np.zeros((0, 0))), covariance
        x = inverse @ self.design
        turned = [change @ x for change in changes]
        slopes = [x.T @ one for one in turned]
        outer = x @ covariance @ x.T
        projected = [(inverse - outer) @ change for change in changes]
        count = len(changes)
        information = np.array(
            [[0.5 * np.sum(projected[i] * projected[j].T) for j in range(count)] for i in range(count)]
        )
        spread = _Spread(slopes, np.linalg.pinv(information, rcond=1e-10, hermitian=True))
        more = np.zeros_like(covariance)
        for i in range(count):
            for j in range(count):
                crossed = turned[i].T @ inverse @ turned[j]
                more += spread.inverse[i, j] * (crossed - slopes[i] @ covariance @ slopes[j])
        return covariance, spread, covariance + 2 * covariance @ more @ covariance

    @property
    def _responses_covariance(self) -> Floats:
        found = np.diag(self.residual / self.weights)
        for code, variance in zip(self.groups, self.variances, strict=True):
            found = found + variance * (code[:, None] == code[None, :])
        return np.asarray(found)


class _Spread(NamedTuple):
    """`slopes`: for each variance X'V^-1 (dV/dvariance) V^-1 X, shape (p, p); `inverse`: of the information."""

    slopes: list[Floats]
    inverse: Floats


def fit(
    response: Floats,
    design: Floats,
    groups: Sequence[Codes] = (),
    *,
    weights: Floats | None = None,
    known: Floats | None = None,
) -> MixedModel:
    """Fit by REML.

    `response`: shape (n,), finite; `design`: X, shape (n, p), of full rank, p < n; `groups`: codes of levels from 0,
    each shape (n,), every level used; `weights`: w, shape (n,), above 0, 1 by default; `known`: sampling variances in
    the response's unit squared, shape (n,), above 0, in place of weights. ValueError naming what does not fit.
    """
    y, x = np.asarray(response, dtype=np.float64), np.asarray(design, dtype=np.float64)
    codes = tuple(_checked_codes(code, place, y.size) for place, code in enumerate(groups))
    if weights is not None and known is not None:
        raise ValueError("weights, known: give one of the two, not both")
    w = np.ones(y.size) if weights is None else _above_0(weights, "weights", y.size)
    if known is not None:
        w = 1 / _above_0(known, "known", y.size)
    _check_design(y, x)
    levels = [int(code.max()) + 1 for code in codes]
    sums = _sums(y, x, codes, levels, w)
    unknown = known is None
    found, criterion = _search(sums, levels, y.size, unknown=unknown)
    solved = _solve(sums, _spread_out(found, levels))
    residual = solved.rest / (y.size - x.shape[1]) if unknown else 1.0
    effects, errors = _predicted(sums, solved, _spread_out(found, levels), residual)
    cuts = np.cumsum(levels)[:-1]
    return MixedModel(
        fixed=solved.fixed,
        covariance=np.asarray(residual * np.linalg.inv(solved.xx), dtype=np.float64),
        variances=found**2 * residual,
        residual=residual,
        effects=tuple(np.split(effects, cuts)) if levels else (),
        errors=tuple(np.split(errors, cuts)) if levels else (),
        criterion=criterion,
        design=x,
        groups=codes,
        weights=w,
        known=not unknown,
    )


def _checked_codes(code: Codes, place: int, size: int) -> Codes:
    found = np.asarray(code, dtype=np.intp)
    if found.shape != (size,):
        raise ValueError(f"groups: grouping {place} has shape {found.shape}, not {(size,)} as the response")
    if size and (found.min() < 0 or np.bincount(found).min() == 0):
        raise ValueError(f"groups: grouping {place} has codes that are not 0 to their greatest, each used")
    return found


def _above_0(values: Floats, name: str, size: int) -> Floats:
    found = np.asarray(values, dtype=np.float64)
    if found.shape != (size,) or not np.all(np.isfinite(found) & (found > 0)):
        raise ValueError(f"{name}: must be {size} finite numbers above 0")
    return found


def _check_design(y: Floats, x: Floats) -> None:
    if y.ndim != 1 or not np.all(np.isfinite(y)):
        raise ValueError("response: must be finite numbers in one dimension")
    if x.ndim != 2 or x.shape[0] != y.size or not np.all(np.isfinite(x)):
        raise ValueError(f"design: must be finite numbers of shape ({y.size}, p)")
    if y.size <= x.shape[1]:
        raise ValueError(f"design: {x.shape[1]} columns need more than {y.size} responses")
    if np.linalg.matrix_rank(x) < x.shape[1]:
        raise ValueError("design: a column follows from the others")


def _sums(y: Floats, x: Floats, codes: tuple[Codes, ...], levels: list[int], w: Floats) -> _Sums:
    wx = x * w[:, None]
    zx = np.zeros((sum(levels), x.shape[1]))
    zy = np.zeros(sum(levels))
    for code, count, start in zip(codes, levels, _starts(levels), strict=True):
        mine = slice(start, start + count)
        zy[mine] = np.bincount(code, weights=w * y, minlength=count)
        for column in range(x.shape[1]):
            zx[mine, column] = np.bincount(code, weights=wx[:, column], minlength=count)
    return _Sums(crossed(codes, levels, w), zx, zy, wx.T @ x, wx.T @ y, float(w @ y**2), float(np.log(w).sum()))


def crossed(codes: Sequence[Codes], levels: Sequence[int], weights: Floats) -> Floats:
    """Z'WZ of groupings laid side by side, by counting: no row a response is made. `codes`: the level of each response,
    each shape (n,); `levels`: how many there are; shape (sum of levels,) twice."""
    found = np.zeros((sum(levels), sum(levels)))
    blocks = list(zip(codes, levels, _starts(levels), strict=True))
    for first, rows, top in blocks:
        for second, columns, left in blocks:
            counted = np.bincount(first * columns + second, weights=weights, minlength=rows * columns)
            found[top : top + rows, left : left + columns] = counted.reshape(rows, columns)
    return found


def _starts(levels: Sequence[int]) -> list[int]:
    """Where the levels of each grouping begin."""
    return [sum(levels[:place]) for place in range(len(levels))]


def _spread_out(relative: Floats, levels: list[int]) -> Floats:
    """One relative standard deviation a level, shape (q,)."""
    return np.repeat(relative, levels)


def _solve(sums: _Sums, scale: Floats) -> _Solved:
    lower = np.eye(0, dtype=np.float64)
    if scale.size:
        lower = np.asarray(np.linalg.cholesky(scale[:, None] * sums.zz * scale + np.eye(scale.size)), dtype=np.float64)
    both = np.column_stack([sums.zx, sums.zy]) * scale[:, None]
    both = _forward(lower, both) if scale.size else both
    zx, zy = both[:, :-1], both[:, -1]
    xx, xy = sums.xx - zx.T @ zx, sums.xy - zx.T @ zy
    fixed: Floats = np.asarray(np.linalg.solve(xx, xy), dtype=np.float64)
    return _Solved(
        np.asarray(lower, dtype=np.float64),
        zx,
        zy,
        xx,
        fixed,
        max(float(sums.yy - zy @ zy - xy @ fixed), sums.yy * NO_WIDTH**2),
    )


def _forward(lower: Floats, right: Floats) -> Floats:
    """L^-1 times `right`: LAPACK's own, for scipy's wrapper takes longer than matrices of this size."""
    found, fault = dtrtrs(lower, right, lower=1)
    assert fault == 0
    return np.asarray(found)


def _criterion(relative: Floats, sums: _Sums, levels: list[int], n: int, *, unknown: bool) -> tuple[float, Floats]:
    """The criterion at `relative`, shape (k,), and its gradient there."""
    scale = _spread_out(relative, levels)
    at = _solve(sums, scale)
    free = n - at.fixed.size
    value = 2 * float(np.log(np.diag(at.lower)).sum()) + float(np.linalg.slogdet(at.xx)[1]) - sums.logs
    value += free * (1 + np.log(2 * np.pi * at.rest / free)) if unknown else free * np.log(2 * np.pi) + at.rest
    if not levels:
        return value, np.zeros(0)
    # Z'PZ and Z'Py out of products of the levels alone
    half = _forward(at.lower, scale[:, None] * sums.zz)
    vx = sums.zx - half.T @ at.zx
    vy = sums.zy - half.T @ at.zy
    diagonal = np.diag(sums.zz) - (half**2).sum(axis=0) - (vx * np.linalg.solve(at.xx, vx.T).T).sum(axis=1)
    squares = (vy - vx @ at.fixed) ** 2 * (free / at.rest if unknown else 1.0)
    owner = np.repeat(np.arange(len(levels)), levels)
    return value, 2 * relative * np.bincount(owner, weights=diagonal - squares, minlength=len(levels))


def _search(sums: _Sums, levels: list[int], n: int, *, unknown: bool) -> tuple[Floats, float]:
    """The relative standard deviations (standard deviations, where sampling variances are known) that minimise the
    criterion, and its least value."""
    if not levels:
        return np.zeros(0), _criterion(np.zeros(0), sums, levels, n, unknown=unknown)[0]
    unit = 1.0 if unknown else float(np.sqrt(n / max(np.diag(sums.zz)[: levels[0]].sum(), 1e-300)))

    def asked(relative: Any) -> tuple[float, Floats]:
        value, slope = _criterion(relative * unit, sums, levels, n, unknown=unknown)
        return value, slope * unit

    def searched(start: Floats) -> Any:
        return minimize(
            asked,
            start,
            jac=True,
            method="L-BFGS-B",
            bounds=[(0.0, MOST)] * len(levels),
            options={"ftol": 1e-14, "gtol": 1e-8, "maxiter": 500},
        )

    best = None
    for start in STARTS:
        found = searched(np.full(len(levels), start))
        if best is None or found.fun < best.fun - 1e-10:
            best = found
        if np.min(found.x) > 0:
            break
    assert best is not None
    # at 0 the slope in a standard deviation is 0 whatever lies beyond: it is left where a step away gains
    while (away := _from_0(asked, np.asarray(best.x), float(best.fun))) is not None:
        found = searched(away)
        if found.fun > best.fun - LEAST_GAIN:
            break
        best = found
    return np.asarray(best.x) * unit, float(best.fun)


def _from_0(asked: Callable[[Floats], tuple[float, Floats]], at: Floats, least: float) -> Floats | None:
    """The best place with one of the standard deviations that are 0 at `at` moved away from it, of those where the
    criterion is below `least`; None where there is none."""
    moved = [
        np.where(np.arange(at.size) == place, step, at) for place in np.flatnonzero(at < AWAY[-1]) for step in AWAY
    ]
    values = [asked(one)[0] for one in moved]
    lowest = int(np.argmin(values)) if values else 0
    return moved[lowest] if values and values[lowest] < least - LEAST_GAIN else None


def _predicted(sums: _Sums, at: _Solved, scale: Floats, residual: float) -> tuple[Floats, Floats]:
    """Predicted effects and their standard errors of prediction, each shape (q,)."""
    if not scale.size:
        return np.zeros(0), np.zeros(0)
    back = _forward(at.lower, np.diag(scale))
    effects = back.T @ (at.zy - at.zx @ at.fixed)
    ahead = back.T @ at.zx
    squares = (back**2).sum(axis=0) + (ahead * np.linalg.solve(at.xx, ahead.T).T).sum(axis=1)
    return effects, np.sqrt(residual * squares)
