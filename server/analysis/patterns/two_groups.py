"""Two groups or one: whether finishes lie around two middles to the side, with few between them.

A mixture of two normal groups of one spread is fitted to the finishes aside, x_1..x_n, by expectation and maximisation:

    p_i = w N(x_i; a, s) / (w N(x_i; a, s) + (1 - w) N(x_i; b, s))
    w = mean of p,   a = sum p x / sum p,   b = sum (1 - p) x / sum (1 - p),
    s^2 = (sum p (x - a)^2 + sum (1 - p)(x - b)^2) / n

with w held between `LEAST_SHARE` and 1 - `LEAST_SHARE`, so that a few mishits are no group. It is compared with one
normal group by the Bayesian information criterion, BIC = k ln n - 2 ln L, of k = 4 and 2 parameters. Two groups are
named where it is lower by `GAIN` or more, and their middles lie more than `APART` spreads apart: nearer ones have one
top between them.

Sources: G. Schwarz, Annals of Statistics 6, 1978, 461-464 (BIC); R. E. Kass and A. E. Raftery, JASA 90, 1995, 773-795
(2 to 6 positive, 6 to 10 strong; read in the manual of R's package pcal); K. M. Ashman, C. M. Bird and S. E. Zepf,
Astronomical Journal 108, 1994, 2348-2361, doi 10.1086/117248 (two normal groups of one spread and size show two tops
from two spreads apart on; they also found a likelihood ratio unreliable below 50 values; both quoted). Tests hold the
fit to scikit-learn and measure how often one group is called two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.curves import Floats

FEWEST_FOR_GROUPS: Final = 12
"""Below so many shots no groups are looked for. A choice of this tool."""
LEAST_SHARE: Final = 0.2
"""A group holds this share of the shots at least: a few shots astray are mishits, no second way. A choice of this
tool."""
APART: Final = 2.0
"""Spreads between the middles."""
GAIN: Final = 6.0
"""By how much BIC must fall: "strong" evidence at least, since long tails of one group alone give "positive" evidence
now and then."""
SPLITS: Final = (0.2, 0.35, 0.5, 0.65, 0.8)
"""Shares of the ordered finishes at which a fit starts."""
LEAST_SPREAD: Final = 1e-3
"""Of the spread of all: a group of equal finishes is not taken for a point."""
MOST_STEPS: Final = 200
SETTLED: Final = 1e-6
"""A step that raises the log likelihood by less is the last."""


@dataclass(frozen=True, eq=False)
class TwoGroups:
    """The left and the right group: share of the shots, middle, the spread that both have (units of the finishes), by
    how much BIC falls, and which shots are of the right one, (n,)."""

    share_left: float
    left: float
    right: float
    spread: float
    gain: float
    in_right: npt.NDArray[np.bool_]


def two_groups(aside: Floats) -> TwoGroups | None:
    """The two groups of finishes, or None where one does, or too few or equal finishes are there.

    `aside`: (n,) finite, right of the target positive, any unit.

    >>> shots = np.array([-21.0, -20, -19, -22, -18, -20, 19, 20, 21, 18, 22, 20])
    >>> found = two_groups(shots)
    >>> round(found.left), round(found.right), found.share_left
    (-20, 20, 0.5)
    """
    found = best_fit(aside)
    if found is None or found.gain < GAIN or found.right - found.left <= APART * found.spread:
        return None
    return found if LEAST_SHARE <= found.in_right.mean() <= 1 - LEAST_SHARE else None


def best_fit(aside: Floats) -> TwoGroups | None:
    """The likeliest mixture of two groups, whether it is better than one group or not. None for fewer finishes than
    `FEWEST_FOR_GROUPS`, or finishes without spread."""
    values = np.sort(np.asarray(aside, dtype=np.float64))
    n = values.size
    if n < FEWEST_FOR_GROUPS or values[0] == values[-1]:
        return None
    likelihood, share, left, right, spread = _fitted(values)
    one = -0.5 * n * (np.log(2 * np.pi * values.var()) + 1)
    gain = 2 * (likelihood - one) - 2 * np.log(n)
    # where both groups are as likely
    edge = (left + right) / 2 + spread**2 / (right - left) * np.log(share / (1 - share)) if right > left else left
    return TwoGroups(share, left, right, spread, float(gain), np.asarray(aside, dtype=np.float64) > edge)


def _fitted(values: Floats) -> tuple[float, float, float, float, float]:
    """Log likelihood, share of the left group, both middles and the spread: the likeliest of fits from several starts,
    at each of which so many of the ordered finishes are left ones."""
    n = values.size
    first = np.clip(np.round(np.array(SPLITS) * n), 1, n - 1)
    part = (np.arange(n)[None, :] < first[:, None]).astype(np.float64)
    floor = LEAST_SPREAD * float(values.std())
    before = np.full(len(SPLITS), -np.inf)
    for _ in range(MOST_STEPS):
        weight = part.sum(axis=1)
        share = np.clip(weight / n, LEAST_SHARE, 1 - LEAST_SHARE)
        left = part @ values / weight
        right = (values.sum() - part @ values) / (n - weight)
        off_left, off_right = ((values[None, :] - middle[:, None]) ** 2 for middle in (left, right))
        spread = np.maximum(np.sqrt((part * off_left + (1 - part) * off_right).sum(axis=1) / n), floor)
        of_left = np.log(share)[:, None] - 0.5 * off_left / spread[:, None] ** 2
        of_right = np.log(1 - share)[:, None] - 0.5 * off_right / spread[:, None] ** 2
        both = np.logaddexp(of_left, of_right)
        likelihood = both.sum(axis=1) - n * np.log(spread * np.sqrt(2 * np.pi))
        part = np.exp(of_left - both)
        if np.all(likelihood - before < SETTLED):
            break
        before = likelihood
    best = int(likelihood.argmax())
    found = float(share[best]), float(left[best]), float(right[best])
    if found[1] > found[2]:
        found = 1 - found[0], found[2], found[1]
    return float(likelihood[best]), *found, float(spread[best])
