"""Shrunk means: twelve shots with a club say little, so its mean is drawn towards the player's mean for like starts.

Normal-normal empirical Bayes. With raw means y_g of sampling variance v_g, centres c_g and true means spread around
their centres with variance tau^2,

    shrunk_g = c_g + (1 - B_g) (y_g - c_g),     B_g = (k - r - 2)/(k - r) * v_g/(v_g + tau^2)

for k means; r = 1 when one common centre is estimated from the same means and 0 when centres are given. The factor in
front allows for tau^2 being estimated; with equal variances B is the James-Stein factor (k - 3) v/S.

The error of a shrunk mean holds three parts: what the group's own shots leave open, what is not known of the centre, of
variance u_g, and what is not known of tau^2,

    s_g^2 = v_g (1 - B_g) + B_g w_g v_g u_g + 2/(k - r - 2) B_g^2 w_g (V + tau^2) (y_g - c_g)^2

with w_g = 1/(v_g + tau^2) and V the mean of all v weighted by w; for one estimated centre u_g = 1/sum w, and with equal
variances the second part is B v/k. The interval is shrunk_g +- q s_g, q the normal quantile for known
variances and Student's for estimated ones. Tests measure how often it holds the truth.

Sources: B. Efron and C. Morris, JASA 70, 1975, 311-319; C. Morris, JASA 78, 1983, 47-55 (factor and error for unequal
variances, the error from memory; there the centre is a regression's); R. DerSimonian and N. Laird, Controlled Clinical
Trials 7, 1986, 177-188, and the method of Paule and Mandel (tau^2, both held to statsmodels in tests).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtri, stdtrit

from server.analysis.evidence.intervals import (
    Codes,
    Flags,
    Floats,
    RoundSums,
    checked_level,
    divided,
    jackknife_error,
    without_each_round,
)

PAULE_MANDEL: Final = "paule_mandel"
DERSIMONIAN_LAIRD: Final = "dersimonian_laird"
METHODS: Final = (PAULE_MANDEL, DERSIMONIAN_LAIRD)

LEAST_MEANS: Final = 4
"""Below this many means nothing is shrunk: a spread between three clubs or fewer cannot be estimated."""

PRIOR_FREEDOM: Final = 4.0
"""How many rounds the pooled variance weighs beside a club's own rounds. A stated choice of this tool."""

LEAST_SHARED: Final = 5
"""A stratum lends a mean only where other groups have this many shots in it. A stated choice of this tool."""


class Shrunk(NamedTuple):
    """`raw`, `centre`, `shrunk`: strokes; `own`: weight of the group's own mean, 0 to 1; `error`: s, strokes. All shape
    (k,). `between_sd`: tau, strokes: how far true means lie from their centres."""

    raw: Floats
    centre: Floats
    shrunk: Floats
    own: Floats
    between_sd: float
    error: Floats

    def interval(self, level: float, freedom: Floats | None = None) -> tuple[Floats, Floats]:
        """Ends of the intervals that hold the true means with chance `level`, on average over groups, shape (k,).

        `freedom`: degrees of freedom of the sampling variances, shape (k,); None when they are known, for the normal
        quantile instead of Student's."""
        share = (1 + checked_level(level)) / 2
        half = (ndtri(share) if freedom is None else stdtrit(freedom, share)) * self.error
        return self.shrunk - half, self.shrunk + half


def shrink(
    means: Floats,
    variances: Floats,
    centre: Floats | None = None,
    *,
    borrowed: Floats | None = None,
    method: str = PAULE_MANDEL,
) -> Shrunk:
    """Shrink k means. `means`, `variances` (> 0), `centre`: shape (k,), finite. Without `centre` the precision-weighted
    mean of all is estimated.

    `borrowed`: how much each mean weighs in each centre, shape (k, k), rows sum to 1 at most, for how sure a given
    centre is; None when it is known without error. With fewer than `LEAST_MEANS` means nothing is shrunk (`own` = 1).
    ValueError for variances that are not above 0.
    """
    raw = np.asarray(means, dtype=np.float64)
    if not np.all(np.asarray(variances) > 0):
        raise ValueError("variances: a sampling variance must be above 0")
    tau2 = between_variance(raw, variances, centre, method=method) if raw.size >= LEAST_MEANS else 0.0
    given = centre is not None
    middle = np.asarray(centre, dtype=np.float64) if given else np.full(raw.size, _weighted(raw, variances + tau2))
    if raw.size < LEAST_MEANS:
        return Shrunk(raw, middle, raw.copy(), np.ones(raw.size), 0.0, np.sqrt(variances))
    free = raw.size - (0 if given else 1)
    total = variances + tau2
    away = (free - 2) / free * variances / total
    if not given:
        unsure = np.full(raw.size, 1 / float((1 / total).sum()))
    else:
        unsure = np.zeros(raw.size) if borrowed is None else borrowed**2 @ total
    usual = _weighted(np.asarray(variances, dtype=np.float64), total) + tau2
    error = np.sqrt(
        variances * (1 - away)
        + away * variances * unsure / total
        + 2 / (free - 2) * away**2 * usual / total * (raw - middle) ** 2
    )
    return Shrunk(raw, middle, middle + (1 - away) * (raw - middle), 1 - away, float(np.sqrt(tau2)), error)


