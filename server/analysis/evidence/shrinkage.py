"""Shrunk means: twelve shots with a club say little, so its mean is drawn towards the player's mean for like starts.

Normal-normal empirical Bayes. With raw means y_g of sampling variance v_g, centres c_g and true means spread around
their centres with variance tau^2,

    shrunk_g = c_g + (1 - B_g) (y_g - c_g),     B_g = (k - r - 2)/(k - r) * v_g/(v_g + tau^2)

for k means; r = 1 when one common centre is estimated from the same means and 0 when centres are given. The factor in
front allows for tau^2 being estimated; with equal variances B is the James-Stein factor (k - 3) v/S.

Sources: B. Efron and C. Morris, JASA 70, 1975, 311-319; C. Morris, JASA 78, 1983, 47-55 (the factor for unequal
variances); R. DerSimonian and N. Laird, Controlled Clinical Trials 7, 1986, 177-188, and the method of Paule and Mandel
(tau^2, both held to statsmodels in tests).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from server.analysis.evidence.intervals import (
    Codes,
    Flags,
    Floats,
    RoundSums,
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
    """`raw`, `centre`, `shrunk`: strokes; `own`: weight of the group's own mean, 0 to 1. All shape (k,).
    `between_sd`: tau, strokes: how far true means lie from their centres."""

    raw: Floats
    centre: Floats
    shrunk: Floats
    own: Floats
    between_sd: float


def shrink(means: Floats, variances: Floats, centre: Floats | None = None, *, method: str = PAULE_MANDEL) -> Shrunk:
    """Shrink k means. `means`, `variances` (> 0), `centre`: shape (k,), finite. Without `centre` the precision-weighted
    mean of all is estimated.

    With fewer than `LEAST_MEANS` means nothing is shrunk (`own` = 1). ValueError for variances that are not above 0.
    """
    raw = np.asarray(means, dtype=np.float64)
    if not np.all(np.asarray(variances) > 0):
        raise ValueError("variances: a sampling variance must be above 0")
    tau2 = between_variance(raw, variances, centre, method=method) if raw.size >= LEAST_MEANS else 0.0
    given = centre is not None
    middle = np.asarray(centre, dtype=np.float64) if given else np.full(raw.size, _weighted(raw, variances + tau2))
    if raw.size < LEAST_MEANS:
        return Shrunk(raw, middle, raw.copy(), np.ones(raw.size), 0.0)
    free = raw.size - (0 if given else 1)
    away = (free - 2) / free * variances / (variances + tau2)
    return Shrunk(raw, middle, middle + (1 - away) * (raw - middle), 1 - away, float(np.sqrt(tau2)))


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


def like_starts(group: Codes, lie: Codes, band: Codes, values: Floats, groups: int) -> Floats:
    """The centre of each group: the player's mean over starts like the group's own, shape (groups,). NaN without shots.

    `group`, `lie`, `band`: codes from 0, shape (shots,); `values`: strokes a shot. Each shot stands for the mean of its
    stratum (lie by distance band); where other groups have fewer than `LEAST_SHARED` shots there, for the mean of its
    lie; where they have too few from that lie too, for the mean of all shots.
    """
    if values.size == 0:
        return np.full(groups, np.nan)
    stand_in = np.full(values.size, values.mean())
    for level in (np.asarray(lie, dtype=np.intp), _crossed(lie, band)):
        shared, mean = _level_means(np.asarray(group, dtype=np.intp), level, values)
        stand_in = np.where(shared, mean, stand_in)
    shots = np.bincount(group, minlength=groups).astype(np.float64)
    total = np.bincount(group, weights=stand_in, minlength=groups).astype(np.float64)
    return divided(total, shots)


def _crossed(first: Codes, second: Codes) -> Codes:
    crossed = np.asarray(first, dtype=np.intp) * (int(np.max(second)) + 1) + np.asarray(second, dtype=np.intp)
    return np.asarray(np.unique(crossed, return_inverse=True)[1], dtype=np.intp)


def _level_means(group: Codes, level: Codes, values: Floats) -> tuple[Flags, Floats]:
    """Per shot, shape (shots,): whether other groups have enough shots at its level, and the mean of that level."""
    shots = np.bincount(level)
    mean = np.bincount(level, weights=values) / np.maximum(shots, 1)
    own = _crossed(group, level)
    others = shots[level] - np.bincount(own)[own]
    return others >= LEAST_SHARED, mean[level]
