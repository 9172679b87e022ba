"""The difference of two sides from like starts: strata with overlap weights, rounds as clusters.

Two clubs are used from different lies and distances, so their shots are compared within strata. Without covariates the
strata weigh by their overlap w_s = a_s b_s / (a_s + b_s), with a_s and b_s the shots of either side:

    difference = sum_s w_s (mean_As - mean_Bs) / sum_s w_s

It is the coefficient of the side in a regression with one constant a stratum. Covariates (the distance within its band)
join that regression with one slope each. Strata where the two sides start far apart are refused.

Where the sides share hardly a round, the player's form changes with the side. Then the same regression over the
player's other shots, side by the round, is taken off: difference in differences (O. Ashenfelter and D. Card, Review of
Economics and Statistics 67, 1985, 648-660). Both leave the same round out in turn, so that what a day did to all clubs
alike cancels in the standard error too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

import numpy as np
from scipy.special import stdtr

from server.analysis.evidence.confidence_sequences import reach
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
NO_CONTROL: Final = "no_control"
TIED_TO_COVARIATES: Final = "tied_to_covariates"
NO_TURNS: Final = "no_turns"

SHARED_ROUNDS: Final = 0.25
"""Below this share of common rounds (of the side with fewer) two sides are before and after. A stated choice."""
LEAST_CONTROL: Final = 0.5
"""Control shots of a side's worth, as a part of the trial's own, below which there is no verdict. A stated choice."""
LEAST_LEFT: Final = 0.05
"""Part of the side's variation that covariates must leave."""
FAR_APART: Final = 0.5
"""Difference of the sides' mean distances, in widths of the band, above which a stratum is refused: the two were not
used from like distances there. A stated choice."""


@dataclass(frozen=True)
class Control:
    """The player's other shots in the same rounds: they show what the days did to all clubs.

    `stratum`: codes from 0; `round_`: codes shared with the trial's; `values`: strokes gained, no NaN; all shape
    (shots,)."""

    stratum: Codes
    round_: Codes
    values: Floats


@dataclass(frozen=True)
class Matched:
    """Side A against side B from like starts; strokes a shot.

    `difference`, `low`, `high`, `standard_error`, `chance` (that the true difference is above 0, by the t
    distribution): None where nothing can be stated, with `lacking`, one of the words above. `always_low`,
    `always_high`: the confidence sequence at 1 - (1 - level)/2, None too while it has no end. `freedom`: degrees of
    freedom. `used_a`, `used_b`: shots of either side that have a counterpart; `rounds_a`, `rounds_b`: rounds that they
    came from; `shared_rounds`: rounds with both; `effective`: shots a side of a perfectly matched trial that would know
    as much, 2 sum_s w_s. `shot_sd`: spread of shots within side and stratum, strokes; `round_share`: share of its
    variance that shots of one round have in common (intraclass correlation); `shots_a_round`: a side's shots a round.
    `kept`: shape (shots,), True for the shots used; `refused`: shots in strata where the sides start far apart.
    `control_shots`: other shots that the difference was corrected by, `control_change`: what they changed from the
    rounds of B to those of A, None where no correction was due."""

    difference: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    chance: float | None
    always_low: float | None
    always_high: float | None
    freedom: float
    lacking: str | None
    used_a: int
    used_b: int
    rounds_a: int
    rounds_b: int
    shared_rounds: int
    effective: float
    shot_sd: float | None
    round_share: float
    shots_a_round: float
    kept: Flags
    refused: int
    control_shots: int
    control_change: float | None

    def without_result(self, lacking: str) -> Matched:
        """The same without a difference, and why."""
        silent = dict.fromkeys(("difference", "low", "high", "standard_error", "chance", "always_low", "always_high"))
        return replace(self, **silent, lacking=lacking)  # type: ignore[arg-type]

    @property
    def before_and_after(self) -> bool:
        """Whether the sides share hardly a round."""
        fewer = min(self.rounds_a, self.rounds_b)
        return fewer > 0 and self.shared_rounds < SHARED_ROUNDS * fewer


