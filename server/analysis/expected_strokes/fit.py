"""A baseline of one's own: the published table plus a smooth offset, learnt from strokes to hole out.

    E_own(lie, d) = E(lie, d) + a f_lie(log d),     a = sqrt(E(lie, d) - 1)

f is a normal process with mean 0: offsets of one lie are alike over distances within a factor of 1.8 of each other,
those of two lies off the green are alike to a share, those on the green stand alone. Its size tau is averaged over by
how likely it makes the data, 0 (no offset) among the values, so that little data, or a player like the published
ones, gives the published table back. Away from starts of the same lie f fades to 0 and the row says "published". a
makes the size of an offset comparable: a putt of 2 ft leaves hardly room for one.

Observed: from every start of the ball of record on finished holes, the strokes that were still needed, penalties
included. They are averages over starts, so nothing is assumed of how a shot's value splits. Method: ridge regression in
its form of a Gaussian process.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
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
CELL: Final = 0.08
"""Starts within this step of log distance are averaged first."""
LEAST_ROOM: Final = 0.01
"""E - 1 is not taken below this."""
VARIANCE_SHARE: Final = 0.35
VARIANCE_LEAST: Final = 0.01
VARIANCE_STARTS: Final = 10.0
"""Where starts are few their variance leans on 0.35 (E - 1) + 0.01, which weighs as 10 of them. A stated choice."""
LEARNT: Final = 0.2
"""A row says "data" where at least this share of the offset's prior variance is gone."""
NEAR: Final = 0.1
GONE: Final = 0.3
"""Steps of log distance from the nearest start of the same lie: up to the first the offset counts in full, from the
second on not at all (a factor of 1.35)."""
DATA: Final = "data"
PUBLISHED: Final = "published"


class TooFewShotsError(ValueError):
    """The rounds are too few for a baseline of one's own."""


@dataclass(frozen=True, eq=False)
class OwnTable:
    """`rows`: lie, distance_yd, expected, published, known ("data" or "published"). `size`: mean of tau; `starts`,
    `holes`, `rounds`: what it was learnt from; `data_range`: lie -> (nearest, farthest) yards with data."""

    rows: pd.DataFrame
    size: float
    starts: int
    holes: int
    rounds: int
    data_range: dict[str, tuple[float, float]]


def strokes_to_hole_out(valued: pd.DataFrame) -> pd.DataFrame:
    """Every start of the ball of record on finished holes: round_id, hole, lie (fringe as fairway), distance_yd,
    remaining (strokes still needed, penalties included).

    `valued`: as `valued_shots` returns it. Several players' frames may stand under each other.
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


def fit_baseline(starts: pd.DataFrame, published: Baseline) -> OwnTable:
    """The published table with the offset that `starts` (of `strokes_to_hole_out`) tell.

    Raises TooFewShotsError, in plain words, below `LEAST_STARTS` or `LEAST_ROUNDS`.
    """
    rounds = int(starts["round_id"].nunique())
    if len(starts) < LEAST_STARTS or rounds < LEAST_ROUNDS:
        raise TooFewShotsError(
            f"{len(starts)} shots on finished holes of {rounds} round{'' if rounds == 1 else 's'} are too few for a "
            f"baseline of one's own: {LEAST_STARTS} shots in {LEAST_ROUNDS} rounds are the least"
        )
    lie = lie_codes(starts["lie"])
    distance = starts["distance_yd"].to_numpy(dtype=np.float64)
    cells = _cells(lie, distance, starts["remaining"].to_numpy(dtype=np.float64), published)
    rows = _printed_rows(published)
    at_lie = lie_codes(rows["lie"])
    yards, printed = rows["distance_yd"].to_numpy(), rows["published"].to_numpy()
    offset, learnt, size = _offset(cells, at_lie, np.log(yards))
    share = _near_starts(cells, at_lie, np.log(yards))
    known = (learnt >= LEARNT) & (share > 0)
    own = np.where(known, np.maximum(printed + share * _room(printed) * offset, 1.0), printed)
    rows = rows.assign(expected=own, known=np.where(known, DATA, PUBLISHED))
    spans = starts.groupby("lie")["distance_yd"].agg(["min", "max"])
    holes = len(starts[["round_id", "hole"]].drop_duplicates())
    data_range = {str(name): (float(span["min"]), float(span["max"])) for name, span in spans.iterrows()}
    return OwnTable(rows, size, len(starts), holes, rounds, data_range)


@dataclass(frozen=True, eq=False)
class _Cells:
    """Averages of starts close to each other, all shape (c,): lie code, log yards, mean scaled offset, its variance."""

    lie: LieCodes
    log_yards: Floats
    mean: Floats
    variance: Floats


def _room(expected: Floats) -> Floats:
    return np.sqrt(np.maximum(expected - 1, LEAST_ROOM))


def _cells(lie: LieCodes, distance: Floats, remaining: Floats, published: Baseline) -> _Cells:
    expected = published.expected(lie, distance)
    known = np.isfinite(expected)
    lie, distance, remaining, expected = lie[known], distance[known], remaining[known], expected[known]
    room, away = _room(expected), remaining - expected
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


def _alike(lie: LieCodes, log_yards: Floats, other: LieCodes, other_log_yards: Floats) -> Floats:
    """Correlation of offsets, shape (n, m)."""
    same = lie[:, None] == other[None, :]
    green = (lie[:, None] == CODE[GREEN]) | (other[None, :] == CODE[GREEN])
    share = np.where(same, 1.0, np.where(green, 0.0, SHARED))
    return np.asarray(share * np.exp(-0.5 * ((log_yards[:, None] - other_log_yards[None, :]) / SMOOTH) ** 2))


def _near_starts(cells: _Cells, lie: LieCodes, log_yards: Floats) -> Floats:
    """1 near a start of the same lie, falling to 0 away from it, shape (n,)."""
    apart = np.abs(log_yards[:, None] - cells.log_yards[None, :])
    apart = np.where(lie[:, None] == cells.lie[None, :], apart, np.inf).min(axis=1, initial=np.inf)
    return np.asarray(np.clip((GONE - apart) / (GONE - NEAR), 0.0, 1.0))


def _offset(cells: _Cells, lie: LieCodes, log_yards: Floats) -> tuple[Floats, Floats, float]:
    """Scaled offset at the rows, the share of its variance that the data took away, and the mean size."""
    inside = _alike(cells.lie, cells.log_yards, cells.lie, cells.log_yards)
    across = _alike(lie, log_yards, cells.lie, cells.log_yards)
    likely, offsets, learnt = [], [], []
    for size in SIZES:
        covariance = size**2 * inside + np.diag(cells.variance)
        solved = np.linalg.solve(covariance, np.column_stack([cells.mean, size**2 * across.T]))
        _, log_volume = np.linalg.slogdet(covariance)
        likely.append(-0.5 * (cells.mean @ solved[:, 0] + log_volume))
        offsets.append(size**2 * across @ solved[:, 0])
        learnt.append(np.einsum("ij,ji->i", across, solved[:, 1:]))
    weight = np.exp(np.array(likely) - max(likely))
    weight /= weight.sum()
    return weight @ np.array(offsets), weight @ np.array(learnt), float(weight @ np.array(SIZES))


def _printed_rows(published: Baseline) -> pd.DataFrame:
    """The rows of the published table: lie, distance_yd, published (strokes)."""
    parts = [
        pd.DataFrame({"lie": lie, "distance_yd": yards, "published": expected})
        for lie, (yards, expected) in published.about.rows.items()
    ]
    return pd.concat(parts, ignore_index=True)
