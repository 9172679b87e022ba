"""Intervals of means and totals, with rounds as clusters: shots of one round are not independent.

Everything here is a ratio of sums over rounds, mean = sum_r S_r / sum_r N_r:

- per shot: S_r the strokes of a group in round r, N_r its shots;
- per round: S_r those of the ball of record, N_r the round's length as a part of 18 holes, for every round that
  counts (`round_lengths`).

Two methods, both taking the round as the unit:

- `t` (the default): mean +- t(f) * s with s the jackknife over the k rounds that count,
  s^2 = (k - 1)/k * sum_r (mean without round r - mean)^2. Degrees of freedom f: per shot the rounds' effective number
  (sum_r N_r)^2 / sum_r N_r^2 less one (Kish), per round the same of the rounds that count, those without the group
  counting half: they show how often it is used, not how well (a stated choice, made by simulation). For a group
  that is in every round, and rounds of one length, the mean per round has the textbook t interval.
- `bootstrap_t`: rounds resampled with replacement, studentised by the linearised standard error; as matrix products
  of resampling weights (resamples, rounds) and sums per round (rounds, groups).

Why t is the default: over simulated seasons of skewed shots with round effects, 90 % intervals of the jackknife held
the truth in 88 to 92 % of seasons at 6, 12 and 40 rounds and were narrower at 6; bootstrap-t fell to 83 % for
clubs used about once a round. Tests repeat the measurement of the default.

Sources: A. C. Cameron, J. B. Gelbach and D. L. Miller, Review of Economics and Statistics 90, 2008 (few clusters:
bootstrap-t or t instead of percentiles). The jackknife and Kish's effective number are textbook methods, whose coverage
here the tests measure.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.integer]
Flags = npt.NDArray[np.bool_]

DEFAULT_LEVEL: Final = 0.90
LEVELS: Final = (0.5, 0.99)
"""Lowest and highest level that is taken."""

LEAST_ROUNDS: Final = 2
LEAST_SHOTS: Final = 5
TOO_FEW: Final = "not enough data"
ALIKE: Final = "all equal: no spread to judge by"
"""Why there is no interval. Equal shots would give one of no width, which claims more than is known."""

T: Final = "t"
BOOTSTRAP_T: Final = "bootstrap_t"
METHODS: Final = (T, BOOTSTRAP_T)
DEFAULT_RESAMPLES: Final = 2000
DEFAULT_SEED: Final = 1975

NO_SPREAD: Final = 1e-9
"""A standard error in strokes below this is rounding: all values were the same."""


class RoundSums(NamedTuple):
    """Sums by group and round. `shots`: counts; `strokes`: sums of the values. Both shape (groups, rounds)."""

    shots: Floats
    strokes: Floats


class Intervals(NamedTuple):
    """Means with intervals, all shape (groups,).

    `mean`: NaN without shots. `low`, `high`, `standard_error`: NaN where nothing can be stated. `clusters`: how many
    rounds hold the group.
    """

    mean: Floats
    low: Floats
    high: Floats
    standard_error: Floats
    clusters: Floats


def checked_level(level: float) -> float:
    """The level itself. ValueError outside `LEVELS`."""
    if not LEVELS[0] <= level <= LEVELS[1]:
        raise ValueError(f"level: {level:g} is outside {LEVELS[0]:g} to {LEVELS[1]:g}")
    return level


def round_sums(group: Codes, round_: Codes, values: Floats, groups: int, rounds: int) -> RoundSums:
    """Counts and sums of shots by group and round.

    `group`, `round_`: codes from 0, shape (shots,); `values`: strokes, shape (shots,), no NaN.
    """
    place = np.asarray(group, dtype=np.intp) * rounds + np.asarray(round_, dtype=np.intp)
    shots = np.bincount(place, minlength=groups * rounds).astype(np.float64)
    strokes = np.bincount(place, weights=values, minlength=groups * rounds).astype(np.float64)
    return RoundSums(shots.reshape(groups, rounds), strokes.reshape(groups, rounds))


def distinct(keys: Codes) -> tuple[Codes, Codes]:
    """The keys that occur, in order, and of each row the place of its own: `np.unique` without sorting, for keys from 0
    that are not many more than the rows, such as holes of rounds.

    >>> keys, place = distinct(np.array([4, 2, 4]))
    >>> keys.tolist(), place.tolist()
    ([2, 4], [1, 0, 1])
    """
    occurs = np.bincount(keys) > 0
    return np.flatnonzero(occurs), (np.cumsum(occurs) - 1)[keys]


def across(figures: Floats) -> Floats:
    """The sum of each row, added from left to right, so that rounds of nothing behind them change no bit: a player's
    figures are the same whoever is worked out beside. `figures`: shape (groups, rounds); returns shape (groups,)."""
    if figures.shape[0] == 1:
        # one row alone would be added in pairs
        return np.add.accumulate(figures, axis=1)[:, -1] if figures.shape[1] else np.zeros(1)
    return np.asarray(np.add.reduce(np.ascontiguousarray(figures.T), axis=0))


def enough(shots: Floats, rounds: Floats) -> Flags:
    """True where a group has the least number of shots and of rounds for an interval. Shape (groups,)."""
    return np.asarray((shots >= LEAST_SHOTS) & (rounds >= LEAST_ROUNDS))


def per_shot(sums: RoundSums, level: float = DEFAULT_LEVEL, *, method: str = T, seed: int = DEFAULT_SEED) -> Intervals:
    """Mean strokes a shot of every group; no interval below the least shots and rounds."""
    found = ratio_intervals(sums.strokes, sums.shots, level, method=method, seed=seed)
    return _silenced(found, enough(sums.shots.sum(axis=1), found.clusters))


def per_round(
    sums: RoundSums,
    level: float = DEFAULT_LEVEL,
    *,
    counted: Flags | Floats | None = None,
    method: str = T,
    seed: int = DEFAULT_SEED,
) -> Intervals:
    """Mean strokes a round of every group, a ratio of sums: strokes over lengths.

    `counted`: which rounds count for which group, and as how much of a round, shape (groups, rounds); a round of 0 does
    not count, a counted one without a shot of the group counts 0 strokes. By default every round counts as one for
    every group, so that the means sum to that of the round. No interval where the group itself has fewer than the
    least shots and rounds.
    """
    weights = np.ones_like(sums.shots) if counted is None else counted.astype(np.float64)
    counts = weights > 0
    holding = (counts & (sums.shots > 0)).sum(axis=1).astype(np.float64)
    freedom = freedom_per_round(sums, weights)
    found = ratio_intervals(sums.strokes * counts, weights, level, method=method, seed=seed, freedom=freedom)
    return _silenced(found, enough((sums.shots * counts).sum(axis=1), holding))


def freedom_per_shot(counts: Floats) -> Floats:
    """Degrees of freedom of means per shot: Kish's effective number of rounds less one, at least 1. `counts`: shots,
    shape (groups, rounds); returns shape (groups,), NaN without a shot."""
    return np.asarray(np.maximum(divided(across(counts) ** 2, across(counts**2)) - 1, 1.0))


def freedom_per_round(sums: RoundSums, weights: Floats) -> Floats:
    """Degrees of freedom of means per round, at least 1; rounds without the group count half. `weights`: the length of
    each round that counts, shape (groups, rounds); rounds of unequal length count by their effective number."""
    holding = effective_rounds(np.where(sums.shots > 0, weights, 0.0))
    return np.asarray(np.fmax((holding + effective_rounds(weights)) / 2 - 1, 1.0))


def effective_rounds(counts: Floats) -> Floats:
    """Kish's effective number of rounds, shape (groups,); 0 where none counts. `counts`: shape (groups, rounds)."""
    return np.nan_to_num(divided(across(counts) ** 2, across(counts**2)))