def compare_matched(
    side_a: Flags,
    stratum: Codes,
    round_: Codes,
    values: Floats,
    level: float,
    *,
    covariates: Floats | None = None,
    band_position: Floats | None = None,
    control: Control | None = None,
    pairs: int = 1,
) -> Matched:
    """Compare the shots of side A (True in `side_a`) with those of side B (False).

    `stratum`, `round_`: codes from 0; `values`: strokes gained, no NaN; all shape (shots,). `covariates`: shape
    (shots, k), no NaN. `band_position`: where in its band a shot starts, in widths of the band; strata whose sides lie
    more than `FAR_APART` apart are refused. `control`: used where the sides share hardly a round; without it such
    sides are compared as they are. `pairs`: comparisons among which this is one; the confidence sequence holds for all
    of them together (Bonferroni). ValueError for the level.

    Interval: t with the jackknife over rounds. Degrees of freedom: the rounds of the side that has fewer, less one, the
    careful choice where one side may carry most of the noise. With level 0.9 the confidence sequence is one of 95 %: of
    trials between equals that are looked at after every round at most 5 in 100 ever leave zero.
    """
    checked_level(level)
    kept, refused = _overlapping(side_a, stratum, band_position)
    a, stratum, values = side_a[kept], _packed(stratum[kept]), values[kept]
    spread = _spread(a, stratum, _packed(round_[kept]), values)
    counts = _Counts(a, round_[kept])
    found = _Found(counts, spread, kept, refused)
    if not a.size:
        return found.silent(NO_OVERLAP, 0.0)
    rounds = int(round_.max()) + 1 if control is None else int(max(round_.max(), control.round_.max(initial=0))) + 1
    chosen = None if covariates is None else covariates[kept]
    own = _contrast(a, stratum, round_[kept], values, chosen, rounds)
    lacking = counts.lacking() or own.lacking()
    if lacking is not None:
        return found.silent(lacking, own.effective)
    estimate, without, control_shots, change = own.estimate, own.without, 0, None
    if control is not None and counts.shared < SHARED_ROUNDS * min(counts.of_sides[2:]):
        other, control_shots = _change_of_control(a, round_[kept], control, rounds)
        if other is None or other.lacking() or other.effective < LEAST_CONTROL * own.effective:
            return found.silent(NO_CONTROL, own.effective, control_shots)
        estimate, without, change = estimate - other.estimate, without - other.without, other.estimate
    used = np.unique(round_[kept])
    squares = (without[used] - estimate) ** 2
    error = float(np.sqrt((used.size - 1) / used.size * squares.sum()))
    if error <= NO_SPREAD:
        return found.silent(ALL_ALIKE, own.effective, control_shots)
    freedom = float(min(counts.of_sides[2:]) - 1)
    once = float(t_quantile(1 - (1 - level) / 2, np.array([freedom]))[0]) * error
    always = reach(freedom, (1 - level) / 2 / pairs) * error
    return Matched(
        difference=estimate,
        low=estimate - once,
        high=estimate + once,
        standard_error=error,
        chance=float(stdtr(freedom, estimate / error)),
        always_low=estimate - always if np.isfinite(always) else None,
        always_high=estimate + always if np.isfinite(always) else None,
        freedom=freedom,
        lacking=None,
        **found.counted(own.effective, control_shots),
        control_change=change,
    )


class _Counts:
    """Shots and rounds of either side."""

    def __init__(self, a: Flags, round_: Codes) -> None:
        rounds_a, rounds_b = np.unique(round_[a]), np.unique(round_[~a])
        self.of_sides = (int(a.sum()), int((~a).sum()), rounds_a.size, rounds_b.size)
        self.shared = np.intersect1d(rounds_a, rounds_b, assume_unique=True).size

    def lacking(self) -> str | None:
        if min(self.of_sides[:2]) < LEAST_SHOTS:
            return TOO_FEW_SHOTS
        return TOO_FEW_ROUNDS if min(self.of_sides[2:]) < LEAST_ROUNDS else None


Spread = tuple[float | None, float, float]


class _Found(NamedTuple):
    """What is known of two sides whether or not a difference can be stated."""

    counts: _Counts
    spread: Spread
    kept: Flags
    refused: int

    def counted(self, effective: float, control_shots: int) -> dict[str, Any]:
        used_a, used_b, rounds_a, rounds_b = self.counts.of_sides
        shot_sd, round_share, shots_a_round = self.spread
        return {
            "used_a": used_a, "used_b": used_b, "rounds_a": rounds_a, "rounds_b": rounds_b,
            "shared_rounds": self.counts.shared, "effective": effective, "shot_sd": shot_sd,
            "round_share": round_share, "shots_a_round": shots_a_round, "kept": self.kept, "refused": self.refused,
            "control_shots": control_shots,
        }  # fmt: skip

    def silent(self, lacking: str, effective: float, control_shots: int = 0) -> Matched:
        """No difference, and why."""
        return Matched(
            difference=None, low=None, high=None, standard_error=None, chance=None, always_low=None, always_high=None,
            freedom=0.0, lacking=lacking, **self.counted(effective, control_shots), control_change=None,
        )  # fmt: skip


