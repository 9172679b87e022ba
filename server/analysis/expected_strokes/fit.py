"""A baseline of one's own: the published table plus a smooth offset, learnt from strokes to hole out.

    E_own(lie, d) = E(lie, d) + a f_lie(log d),     a = sqrt(E(lie, d) - 1)

f is a normal process with mean 0: offsets of one lie are alike over distances within a factor of 1.8 of each other,
those of two lies off the green are alike to a share, the green's are independent. Its size tau is averaged over by
how likely it makes the data, 0 (no offset) among the values, so that little data, or a player like the published
ones, gives the published table back. Away from starts of the same lie f fades to 0 and the row says "published". a
makes the size of an offset comparable: a putt of 2 ft leaves hardly room for one.

Within a lie the table never falls with distance: where the sum of both would, neighbouring rows take their mean,
weighted by how well each is known (pool adjacent violators).

Every row has an interval. Its variance is that of the process where the data leave it open (Nychka) and, for what the
data say, the jackknife over rounds, since the starts of a hole, and holes of a round, are not independent:

    v = a^2 [ mean over tau of (tau^2 (1 - learnt) - S D S') + variance over tau of f + (g-1)/g sum_r (f_r - mean)^2 ]

with S the smoother, D the variances of the cells, f_r the fit without the r-th of g groups of rounds; t with g - 1
degrees of freedom.

Sources: F. M. T. A. Busing, J. Stat. Software 102, Code Snippet 1, 2022 (pooling: scipy's `isotonic_regression` follows
it); D. Nychka, JASA 83, 1988, 1134-1143, abstract (intervals of a smoother that hold on average over its points). The
tests measure how often the intervals hold the truth.

Observed: from every start of the ball of record on finished holes, the strokes that were still needed, penalties
included. They are averages over starts, so nothing is assumed of how a shot's value splits. Method: ridge regression in
its form of a Gaussian process.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import isotonic_regression
from scipy.special import stdtrit

from server.analysis.evidence.intervals import DEFAULT_LEVEL, checked_level
from server.analysis.expected_strokes.baseline import Baseline, make_baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.expected_strokes.own_table import (
    CARRIED,
    DATA,
    LEVELLED,
    NEAR_STARTS,
    PUBLISHED,
    WITHIN,
    OwnTable,
)
from server.analysis.strokes_gained.attribution import in_range
from server.analysis.strokes_gained.scorecard import hole_scores
from server.game.lies import CODE, FAIRWAY, FRINGE, GREEN, LieCodes, lie_codes

LEAST_STARTS: Final = 200
LEAST_ROUNDS: Final = 5
"""Fewer starts or rounds than this are refused: no offset would be left. A stated choice of this tool."""
SMOOTH: Final = 0.6
"""Length over which offsets are alike, in log distance."""
SHARED: Final = 0.6
"""How much two lies off the green have in common: every shot from them ends in the same short game and putts."""
SIZES: Final = (0.0, 0.02, 0.04, 0.07, 0.10, 0.14, 0.20, 0.28, 0.40, 0.56)
"""Sizes tau that are averaged over; 0.4 from a fairway at 150 yd is 0.56 strokes."""
_SQUARED: Final = np.square(SIZES)[:, None]
CELL: Final = 0.08
"""Starts within this step of log distance are averaged first."""
LEAST_ROOM: Final = 0.01
"""E - 1 is not taken below this."""
VARIANCE_SHARE: Final = 0.35
VARIANCE_LEAST: Final = 0.01
VARIANCE_STARTS: Final = 10.0
"""Where starts are few their variance leans on 0.35 (E - 1) + 0.01, which weighs as 10 of them. A stated choice."""
LEARNT: Final = 0.2
"""The offset counts where at least this share of its prior variance is gone."""
MOST_GROUPS: Final = 40
"""The jackknife leaves out single rounds up to this many, else groups of them."""
NEAR: Final = 0.1
GONE: Final = 0.3
"""Steps of log distance from the nearest start of the same lie: up to the first the offset counts in full, from the
second on not at all (a factor of 1.35)."""


class TooFewShotsError(ValueError):
    """The rounds are too few for a baseline of one's own."""


