"""The difference of two sides from like starts: strata with overlap weights, rounds as clusters.

Two clubs are used from different lies and distances, so their shots are compared within strata and the strata weighted
by their overlap w_s = a_s b_s / (a_s + b_s), with a_s and b_s the shots of either side:

    difference = sum_s w_s (mean_As - mean_Bs) / sum_s w_s

It is the coefficient of the side in a regression with one constant a stratum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtr

from server.analysis.evidence.intervals import (
    LEAST_ROUNDS,
    LEAST_SHOTS,
    NO_SPREAD,
    Codes,
    Flags,
    Floats,
    checked_level,
    divided,
    t_quantile,
)

NO_OVERLAP: Final = "no_overlap"
TOO_FEW_SHOTS: Final = "too_few_shots"
TOO_FEW_ROUNDS: Final = "too_few_rounds"
ALL_ALIKE: Final = "all_alike"
ONE_ROUND_CARRIES_ALL: Final = "one_round_carries_all"


@dataclass(frozen=True)
class Matched:
    """What like starts say of side A against side B; strokes a shot.

    `difference`, `low`, `high`, `standard_error`, `chance` (that the true difference is above 0, by the t
    distribution): None where nothing can be stated, with `lacking`, one of the words above. `used_a`, `used_b`: shots
    of either side that have a counterpart; `rounds_a`, `rounds_b`: rounds that they came from; `effective`: shots a
    side of a perfectly matched trial that would know as much, 2 sum_s w_s. `shot_sd`: spread of shots within side and
    stratum, strokes; `round_share`: share of its variance that shots of one round have in common (intraclass
    correlation); `shots_a_round`: a side's shots a round. `kept`: shape (shots,), True for the shots used."""

    difference: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    chance: float | None
    lacking: str | None
    used_a: int
    used_b: int
    rounds_a: int
    rounds_b: int
    effective: float
    shot_sd: float | None
    round_share: float
    shots_a_round: float
    kept: Flags


def compare_matched(side_a: Flags, stratum: Codes, round_: Codes, values: Floats, level: float) -> Matched:
    """Compare the shots of side A (True in `side_a`) with those of side B (False).

    `stratum`, `round_`: codes from 0; `values`: strokes gained, no NaN; all shape (shots,). ValueError for the level.

    Interval: t with the jackknife over rounds. Degrees of freedom: the rounds of the side that has fewer, less one, the
    careful choice where one side may carry most of the noise.
    """
    checked_level(level)
    kept = _overlapping(side_a, stratum)
    a, stratum, round_, values = side_a[kept], _packed(stratum[kept]), _packed(round_[kept]), values[kept]
    spread = _spread(a, stratum, round_, values)
    counts = _Counts(a, round_)
    if not a.size:
        return _silent(NO_OVERLAP, counts, 0.0, spread, kept)
    estimate, without, effective = _estimates(a, stratum, round_, values)
    lacking = counts.lacking()
    error = 0.0
    if lacking is None and np.isnan(without).any():
        lacking = ONE_ROUND_CARRIES_ALL
    if lacking is None:
        rounds = without.size
        error = float(np.sqrt((rounds - 1) / rounds * ((without - estimate) ** 2).sum()))
        lacking = ALL_ALIKE if error <= NO_SPREAD else None
    if lacking is not None:
        return _silent(lacking, counts, effective, spread, kept)
    freedom = float(min(counts.of_sides[2:]) - 1)
    reach = float(t_quantile(1 - (1 - level) / 2, np.array([freedom]))[0]) * error
    chance = float(stdtr(freedom, estimate / error))
    return Matched(
        estimate, estimate - reach, estimate + reach, error, chance, None, *counts.of_sides, effective, *spread, kept
    )