def reasons(sums: RoundSums, found: Intervals) -> list[str | None]:
    """Why a group has no interval, in words; None where it has one."""
    plenty = enough(sums.shots.sum(axis=1), (sums.shots > 0).sum(axis=1).astype(np.float64))
    lacking = np.isnan(found.low)
    return [None if not silent else ALIKE if many else TOO_FEW for silent, many in zip(lacking, plenty, strict=True)]


def ratio_intervals(
    strokes: Floats,
    counts: Floats,
    level: float = DEFAULT_LEVEL,
    *,
    method: str = T,
    resamples: int = DEFAULT_RESAMPLES,
    seed: int = DEFAULT_SEED,
    freedom: Floats | None = None,
) -> Intervals:
    """Ratios of sums with intervals. `strokes`, `counts`: shape (groups, rounds). ValueError for level or method.

    `freedom`: degrees of freedom for `t`, shape (groups,); by default those of the effective number of rounds.
    Fewer than two rounds with a count, or no spread at all, give a mean and no interval.
    """
    checked_level(level)
    if method not in METHODS:
        raise ValueError(f"method: {method!r} is not one of {', '.join(METHODS)}")
    clusters = (counts > 0).sum(axis=1).astype(np.float64)
    mean = divided(across(strokes), across(counts))
    error = jackknife_error(without_each_round(strokes, counts), mean, clusters)
    error = np.where(error > NO_SPREAD, error, np.nan)
    if method == T:
        if freedom is None:
            freedom = freedom_per_shot(counts)
        reach = t_quantile(1 - (1 - level) / 2, freedom)
        return Intervals(mean, mean - reach * error, mean + reach * error, error, clusters)
    low, high = _bootstrap_t(strokes, counts, mean, level, resamples, seed)
    lacking = np.isnan(error)
    return Intervals(mean, np.where(lacking, np.nan, low), np.where(lacking, np.nan, high), error, clusters)


