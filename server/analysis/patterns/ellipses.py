"""Ellipses and circles around two-dimensional finishes, and a centre and covariance that one shank cannot move.

Prediction ellipse of the next shot from n shots of a bivariate normal pattern, mean m and covariance S (n - 1):

    (x - m)' S^-1 (x - m) <= q,   q = 2 (n - 1)(n + 1) / (n (n - 2)) F(P; 2, n - 2)

(Hotelling's T-squared for one further observation; tests measure how often the next shot lies inside). For n without
bound q goes to the chi-square quantile -2 ln(1 - P).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import optimize, special, stats

from server.analysis.expected_strokes.curves import Floats

FEWEST_FOR_ELLIPSE: Final = 3
FEWEST_FOR_ROBUST: Final = 10
"""With p = 2 the subset of a robust fit then holds six shots, twice what fixes an ellipse. A choice of this tool."""

STARTS: Final = 200
"""Random subsets of three from which a robust fit starts. With a third of the shots astray a subset of three is clean
with probability (2/3)^3 = 0.30, so that all 200 miss with probability below 1e-30."""

SET_ASIDE: Final = 0.999
"""A shot outside the ellipse that holds a next shot with this probability, by the shots within, is called set aside."""

_NODES, _NODE_WEIGHTS = np.polynomial.legendre.leggauss(400)
_ANGLES: Final = (_NODES + 1) * np.pi / 4
_WEIGHTS: Final = _NODE_WEIGHTS * np.pi / 4
"""Gauss-Legendre rule from 0 to a right angle."""


@dataclass(frozen=True)
class Ellipse:
    """An ellipse: centre (right, long), half axes in yards (long one first), the long axis' direction in degrees from
    straight ahead, right positive, in (-90, 90]."""

    right_yd: float
    long_yd: float
    half_long_yd: float
    half_short_yd: float
    turned_deg: float


@dataclass(frozen=True, eq=False)
class Robust:
    """A robust fit: centre (2,), covariance (2, 2), and which shots lie outside its `SET_ASIDE` ellipse (n,)."""

    centre: Floats
    covariance: Floats
    aside: npt.NDArray[np.bool_]


def next_shot_factor(n: int, share: float) -> float:
    """q of the ellipse that holds the next shot with probability `share`, from `n` shots (n >= 3, else ValueError)."""
    if n < FEWEST_FOR_ELLIPSE:
        raise ValueError(f"{n} shots: an ellipse needs {FEWEST_FOR_ELLIPSE} or more")
    return float(2 * (n - 1) * (n + 1) / (n * (n - 2)) * stats.f.ppf(share, 2, n - 2))


def ellipse(centre: Floats, covariance: Floats, factor: float) -> Ellipse:
    """The ellipse (x - m)' S^-1 (x - m) = factor. `centre`: (2,); `covariance`: (2, 2), in yards."""
    variances, axes = np.linalg.eigh(covariance)
    half = np.sqrt(np.maximum(variances, 0.0) * factor)
    right, long = axes[:, 1]
    turned = float(np.degrees(np.arctan2(right, long)))
    turned = turned - 180 if turned > 90 else turned + 180 if turned <= -90 else turned
    return Ellipse(float(centre[0]), float(centre[1]), float(half[1]), float(half[0]), turned)


def next_shot_ellipse(finishes: Floats, share: float) -> Ellipse | None:
    """The ellipse that holds the next shot with probability `share`. `finishes`: (n, 2) right and long in yards;
    None for fewer than 3."""
    if len(finishes) < FEWEST_FOR_ELLIPSE:
        return None
    return ellipse(finishes.mean(axis=0), np.cov(finishes.T), next_shot_factor(len(finishes), share))


def circular_error(sd_one: float, sd_other: float, share: float) -> float:
    """Radius of the circle around the centre of a normal pattern that holds `share` of the shots.

    `sd_one`, `sd_other`: standard deviations along the two axes, in any length; the radius is in the same. With
    a = larger, b = smaller: P(R) = int_0^R 2 phi(x/a)/a (2 Phi(sqrt(R^2 - x^2)/b) - 1) dx. Source: Harter, JASA 55
    (1960).
    """
    large, small = max(sd_one, sd_other), min(sd_one, sd_other)
    if large <= 0:
        return 0.0
    ratio = small / large
    if ratio == 0:
        return large * float(stats.norm.ppf((1 + share) / 2))

    sine, cosine = np.sin(_ANGLES), np.cos(_ANGLES)

    def inside(radius: float) -> float:
        along, across = radius * sine, radius * cosine
        density = 2 * np.exp(-(along**2) / 2) / np.sqrt(2 * np.pi)
        return float(np.sum(_WEIGHTS * density * (2 * special.ndtr(across / ratio) - 1) * across))

    widest = float(np.sqrt(stats.chi2.ppf(share, 2)))
    return large * float(optimize.brentq(lambda radius: inside(radius) - share, 0.0, widest + 1e-6, xtol=1e-9))


