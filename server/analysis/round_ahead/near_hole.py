"""How the strokes near the hole spread about what the player's own curve expects.

On the green with m the expected putts and p the player's make-rate: one putt with the chance p, more than two with the
chance T, each further one missed with `MISSED_AGAIN`, so that

    m = 2 - p + T / (1 - MISSED_AGAIN).

Where that would make T negative, T is 0 and p gives way, for the curve comes from more putts than one length has.

Off the green the strokes have one shape that is tilted to each mean (`counts.tilted`): a generalised linear model whose
reference distribution is learnt with it (P. J. Rathouz and L. Gao, Biostatistics 10 (2009) 205-218, doi
10.1093/biostatistics/kxn030, abstract). The shape is fitted to the player's own holes from near the green, beside a
stated one that is worth `PRIOR_STARTS` of them: one stroke more than a Conway-Maxwell-Poisson count whose variance is
about `SPREAD_SHARE` of its mean (a choice of this tool, for the published tables have means alone: chips that leave
13 % of their length and putts that fall by the published formula have 0.15; with 0.35, which an own baseline leans on
over all distances, the ranges of 8 scores in 10 contained 91 of 100 in seasons of short holes).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.special import gammaln

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ground import Codes
from server.analysis.plan.position_value import LEAST_YD
from server.analysis.putting.make_rates import TOUR_PRIOR, Posterior, posterior
from server.analysis.putting.player_curve import curve_of
from server.analysis.putting.putts import putts_of
from server.analysis.round_ahead.counts import MOST_STROKES, STROKES, tilted
from server.game.lies import CODE, GREEN
from server.game.ranges import FARTHEST_ON_GREEN_YD, FARTHEST_YD
from server.game.units import FEET_PER_YARD

MISSED_AGAIN: Final = 0.06
"""Chance that a third putt, or a later one, is missed. A choice of this tool."""
SPREAD_SHARE: Final = 0.2
PRIOR_STARTS: Final = 30.0
ROUNDED: Final = 0.05
"""Means of starts are rounded to so many strokes while the shape is fitted."""
FITS: Final = 25
CURVE_FT: Final = np.geomspace(0.15, 3 * FARTHEST_ON_GREEN_YD, 120)


@dataclass(frozen=True, eq=False)
class NearHole:
    """Strokes to hole out near the hole. `curves`: the player's own expected strokes; `rates`: make-rates at
    `CURVE_FT`; `shape`: over 1 to `MOST_STROKES` strokes off the green; `starts`: how many own ones it is based on."""

    curves: Baseline
    rates: Floats
    shape: Floats
    starts: int = 0

    def chances(self, code: Codes, away_yd: Floats) -> Floats:
        """Chance of each number of strokes (n, `MOST_STROKES`) of balls on lies `code`, `away_yd` yards from the hole.

        ValueError when the curves have no value for a lie.
        """
        away = np.clip(away_yd, LEAST_YD, FARTHEST_YD)
        mean = self.curves.grid.expected(code, away)
        if np.isnan(mean).any():
            raise ValueError(f"baseline {self.curves.id}: it has no value for a lie of this hole")
        found = np.empty((code.size, MOST_STROKES))
        green = code == CODE[GREEN]
        if green.any():
            rate = np.interp(away[green] * FEET_PER_YARD, CURVE_FT, self.rates)
            found[green] = putts(mean[green], rate)
        if not green.all():
            found[~green] = tilted(self.shape, mean[~green])
        return found


def putts(mean: Floats, rate: Floats) -> Floats:
    """Chance of 1, 2, ... putts (n, `MOST_STROKES`) with that mean, at that make-rate where both can be true."""
    over = np.maximum(mean - 2 + rate, 0.0)
    one = np.clip(np.where(mean - 2 + rate < 0, 2 - mean, rate), 0.0, 1.0)
    more = np.minimum(over * (1 - MISSED_AGAIN), 1 - one)
    again = np.where(more > 0, 1 - more / np.maximum(over, 1e-12), 0.0)
    found = np.zeros((mean.size, MOST_STROKES))
    found[:, 0], found[:, 1] = one, 1 - one - more
    left = more
    for place in range(2, MOST_STROKES - 1):
        found[:, place] = left * (1 - again)
        left = left * again
    found[:, -1] = left
    return found


def near_hole(valued: pd.DataFrame, starts: pd.DataFrame, curves: Baseline, within_yd: float) -> NearHole:
    """What the player's shots show. `starts`: of `fit.strokes_to_hole_out`; `within_yd`: how near counts as near."""
    putted = putts_of(valued)
    made: Posterior = curve_of(putted) if len(putted) else posterior([10.0], [0.0], [0.0], TOUR_PRIOR)
    near = starts[starts["lie"].ne(GREEN) & (starts["distance_yd"] < within_yd) & starts["remaining"].ge(1)]
    shape = stated_shape()
    if len(near):
        codes = near["lie"].map(CODE).to_numpy(dtype=np.int8)
        means = curves.grid.expected(codes, near["distance_yd"].to_numpy(dtype=np.float64))
        known = np.isfinite(means)
        shape = fitted_shape(means[known], near["remaining"].to_numpy(dtype=np.float64)[known])
    return NearHole(curves, made.rates(CURVE_FT), shape, len(near))


def stated_shape() -> Floats:
    """The shape before any own starts (top of this module)."""
    log = -gammaln(STROKES) / SPREAD_SHARE
    found = np.exp(log - log.max())
    return np.asarray(found / found.sum())


def fitted_shape(means: Floats, strokes: Floats) -> Floats:
    """The shape under which starts that expect `means` needed `strokes`, both (n,), beside the stated one spread over
    the same means: as many starts are expected to need each number of strokes as did.

    Maximum likelihood, with the means taken as right, but for what the shape tells of the starts that differ from
    theirs: measured on 30 to 1,000 made starts, the log likelihood stays 0.13 to 0.17 below its greatest.
    """
    shape = stated_shape()
    if not means.size:
        return shape
    levels, counts = np.unique(np.round(means / ROUNDED) * ROUNDED, return_counts=True)
    levels = np.maximum(levels, 1 + ROUNDED)
    weight = counts * PRIOR_STARTS / means.size
    seen = np.bincount(np.clip(strokes, 1, MOST_STROKES).astype(np.intp) - 1, minlength=MOST_STROKES)
    wanted = seen + weight @ tilted(shape, levels)
    for _ in range(FITS):
        shape = shape * wanted / np.maximum((counts + weight) @ tilted(shape, levels), 1e-300)
        shape /= shape.sum()
    return shape