def strokes_to_hole_out(valued: pd.DataFrame) -> pd.DataFrame:
    """Every start of the ball of record on finished holes: round_id, hole, lie (fringe as fairway), distance_yd,
    remaining (strokes still needed, penalties included).

    `valued`: as `valued_shots` returns it. Several players' frames may follow one another.
    """
    ball = valued[valued["ball"].eq(1)].sort_values("order", kind="stable")
    scores = hole_scores(valued)
    keys = pd.MultiIndex.from_arrays([ball["round_id"].astype("object"), ball["hole"]])
    taken = 1 + ball["penalty_strokes"].to_numpy(dtype=np.float64)
    before = pd.Series(taken, index=keys).groupby(level=[0, 1], sort=False).cumsum().to_numpy() - taken
    score = scores["strokes"].reindex(keys).to_numpy(dtype=np.float64)
    complete = scores["complete"].reindex(keys).to_numpy(dtype=bool)
    lie = ball["lie"].astype("object").where(ball["lie"].ne(FRINGE), FAIRWAY)
    frame = pd.DataFrame(
        {
            "round_id": ball["round_id"].astype("object").to_numpy(),
            "hole": ball["hole"].to_numpy(),
            "lie": lie.to_numpy(),
            "distance_yd": ball["distance_yd"].to_numpy(dtype=np.float64),
            "remaining": score - before,
        }
    )
    sound = in_range(lie_codes(frame["lie"]), frame["distance_yd"].to_numpy())
    return frame[complete & sound].reset_index(drop=True)


def fit_baseline(starts: pd.DataFrame, published: Baseline, level: float = DEFAULT_LEVEL) -> OwnTable:
    """The published table with the offset that `starts` (of `strokes_to_hole_out`) show.

    `level`: chance that a row's interval holds the truth, on average over rows. Raises TooFewShotsError, in plain
    words, below `LEAST_STARTS` or `LEAST_ROUNDS`; ValueError for a level outside its range.
    """
    rounds = int(starts["round_id"].nunique())
    if len(starts) < LEAST_STARTS or rounds < LEAST_ROUNDS:
        raise TooFewShotsError(
            f"{len(starts)} shots on finished holes of {rounds} round{'' if rounds == 1 else 's'} are too few for a "
            f"baseline of one's own: at least {LEAST_STARTS} shots in {LEAST_ROUNDS} rounds are needed"
        )
    rows = _printed_rows(published)
    at = _Places(lie_codes(rows["lie"]), np.log(rows["distance_yd"].to_numpy()))
    seen = _Starts(
        lie_codes(starts["lie"]),
        starts["distance_yd"].to_numpy(dtype=np.float64),
        starts["remaining"].to_numpy(dtype=np.float64),
    )
    cells = _cells(seen, published)
    found = _offset(cells, at)
    near = _near(seen, at)
    learnt = (found.learnt >= LEARNT) * _near_starts(cells, at)
    by_rounds, groups = _jackknife(seen, starts["round_id"], published, at)
    printed = rows["published"].to_numpy()
    room = _room(printed)
    # what fading away takes off the offset may be missing from the truth's
    variance = room**2 * (found.open + by_rounds + ((1 - learnt) * found.offset) ** 2)
    half = float(stdtrit(groups - 1, (1 + checked_level(level)) / 2)) * np.sqrt(variance)
    own = np.maximum(printed + learnt * room * found.offset, 1.0)
    ends = (own, np.maximum(own - half, 1.0), own + half)
    expected, low, high = (rising(at.lie, values, 1 / variance) for values in ends)
    known = np.select(
        [(learnt > 0) & (near >= NEAR_STARTS), learnt > 0, expected != printed], [DATA, CARRIED, LEVELLED], PUBLISHED
    )
    rows = rows.assign(expected=expected, known=known, low=low, high=high, near=near)
    spans = starts.groupby("lie")["distance_yd"].agg(["min", "max"])
    holes = len(starts[["round_id", "hole"]].drop_duplicates())
    data_range = {str(name): (float(span["min"]), float(span["max"])) for name, span in spans.iterrows()}
    return OwnTable(rows, found.size, len(starts), holes, rounds, data_range, level)