def between_variance(
    means: Floats, variances: Floats, centre: Floats | None = None, *, method: str = PAULE_MANDEL
) -> float:
    """tau^2, never below 0: the variance of true means around their common or given centre.

    `means`, `variances`, `centre`: shape (k,), k >= 2. ValueError for another method.
    """
    if method not in METHODS:
        raise ValueError(f"method: {method!r} is not one of {', '.join(METHODS)}")
    away = means if centre is None else means - centre
    freedom = away.size - (1 if centre is None else 0)

    def excess(tau2: float) -> float:
        weight = 1 / (variances + tau2)
        middle = _weighted(away, variances + tau2) if centre is None else 0.0
        return float((weight * (away - middle) ** 2).sum()) - freedom

    weight = 1 / variances
    if method == DERSIMONIAN_LAIRD:
        scale = weight.sum() - ((weight**2).sum() / weight.sum() if centre is None else 0.0)
        return max(0.0, excess(0.0) / float(scale))
    if excess(0.0) <= 0:
        return 0.0
    low, high = 0.0, float(variances.max())
    while excess(high) > 0:
        high *= 2
    for _ in range(100):
        low, high = ((low + high) / 2, high) if excess((low + high) / 2) > 0 else (low, (low + high) / 2)
    return (low + high) / 2


def _weighted(values: Floats, variances: Floats) -> float:
    return float((values / variances).sum() / (1 / variances).sum())


def sampling_variances(sums: RoundSums) -> Floats:
    """Sampling variance of each group's mean per shot, shape (groups,), with rounds as clusters. Strokes squared.

    A jackknife over a handful of rounds is a poor variance, so each group's variance per shot is pooled with that of
    all groups, which weighs as `PRIOR_FREEDOM` further rounds. NaN where no group has two rounds, or without shots.
    """
    shots = sums.shots.sum(axis=1)
    clusters = (sums.shots > 0).sum(axis=1).astype(np.float64)
    mean = divided(sums.strokes.sum(axis=1), shots)
    error = jackknife_error(without_each_round(sums.strokes, sums.shots), mean, clusters)
    freedom = np.where(clusters >= 2, clusters - 1, 0.0)
    own = np.where(freedom > 0, error**2 * shots, 0.0)
    if not freedom.sum():
        return np.full(shots.size, np.nan)
    pooled = (freedom * own).sum() / freedom.sum()
    moderate = (freedom * own + PRIOR_FREEDOM * pooled) / (freedom + PRIOR_FREEDOM)
    return divided(moderate, shots)


class LikeStarts(NamedTuple):
    """`centre`: of each group, strokes, shape (groups,), NaN without shots; `borrowed`: how much the shots of each
    group weigh in each centre, shape (groups, groups), rows sum to 1."""

    centre: Floats
    borrowed: Floats


def variance_freedom(sums: RoundSums) -> Floats:
    """Degrees of freedom of `sampling_variances`: a group's rounds less one, but no fewer than the pool weighs. Shape
    (groups,). Adding both held the truth a little too seldom: shots are skewed."""
    return np.asarray(np.maximum((sums.shots > 0).sum(axis=1) - 1.0, PRIOR_FREEDOM))


def like_starts(group: Codes, lie: Codes, band: Codes, values: Floats, groups: int) -> LikeStarts:
    """The centre of each group: the player's mean over starts like the group's own.

    `group`, `lie`, `band`: codes from 0, shape (shots,); `values`: strokes a shot. Each shot stands for the mean of its
    stratum (lie by distance band); where other groups have fewer than `LEAST_SHARED` shots there, for the mean of its
    lie; where they have too few from that lie too, for the mean of all shots.
    """
    if values.size == 0:
        return LikeStarts(np.full(groups, np.nan), np.zeros((groups, groups)))
    whose = np.asarray(group, dtype=np.intp)
    shots = np.bincount(whose, minlength=groups).astype(np.float64)
    stand_in = np.full(values.size, values.mean())
    weights = np.tile(shots / values.size, (values.size, 1))
    for level in (np.asarray(lie, dtype=np.intp), _crossed(lie, band)):
        shared, mean, share = _level_means(whose, level, values, groups)
        stand_in = np.where(shared, mean, stand_in)
        weights[shared] = share[shared]
    total = np.bincount(whose, weights=stand_in, minlength=groups).astype(np.float64)
    columns = [np.bincount(whose, weights=column, minlength=groups) for column in weights.T]
    borrowed = np.column_stack(columns).astype(np.float64)
    return LikeStarts(divided(total, shots), divided(borrowed, shots[:, None]))


def _crossed(first: Codes, second: Codes) -> Codes:
    crossed = np.asarray(first, dtype=np.intp) * (int(np.max(second)) + 1) + np.asarray(second, dtype=np.intp)
    return np.asarray(np.unique(crossed, return_inverse=True)[1], dtype=np.intp)


def _level_means(group: Codes, level: Codes, values: Floats, groups: int) -> tuple[Flags, Floats, Floats]:
    """Per shot: whether other groups have enough shots at its level and the mean of that level, shape (shots,), and the
    share of each group in that level, shape (shots, groups)."""
    shots = np.bincount(level)
    mean = np.bincount(level, weights=values) / np.maximum(shots, 1)
    by_group = np.bincount(level * groups + group, minlength=shots.size * groups).reshape(shots.size, groups)
    share = by_group / np.maximum(shots, 1)[:, None]
    others = shots[level] - by_group[level, group]
    return others >= LEAST_SHARED, mean[level], share[level]