def _packed(codes: Codes) -> Codes:
    """The same codes without gaps."""
    return np.asarray(np.unique(codes, return_inverse=True)[1], dtype=np.intp)


def _totals(stratum: Codes, weights: Floats | Flags) -> Floats:
    return np.bincount(stratum, weights=weights.astype(np.float64)).astype(np.float64)


def _overlapping(side_a: Flags, stratum: Codes, position: Floats | None) -> tuple[Flags, int]:
    """True for shots of strata that both sides have and start alike in, and how many shots were refused for that."""
    if not side_a.size:
        return np.zeros(0, dtype=np.bool_), 0
    of_a, of_b = (_totals(stratum, side) for side in (side_a, ~side_a))
    both = (of_a > 0) & (of_b > 0)
    if position is None:
        return np.asarray(both[stratum]), 0
    means = divided(_totals(stratum, position * side_a), of_a)
    apart = np.abs(means - divided(_totals(stratum, position * ~side_a), of_b))
    near = both & ~(apart > FAR_APART)
    return np.asarray(near[stratum]), int((both & ~near)[stratum].sum())


class _Contrast(NamedTuple):
    """`estimate`: coefficient of the side; `without`: the same without each round, shape (rounds,), NaN where nothing
    is left to compare; `effective`: 2 sum_s w_s; `left`: part of the side's variation that covariates leave."""

    estimate: float
    without: Floats
    effective: float
    left: float

    def lacking(self) -> str | None:
        if self.left < LEAST_LEFT:
            return TIED_TO_COVARIATES
        return ONE_ROUND_CARRIES_ALL if np.isnan(self.without).any() else None


def _contrast(
    side: Flags, stratum: Codes, round_: Codes, values: Floats, covariates: Floats | None, rounds: int
) -> _Contrast:
    """The coefficient of the side with one constant a stratum; cross products by stratum, over all rounds and without
    each, so that no regression is fitted again."""
    shape = (int(stratum.max()) + 1, rounds)
    place = stratum * rounds + round_
    columns = [side.astype(np.float64), *([] if covariates is None else list(covariates.T)), values]

    def table(weights: Floats | None) -> Floats:
        """Sums by stratum; first column over all rounds, then without each."""
        summed = np.bincount(place, weights=weights, minlength=shape[0] * rounds).reshape(shape)
        total = summed.sum(axis=1, keepdims=True).astype(np.float64)
        return np.hstack([total, total - summed])

    count = table(None)
    sums = [table(column) for column in columns]
    size = len(columns)
    cross = np.empty((rounds + 1, size, size))
    for i in range(size):
        for j in range(i, size):
            within = table(columns[i] * columns[j]) - np.nan_to_num(divided(sums[i] * sums[j], count))
            cross[:, i, j] = cross[:, j, i] = within.sum(axis=0)
    own, with_value = cross[:, 0, 0], cross[:, 0, -1]
    left = own
    if size > 2:
        scale = np.sqrt(np.maximum(cross[0].diagonal()[1:-1], NO_SPREAD))
        inverse = np.linalg.pinv(cross[:, 1:-1, 1:-1] / np.outer(scale, scale), rcond=1e-9, hermitian=True)
        tied = np.einsum("ri,rij->rj", cross[:, 0, 1:-1] / scale, inverse)
        left = own - np.einsum("rj,rj->r", tied, cross[:, 0, 1:-1] / scale)
        with_value = with_value - np.einsum("rj,rj->r", tied, cross[:, 1:-1, -1] / scale)
    sound = np.where(left > 1e-9 * max(own[0], 1.0), left, 0.0)
    estimates = divided(with_value, sound)
    return _Contrast(float(estimates[0]), estimates[1:], 2 * float(own[0]), float(left[0] / own[0]) if own[0] else 0.0)


def _change_of_control(a: Flags, round_: Codes, control: Control, rounds: int) -> tuple[_Contrast | None, int]:
    """What the other shots changed from the rounds of side B to those of side A, and how many such shots there are.
    Rounds with both sides, and rounds with neither, add nothing."""
    of_a, of_b = (np.bincount(round_[side], minlength=rounds) > 0 for side in (a, ~a))
    known = (of_a ^ of_b)[control.round_]
    later, stratum = of_a[control.round_[known]], control.stratum[known]
    kept, _ = _overlapping(later, stratum, None)
    if not kept.any():
        return None, 0
    found = _contrast(
        later[kept], _packed(stratum[kept]), control.round_[known][kept], control.values[known][kept], None, rounds
    )
    return found, int(kept.sum())


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