def own_curves(starts: pd.DataFrame, published: Baseline) -> Baseline:
    """The player's own expected strokes without intervals, as a baseline to look values up in: the published one with
    the offset of `fit_baseline`, or `published` itself where the starts are too few for one. Fast: no jackknife."""
    if len(starts) < LEAST_STARTS or starts["round_id"].nunique() < LEAST_ROUNDS:
        return published
    rows = _printed_rows(published)
    at = _Places(lie_codes(rows["lie"]), np.log(rows["distance_yd"].to_numpy()))
    yards, remaining = (starts[name].to_numpy(dtype=np.float64) for name in ("distance_yd", "remaining"))
    cells = _cells(_Starts(lie_codes(starts["lie"]), yards, remaining), published)
    found = _offset(cells, at)
    learnt = (found.learnt >= LEARNT) * _near_starts(cells, at)
    printed = rows["published"].to_numpy()
    own = rising(at.lie, np.maximum(printed + learnt * _room(printed) * found.offset, 1.0), np.ones(len(rows)))
    groups = rows.assign(expected=own).groupby("lie", sort=False)
    table = {str(lie): (part["distance_yd"].to_numpy(), part["expected"].to_numpy()) for lie, part in groups}
    return make_baseline(replace(published.about, title=f"{published.about.title}, the player's own", rows=table))


@dataclass(frozen=True, eq=False)
class _Starts:
    """Starts one by one, all shape (n,): lie code, yards, strokes still needed."""

    lie: LieCodes
    yards: Floats
    remaining: Floats

    def part(self, kept: npt.NDArray[np.bool_]) -> _Starts:
        return _Starts(self.lie[kept], self.yards[kept], self.remaining[kept])


@dataclass(frozen=True, eq=False)
class _Places:
    """Where the offset is asked for, both shape (n,): lie code, log yards."""

    lie: LieCodes
    log_yards: Floats


@dataclass(frozen=True, eq=False)
class _Cells:
    """Averages of starts close to each other, all shape (c,): lie code, log yards, mean scaled offset, its variance."""

    lie: LieCodes
    log_yards: Floats
    mean: Floats
    variance: Floats


def _room(expected: Floats) -> Floats:
    return np.sqrt(np.maximum(expected - 1, LEAST_ROOM))


def _cells(starts: _Starts, published: Baseline) -> _Cells:
    expected = published.expected(starts.lie, starts.yards)
    known = np.isfinite(expected)
    seen, expected = starts.part(known), expected[known]
    lie, distance = seen.lie, seen.yards
    room, away = _room(expected), seen.remaining - expected
    step = np.floor(np.log(distance) / CELL).astype(np.int64)
    _, first, place = np.unique(np.stack([lie.astype(np.int64), step]), axis=1, return_index=True, return_inverse=True)
    place = place.ravel()
    count = np.bincount(place).astype(np.float64)

    def averaged(values: Floats) -> Floats:
        return np.bincount(place, weights=values) / count

    centred = (away - averaged(away)[place]) ** 2
    assumed = averaged(VARIANCE_SHARE * np.maximum(expected - 1, 0.0) + VARIANCE_LEAST)
    spread = (np.bincount(place, weights=centred) + VARIANCE_STARTS * assumed) / (count - 1 + VARIANCE_STARTS)
    scaled = averaged(away) / averaged(room)
    return _Cells(lie[first], averaged(np.log(distance)), scaled, spread / count / averaged(room) ** 2)


def _alike(one: _Places | _Cells, other: _Cells) -> Floats:
    """Correlation of offsets, shape (n, m)."""
    same = one.lie[:, None] == other.lie[None, :]
    green = (one.lie[:, None] == CODE[GREEN]) | (other.lie[None, :] == CODE[GREEN])
    share = np.where(same, 1.0, np.where(green, 0.0, SHARED))
    return np.asarray(share * np.exp(-0.5 * ((one.log_yards[:, None] - other.log_yards[None, :]) / SMOOTH) ** 2))


def _near(starts: _Starts, at: _Places) -> npt.NDArray[np.int64]:
    """How many starts of the same lie are near, shape (n,)."""
    counts = np.zeros(at.lie.size, dtype=np.int64)
    for code in np.unique(at.lie):
        here, yards = at.lie == code, np.sort(starts.yards[starts.lie == code])
        rows = np.exp(at.log_yards[here])
        last = np.searchsorted(yards, rows * (1 + WITHIN), side="right")
        counts[here] = last - np.searchsorted(yards, rows * (1 - WITHIN), side="left")
    return counts


