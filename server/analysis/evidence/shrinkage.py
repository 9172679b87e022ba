"""Shrunk means: twelve shots with a club show little, so its mean is drawn towards the player's mean for like starts.

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

Sources: B. Efron and C. Morris, JASA 70, 1975, 311-319; C. Morris, JASA 78, 1983, 47-55: the factor, as A. Sacarny's
ebayes for Stata computes it (there the centre is a regression's), and for equal variances the third part,
2 B^2 (y - c)^2/(k - r - 2), equations 4.1 and 4.2, as the manual of R's package mfrmr quotes them; its factor
w_g (V + tau^2), 1 for equal variances, and u_g for given centres were read nowhere and are held by the coverage alone;
R. DerSimonian and N. Laird, Controlled Clinical Trials 7, 1986, 177-188, and the method of Paule and Mandel (tau^2,
both held to statsmodels in tests).
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
    across,
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
    (k,). `between_sd`: tau, strokes: how far true means lie from their centres, shape (sets,)."""

    raw: Floats
    centre: Floats
    shrunk: Floats
    own: Floats
    between_sd: Floats
    error: Floats

    def interval(self, level: float, freedom: Floats | None = None) -> tuple[Floats, Floats]:
        """Ends of the intervals that hold the true means with chance `level`, on average over groups, shape (k,).

        `freedom`: degrees of freedom of the sampling variances, shape (k,); None when they are known, for the normal
        quantile instead of Student's. ValueError for a level outside its range."""
        share = (1 + checked_level(level)) / 2
        half = (ndtri(share) if freedom is None else stdtrit(freedom, share)) * self.error
        return self.shrunk - half, self.shrunk + half


class Sets(NamedTuple):
    """Which means belong together, as those of one player: `of`: the set of each, from 0, and `place`: its place in the
    set, both shape (k,); `sets`: how many there are; `most`: the places of the largest."""

    of: Codes
    place: Codes
    sets: int
    most: int

    @classmethod
    def one(cls, size: int) -> Sets:
        """All in one set."""
        return cls(np.zeros(size, dtype=np.intp), np.arange(size), 1, size)

    @classmethod
    def behind(cls, of: Codes, sets: int) -> Sets:
        """Sets whose means follow one another, `of` ascending."""
        sizes = np.bincount(of, minlength=sets)
        place = np.arange(of.size) - (np.cumsum(sizes) - sizes)[of]
        return cls(of, place, sets, int(sizes.max(initial=0)))

    def chosen(self, taken: Flags) -> Sets:
        """Some of the means; they keep their sets and their places."""
        return self._replace(of=self.of[taken], place=self.place[taken])

    def sums(self, values: Floats) -> Floats:
        """The sum over each set, shape (sets,)."""
        return np.bincount(self.of, weights=values, minlength=self.sets).astype(np.float64)

    def sizes(self) -> Floats:
        """How many means each set has, shape (sets,)."""
        return np.bincount(self.of, minlength=self.sets).astype(np.float64)