def robust_fit(finishes: Floats, seed: int = 0) -> Robust | None:
    """Minimum covariance determinant, reweighted. `finishes`: (n, 2); None for fewer than 10 shots or when more than
    half of them lie on one line.

    Of all subsets of h = (n + 3) // 2 shots the one whose covariance has the least determinant, by concentration steps
    from random subsets; scaled by the median distance; then mean and covariance of the shots within the 97.5 %
    ellipse. Source: Rousseeuw and Van Driessen, Technometrics 41 (1999) 212-223.
    """
    n = len(finishes)
    if n < FEWEST_FOR_ROBUST:
        return None
    size = (n + 3) // 2
    centre, covariance = _least_determinant(finishes, size, seed)
    if np.linalg.det(covariance) <= 1e-9:
        return None
    distances = _distances(finishes, centre, covariance)
    covariance = covariance * (np.median(distances) / stats.chi2.ppf(0.5, 2))
    near = _distances(finishes, centre, covariance) < stats.chi2.ppf(0.975, 2)
    centre, covariance = finishes[near].mean(axis=0), np.cov(finishes[near].T, bias=True)
    covariance = covariance * _consistency(0.975)
    if np.linalg.det(covariance) <= 1e-9:
        return None
    return Robust(centre, covariance, _far_out(finishes, near))


def _far_out(finishes: Floats, within: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Shots outside the `SET_ASIDE` ellipse of a next shot. A robust subset of few shots is too narrow, so the
    ellipse is drawn anew from all shots within it until it no longer changes; what lies far out never comes in."""
    for _ in range(20):
        inside = finishes[within]
        distances = _distances(finishes, inside.mean(axis=0), np.cov(inside.T))
        following = distances <= next_shot_factor(len(inside), SET_ASIDE)
        if np.array_equal(following, within):
            break
        within = following
    return ~within


def _consistency(share: float) -> float:
    """The factor from the covariance of a bivariate normal cut at its `share` ellipse to that of the full normal:
    share / F(quantile; chi-square with 4 degrees). Source: Croux and Haesbroeck, J. Multivariate Analysis 71 (1999)."""
    return float(share / stats.chi2.cdf(stats.chi2.ppf(share, 2), 4))


def _least_determinant(finishes: Floats, size: int, seed: int) -> tuple[Floats, Floats]:
    """Centre and covariance (divisor `size`) of the best subset found: two steps from every start, then the best ten on
    until they no longer change."""
    rng = np.random.default_rng(seed)
    chosen = rng.random((STARTS, len(finishes))).argsort(axis=1)[:, :3]
    for _ in range(2):
        chosen = _concentrate(finishes, chosen, size)
    determinants = np.linalg.det(_moments(finishes, chosen)[1])
    chosen = chosen[np.argsort(determinants)[:10]]
    for _ in range(30):
        following = _concentrate(finishes, chosen, size)
        still = np.array_equal(np.sort(following, axis=1), np.sort(chosen, axis=1))
        chosen = following
        if still:
            break
    centre, covariance = _moments(finishes, chosen)
    best = int(np.argmin(np.linalg.det(covariance)))
    return centre[best], covariance[best]


def _moments(finishes: Floats, chosen: npt.NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Centres (s, 2) and covariances (s, 2, 2) of subsets, `chosen`: (s, k) places."""
    subset = finishes[chosen]
    centre = subset.mean(axis=1)
    away = subset - centre[:, None]
    return centre, np.einsum("ski,skj->sij", away, away) / chosen.shape[1]


def _concentrate(finishes: Floats, chosen: npt.NDArray[np.intp], size: int) -> npt.NDArray[np.intp]:
    """The `size` shots nearest to each subset's centre by its own covariance."""
    centre, covariance = _moments(finishes, chosen)
    inverse = np.linalg.inv(covariance + 1e-9 * np.eye(2))
    offset = finishes[None] - centre[:, None]
    distance = np.einsum("sni,snj,sij->sn", offset, offset, inverse)
    return np.argpartition(distance, size - 1, axis=1)[:, :size]


def _distances(finishes: Floats, centre: Floats, covariance: Floats) -> Floats:
    offset = finishes - centre
    return np.asarray(np.einsum("ni,ij,nj->n", offset, np.linalg.inv(covariance), offset))