def _near_starts(cells: _Cells, at: _Places) -> Floats:
    """1 near a start of the same lie, falling to 0 away from it, shape (n,)."""
    apart = np.abs(at.log_yards[:, None] - cells.log_yards[None, :])
    apart = np.where(at.lie[:, None] == cells.lie[None, :], apart, np.inf).min(axis=1, initial=np.inf)
    return np.asarray(np.clip((GONE - apart) / (GONE - NEAR), 0.0, 1.0))


@dataclass(frozen=True, eq=False)
class _Offset:
    """Scaled offset at the rows, the share of its prior variance that the data took away, the variance that they leave
    open whatever their noise (all shape (n,)), and the mean size."""

    offset: Floats
    learnt: Floats
    open: Floats
    size: float


def _offset(cells: _Cells, at: _Places) -> _Offset:
    found = _by_size(cells, at)
    squares = found.rows.T**2
    learnt = _SQUARED * (found.shrunk @ squares)
    left_open = np.maximum(_SQUARED * (1 - learnt) - _SQUARED**2 * (found.shrunk**2 @ squares), 0.0)
    mean = found.weight @ found.offsets
    between = found.weight @ (found.offsets - mean) ** 2
    return _Offset(mean, found.weight @ learnt, found.weight @ left_open + between, float(found.weight @ SIZES))


@dataclass(frozen=True, eq=False)
class _BySize:
    """What each size makes of the cells: how likely it makes them, summing to 1, shape (s,), and the offset at the
    rows, shape (s, n). `shrunk` and `rows` lie along the axes in which the covariance of the cells, in units of their
    noise, is diagonal whatever the size: its inverse, shape (s, c), and the correlation of rows and cells, (n, c)."""

    weight: Floats
    offsets: Floats
    shrunk: Floats
    rows: Floats


def _by_size(cells: _Cells, at: _Places) -> _BySize:
    """Mean and likelihood of a Gaussian process for every size by one eigendecomposition, of the cells' correlation in
    units of their noise: the size only scales its eigenvalues."""
    precise = 1 / np.sqrt(cells.variance)
    strength, axes = np.linalg.eigh(precise[:, None] * _alike(cells, cells) * precise)
    data, rows = (precise * cells.mean) @ axes, (precise * _alike(at, cells)) @ axes
    shrunk = 1 / (_SQUARED * np.maximum(strength, 0.0) + 1)
    likely = 0.5 * (np.log(shrunk).sum(axis=1) - shrunk @ data**2)
    weight = np.exp(likely - likely.max())
    return _BySize(weight / weight.sum(), _SQUARED * ((shrunk * data) @ rows.T), shrunk, rows)


def _jackknife(starts: _Starts, round_ids: pd.Series, published: Baseline, at: _Places) -> tuple[Floats, int]:
    """Variance of the scaled offset by leaving out rounds, or groups of them, shape (n,); and how many groups. The ids
    of the rounds decide their groups, so that the order in which players are read does not matter."""
    codes, names = pd.factorize(round_ids, sort=True)
    groups = min(len(names), MOST_GROUPS)
    without = []
    for group in range(groups):
        cells = _cells(starts.part(codes % groups != group), published)
        found = _by_size(cells, at)
        without.append(found.weight @ found.offsets)
    return (groups - 1) * np.array(without).var(axis=0), groups


def rising(lie: LieCodes, values: Floats, weights: Floats) -> Floats:
    """The nearest values that never fall with distance within a lie, by weighted least squares; rows of a lie are in
    order of distance. Shape (n,)."""
    risen = values.copy()
    for code in np.unique(lie):
        here = lie == code
        risen[here] = isotonic_regression(values[here], weights=weights[here]).x
    return risen


def _printed_rows(published: Baseline) -> pd.DataFrame:
    """The rows of the published table: lie, distance_yd, published (strokes)."""
    parts = [
        pd.DataFrame({"lie": lie, "distance_yd": yards, "published": expected})
        for lie, (yards, expected) in published.about.rows.items()
    ]
    return pd.concat(parts, ignore_index=True)