def shrink(
    means: Floats,
    variances: Floats,
    centre: Floats | None = None,
    *,
    sets: Sets | None = None,
    borrowed: Floats | None = None,
    method: str = PAULE_MANDEL,
) -> Shrunk:
    """Shrink k means, each of the `sets` by itself; all are one set unless they are given. `means`, `variances` (> 0),
    `centre`: shape (k,), finite, strokes and strokes squared. Without `centre` the precision-weighted mean of each set
    is estimated.

    `borrowed`: how much each mean weighs in each centre, by its place in the set, shape (k, sets.most), rows sum to 1
    at most, for how sure a given centre is; None when it is known without error. A set of fewer than `LEAST_MEANS`
    means is not shrunk (`own` = 1). ValueError for variances that are not above 0, or another method.
    """
    sets = sets or Sets.one(np.size(means))
    raw, variances = np.asarray(means, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    if not np.all(variances > 0):
        raise ValueError("variances: a sampling variance must be above 0")
    enough = sets.sizes() >= LEAST_MEANS
    many = enough[sets.of]
    tau2 = np.where(enough, between_variance(raw, variances, centre, sets=sets, method=method), 0.0)
    total = variances + tau2[sets.of]
    middle = _weighted(raw, total, sets)[sets.of] if centre is None else np.asarray(centre, dtype=np.float64)
    free = np.where(many, (sets.sizes() - (1 if centre is None else 0))[sets.of], np.nan)
    away = (free - 2) / free * variances / total
    if centre is None:
        unsure = (1 / sets.sums(1 / total))[sets.of]
    elif borrowed is None:
        unsure = np.zeros(raw.size)
    else:
        lent = np.zeros((sets.sets, sets.most))
        lent[sets.of, sets.place] = total
        unsure = across(borrowed**2 * lent[sets.of])
    usual = _weighted(variances, total, sets)[sets.of] + tau2[sets.of]
    error = np.sqrt(
        variances * (1 - away)
        + away * variances * unsure / total
        + 2 / (free - 2) * away**2 * usual / total * (raw - middle) ** 2
    )
    own = np.where(many, 1 - away, 1.0)
    shrunk = np.where(many, middle + (1 - away) * (raw - middle), raw)
    return Shrunk(raw, middle, shrunk, own, np.sqrt(tau2), np.where(many, error, np.sqrt(variances)))


def between_variance(
    means: Floats,
    variances: Floats,
    centre: Floats | None = None,
    *,
    sets: Sets | None = None,
    method: str = PAULE_MANDEL,
) -> Floats:
    """tau^2 of each set, strokes squared, shape (sets,), never below 0: the variance of true means around their common
    or given centre.

    `means`, `variances`, `centre`: shape (k,), two or more in a set; `sets`: all are one unless they are given.
    ValueError for another method.
    """
    if method not in METHODS:
        raise ValueError(f"method: {method!r} is not one of {', '.join(METHODS)}")
    sets = sets or Sets.one(np.size(means))
    of = sets.of
    away = means if centre is None else means - centre
    freedom = sets.sizes() - (1 if centre is None else 0)

    def excess(tau2: Floats) -> Floats:
        weight = 1 / (variances + tau2[of])
        middle = (sets.sums(weight * away) / sets.sums(weight))[of] if centre is None else 0.0
        return np.asarray(sets.sums(weight * (away - middle) ** 2) - freedom)

    low, high = np.zeros(sets.sets), np.zeros(sets.sets)
    spread = excess(low)
    if method == DERSIMONIAN_LAIRD:
        weight = 1 / np.asarray(variances)
        scale = sets.sums(weight) - (sets.sums(weight**2) / sets.sums(weight) if centre is None else 0.0)
        return np.fmax(0.0, divided(spread, scale))
    wide = spread > 0
    np.maximum.at(high, of, variances)
    while (beyond := wide & (excess(high) > 0)).any():
        high = np.where(beyond, 2 * high, high)
    for _ in range(100):
        middle = (low + high) / 2
        if np.all(~wide | (middle == low) | (middle == high)):
            break
        above = excess(middle) > 0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(wide, (low + high) / 2, 0.0)


def _weighted(values: Floats, variances: Floats, sets: Sets) -> Floats:
    """The mean of each set, weighted by precision. Shape (sets,), NaN where it is empty."""
    return divided(sets.sums(values / variances), sets.sums(1 / variances))


def sampling_variances(sums: RoundSums, sets: Sets | None = None) -> Floats:
    """Sampling variance of each group's mean per shot, shape (groups,), with rounds as clusters. Strokes squared.

    A jackknife over a handful of rounds is a poor variance, so each group's variance per shot is pooled with that of
    all groups of its set, which weighs as `PRIOR_FREEDOM` further rounds. NaN where no group has two rounds, or without
    shots.
    """
    sets = sets or Sets.one(sums.shots.shape[0])
    shots = sums.shots.sum(axis=1)
    clusters = (sums.shots > 0).sum(axis=1).astype(np.float64)
    mean = divided(across(sums.strokes), shots)
    error = jackknife_error(without_each_round(sums.strokes, sums.shots), mean, clusters)
    freedom = np.where(clusters >= 2, clusters - 1, 0.0)
    own = np.where(freedom > 0, error**2 * shots, 0.0)
    pooled = divided(sets.sums(freedom * own), sets.sums(freedom))[sets.of]
    moderate = (freedom * own + PRIOR_FREEDOM * pooled) / (freedom + PRIOR_FREEDOM)
    return divided(moderate, shots)


class LikeStarts(NamedTuple):
    """`centre`: of each group, strokes, shape (groups,), NaN without shots; `borrowed`: how much the shots of each
    group weigh in each centre, by its place in the set, shape (groups, most), rows sum to 1."""

    centre: Floats
    borrowed: Floats


def variance_freedom(sums: RoundSums) -> Floats:
    """Degrees of freedom of `sampling_variances`: a group's rounds less one, but no fewer than the pool weighs. Shape
    (groups,). Adding both held the truth a little too seldom: shots are skewed."""
    return np.asarray(np.maximum((sums.shots > 0).sum(axis=1) - 1.0, PRIOR_FREEDOM))


def like_starts(
    group: Codes, lie: Codes, band: Codes, values: Floats, groups: int, sets: Sets | None = None
) -> LikeStarts:
    """The centre of each group: the player's mean over starts like the group's own.

    `group`, `lie`, `band`: codes from 0, shape (shots,); `values`: strokes a shot; `sets`: the groups of each player.
    Each shot counts as the mean of its stratum (lie by distance band); where the player's other groups have fewer than
    `LEAST_SHARED` shots there, as the mean of its lie; where they have too few from that lie too, as the mean of all
    shots.
    """
    sets = sets or Sets.one(groups)
    if values.size == 0:
        return LikeStarts(np.full(groups, np.nan), np.zeros((groups, sets.most)))
    # shots of a group from one stratum are all alike here: worked out once
    lies, bands = int(np.max(lie)) + 1, int(np.max(band)) + 1
    start = (np.asarray(group, dtype=np.intp) * lies + lie) * bands + band
    counts = np.bincount(start, minlength=groups * lies * bands)
    cells = np.flatnonzero(counts)
    shots = counts[cells].astype(np.float64)
    strokes = np.bincount(start, weights=values, minlength=counts.size)[cells].astype(np.float64)
    whose, stratum = np.divmod(cells, lies * bands)
    owner, place = sets.of[whose], sets.place[whose]
    stand_in, weights = np.zeros(cells.size), np.zeros((cells.size, sets.most))
    levels = (owner, owner * lies + stratum // bands, owner * (lies * bands) + stratum)
    for number, level in enumerate(levels):
        _, at = np.unique(level, return_inverse=True)
        shared = np.bincount(at, weights=shots)
        by_group = np.bincount(at * sets.most + place, weights=shots, minlength=shared.size * sets.most)
        share = by_group.reshape(shared.size, sets.most) / shared[:, None]
        lent = (shared[at] - by_group[at * sets.most + place] >= LEAST_SHARED) | (number == 0)
        stand_in = np.where(lent, (np.bincount(at, weights=strokes) / shared)[at], stand_in)
        weights[lent] = share[at[lent]]
    total = np.bincount(whose, weights=shots * stand_in, minlength=groups).astype(np.float64)
    many = np.bincount(whose, weights=shots, minlength=groups).astype(np.float64)
    columns = [np.bincount(whose, weights=shots * column, minlength=groups) for column in weights.T]
    return LikeStarts(divided(total, many), divided(np.column_stack(columns).astype(np.float64), many[:, None]))