def without_each_round(strokes: Floats, counts: Floats) -> Floats:
    """The ratio of every group with one round left out, shape (groups, rounds); NaN where that round holds nothing."""
    left = across(counts)[:, None] - counts
    kept = across(strokes)[:, None] - strokes
    return np.where(counts > 0, divided(kept, left), np.nan)


def jackknife_error(without: Floats, mean: Floats, clusters: Floats) -> Floats:
    """Jackknife standard error over rounds. `without`: shape (groups, rounds), NaN where a round does not count.

    NaN below two rounds.
    """
    squares = across(np.nan_to_num((without - mean[:, None]) ** 2))
    many = clusters >= LEAST_ROUNDS
    return np.where(many, np.sqrt(squares * (clusters - 1) / np.maximum(clusters, 1)), np.nan)


def t_quantile(probability: float, freedom: Floats) -> Floats:
    """Quantile of Student's t, NaN where `freedom` is below 1."""
    return np.asarray(np.where(freedom >= 1, stdtrit(np.maximum(freedom, 1.0), probability), np.nan))


def resampling_weights(rounds: int, resamples: int, seed: int) -> Floats:
    """How often each round is drawn in each resample, shape (resamples, rounds); every row sums to `rounds`."""
    draw = np.random.default_rng(seed)
    chosen = draw.integers(0, rounds, size=(resamples, rounds))
    chosen += np.arange(resamples)[:, None] * rounds
    counts = np.bincount(chosen.ravel(), minlength=resamples * rounds)
    return counts.reshape(resamples, rounds).astype(np.float64)


def resampled(strokes: Floats, counts: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Ratio and linearised standard error of every group in every resample, both shape (resamples, groups).

    Standard error: sqrt(k/(k-1) sum_r w_r e_r^2) / sum_r w_r N_r with e_r = S_r - ratio * N_r and k the rounds drawn
    that hold the group; NaN where k < 2.
    """
    total, count = weights @ strokes.T, weights @ counts.T
    ratio = divided(total, count)
    squares = weights @ (strokes**2).T - 2 * ratio * (weights @ (strokes * counts).T)
    squares += ratio**2 * (weights @ (counts**2).T)
    drawn = weights @ (counts > 0).astype(np.float64).T
    correction = divided(drawn, drawn - 1)
    return ratio, divided(np.sqrt(np.maximum(squares, 0.0) * correction), count)


def _bootstrap_t(
    strokes: Floats, counts: Floats, mean: Floats, level: float, resamples: int, seed: int
) -> tuple[Floats, Floats]:
    weights = resampling_weights(strokes.shape[1], resamples, seed)
    ratio, errors = resampled(strokes, counts, weights)
    errors = np.where(errors > NO_SPREAD, errors, np.nan)
    studentised = np.sort((ratio - mean) / errors, axis=0)
    places = (~np.isnan(studentised)).sum(axis=0)
    tail = (1 - level) / 2
    _, own = resampled(strokes, counts, np.ones((1, strokes.shape[1])))
    low, high = (_sorted_quantile(studentised, places, part) for part in (1 - tail, tail))
    return mean - low * own[0], mean - high * own[0]


def _sorted_quantile(ordered: Floats, places: Codes, part: float) -> Floats:
    """Quantile of each column of `ordered`, ascending with NaN at the end; `places`: how many are no NaN. Linear."""
    if ordered.shape[1] == 0:
        return np.empty(0)
    at = np.maximum(places - 1, 0) * part
    below = np.floor(at).astype(np.intp)
    above = np.minimum(below + 1, np.maximum(places - 1, 0))
    columns = np.arange(ordered.shape[1])
    first, second = ordered[below, columns], ordered[above, columns]
    return np.asarray(first + (second - first) * (at - below))


def _silenced(found: Intervals, plenty: Flags) -> Intervals:
    """The same, without interval where there is not plenty."""
    low, high, error = (np.where(plenty, part, np.nan) for part in (found.low, found.high, found.standard_error))
    return found._replace(low=low, high=high, standard_error=error)


def divided(above: Floats, below: Floats) -> Floats:
    """above / below; NaN where `below` is not above 0."""
    sound = below > 0
    return np.where(sound, above / np.where(sound, below, 1.0), np.nan)