class _Counts:
    """Shots and rounds of either side."""

    def __init__(self, a: Flags, round_: Codes) -> None:
        rounds_a, rounds_b = np.unique(round_[a]), np.unique(round_[~a])
        self.of_sides = (int(a.sum()), int((~a).sum()), rounds_a.size, rounds_b.size)

    def lacking(self) -> str | None:
        if min(self.of_sides[:2]) < LEAST_SHOTS:
            return TOO_FEW_SHOTS
        return TOO_FEW_ROUNDS if min(self.of_sides[2:]) < LEAST_ROUNDS else None


Spread = tuple[float | None, float, float]


def _silent(lacking: str, counts: _Counts, effective: float, spread: Spread, kept: Flags) -> Matched:
    return Matched(None, None, None, None, None, lacking, *counts.of_sides, effective, *spread, kept)


def _packed(codes: Codes) -> Codes:
    """The same codes without gaps."""
    return np.asarray(np.unique(codes, return_inverse=True)[1], dtype=np.intp)


def _overlapping(side_a: Flags, stratum: Codes) -> Flags:
    """True for shots of strata that both sides have."""
    if not side_a.size:
        return np.zeros(0, dtype=np.bool_)
    of_a = np.bincount(stratum, weights=side_a)
    of_b = np.bincount(stratum) - of_a
    return np.asarray(((of_a > 0) & (of_b > 0))[stratum])


def _estimates(a: Flags, stratum: Codes, round_: Codes, values: Floats) -> tuple[float, Floats, float]:
    """The difference, the same without each round (shape (rounds,), NaN where no overlap is left), and 2 sum_s w_s."""
    shape = (int(stratum.max()) + 1, int(round_.max()) + 1)
    place = stratum * shape[1] + round_
    size = shape[0] * shape[1]

    def table(chosen: Flags, weights: Floats | None) -> Floats:
        """Sums by stratum; first column over all rounds, then without each."""
        summed = np.bincount(place[chosen], weights=None if weights is None else weights[chosen], minlength=size)
        by_round = summed.reshape(shape).astype(np.float64)
        total = by_round.sum(axis=1, keepdims=True)
        return np.hstack([total, total - by_round])

    count_a, count_b = table(a, None), table(~a, None)
    weight = divided(count_a * count_b, count_a + count_b)
    means = divided(table(a, values), count_a) - divided(table(~a, values), count_b)
    both = (count_a > 0) & (count_b > 0)
    weights = np.where(both, weight, 0.0).sum(axis=0)
    differences = divided(np.where(both, weight * means, 0.0).sum(axis=0), weights)
    return float(differences[0]), differences[1:], 2 * float(weights[0])


def _spread(a: Flags, stratum: Codes, round_: Codes, values: Floats) -> Spread:
    """Standard deviation within side and stratum (None without a shot to spare), intraclass correlation of rounds, and
    shots a side and round."""
    if not a.size:
        return None, 0.0, 1.0
    cell = _packed(2 * stratum + a)
    size = np.bincount(cell)
    rest = values - (np.bincount(cell, weights=values) / size)[cell]
    freedom = values.size - size.size
    held = _packed(2 * round_ + a)
    shots_a_round = values.size / (int(held.max()) + 1)
    if freedom < 1:
        return None, 0.0, shots_a_round
    sd = float(np.sqrt((rest**2).sum() / freedom))
    return sd, _intraclass(rest, round_), shots_a_round


def _intraclass(rest: Floats, round_: Codes) -> float:
    """Intraclass correlation of `rest` within rounds by one-way analysis of variance, from 0 to 1; 0 where unknown."""
    size = np.bincount(round_).astype(np.float64)
    groups, shots = size.size, rest.size
    if groups < LEAST_ROUNDS or shots <= groups:
        return 0.0
    mean = np.bincount(round_, weights=rest) / size
    between = float((size * (mean - rest.mean()) ** 2).sum()) / (groups - 1)
    within = float(((rest - mean[round_]) ** 2).sum()) / (shots - groups)
    usual = (shots - float((size**2).sum()) / shots) / (groups - 1)
    below = between + (usual - 1) * within
    return min(max((between - within) / below, 0.0), 1.0) if below > 0 else 0.0
