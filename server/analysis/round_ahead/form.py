"""How far rounds come out from the plan, and how much more they differ from each other than their shots explain.

For a round i of n_i holes on the course, with r_i its score less what the plan's holes add up to, s_i = n_i / 18 and
V_i the variance of independent holes,

    r_i = s_i (b_i + f_i) + e_i,   e_i ~ N(0, V_i),   f_i ~ N(0, form^2),
    b_{i+1} = b_i + s_i slope + N(0, s_i drift^2)

b: what play costs beyond the plan (nobody plays every shot as planned, and a map does not have everything), which
may get better or worse with every 18 holes, steadily (slope) or not (drift); f: the form of the day. A local level
model with a fixed slope (A. C. Harvey, Forecasting, Structural Time Series Models and the Kalman Filter, 1989, from
memory), filtered for each pair of form and drift on a grid and averaged over how likely each makes the rounds. The
priors are choices of this tool: b normal with mean `BEYOND_PLAN` and standard deviation `BEYOND_SD` before the first
round; slope normal; form half-normal; no drift with the chance `STEADY`, else half-normal.

What is not known of the patterns joins the forecast beside this (`score_ahead`), and is not narrowed by these rounds:
their shots are in the patterns already.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr

from server.analysis.expected_strokes.curves import Floats

FULL_ROUND: Final = 18
BEYOND_PLAN: Final = 1.0
BEYOND_SD: Final = 2.0
FORM_SD: Final = 1.0
DRIFT_SD: Final = 0.4
STEADY: Final = 0.4
SLOPE_SD: Final = 0.1
FORMS: Final = np.linspace(0.0, 4.0, 21)
DRIFTS: Final = np.array([0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.55, 0.75, 1.0])

LEAST_WEIGHT: Final = 1e-6
NO_SPREAD: Final = 1e-6
REACH_SD: Final = 5.0
FINE: Final = 1000
TAIL: Final = 1e-4
"""The forecast leaves out so much at either end of what is beyond the plan."""


@dataclass(frozen=True, eq=False)
class Past:
    """Rounds before, oldest first, all (n,): `away`: score less what the plan adds up to; `part`: holes as a share of
    18; `variance`: of the sum of independent holes."""

    away: Floats
    part: Floats
    variance: Floats

    def until(self, count: int) -> Past:
        """The first `count` of them."""
        return Past(self.away[:count], self.part[:count], self.variance[:count])


@dataclass(frozen=True, eq=False)
class Form:
    """What is believed of the next round for 18 holes, on a grid, all (g,): `weight` sums to 1; `centre` and
    `variance` of b + f of the next round; `form`: standard deviation of the form of the day."""

    weight: Floats
    centre: Floats
    variance: Floats
    form: Floats

    @property
    def mean(self) -> float:
        """Strokes beyond the plan in 18 holes."""
        return float(self.weight @ self.centre)

    @property
    def form_sd(self) -> float:
        """Root of the mean variance of the form of the day."""
        return float(np.sqrt(self.weight @ self.form**2))

    def spread_out(self, unknown: float, nodes: int) -> tuple[Floats, Floats]:
        """Strokes beyond the plan in 18 holes at `nodes` evenly spaced places, and how likely each is, (nodes,) both.
        `unknown`: further variance, of the patterns."""
        spread = np.sqrt(self.variance + unknown)
        likely = self.weight > LEAST_WEIGHT
        weight, centre, spread = self.weight[likely], self.centre[likely], np.maximum(spread[likely], NO_SPREAD)
        ends = float((centre - REACH_SD * spread).min()), float((centre + REACH_SD * spread).max())
        edges = np.linspace(*ends, FINE + 1)
        below = (weight[:, None] * ndtr((edges - centre[:, None]) / spread[:, None])).sum(axis=0) / weight.sum()
        low, high = np.interp([TAIL, 1 - TAIL], below, edges)
        cells = np.linspace(low, high, nodes + 1)
        mass = np.diff(np.interp(cells, edges, below))
        return (cells[1:] + cells[:-1]) / 2, mass / mass.sum()


def form_of(past: Past) -> Form:
    """The belief after these rounds."""
    form, drift = (grid.ravel() for grid in np.meshgrid(FORMS, DRIFTS, indexing="ij"))
    log = -0.5 * (form / FORM_SD) ** 2 - 0.5 * (drift / DRIFT_SD) ** 2
    moving = np.exp(-0.5 * (DRIFTS[1:] / DRIFT_SD) ** 2).sum()
    log += np.where(drift == 0, np.log(STEADY), np.log((1 - STEADY) / moving))
    centre, slope = np.full(form.size, BEYOND_PLAN), np.zeros(form.size)
    variance, common, of_slope = np.full(form.size, BEYOND_SD**2), np.zeros(form.size), np.full(form.size, SLOPE_SD**2)
    for away, part, noise in zip(past.away, past.part, past.variance, strict=True):
        total = part**2 * (variance + form**2) + noise
        miss = away - part * centre
        log = log - 0.5 * (np.log(total) + miss**2 / total)
        gain, turn = part * variance / total, part * common / total
        slope = slope + turn * miss
        centre = centre + gain * miss + part * slope
        of_slope = of_slope - turn * part * common
        common = common * (1 - gain * part)
        variance = variance * (1 - gain * part) + part * (2 * common + part * of_slope + drift**2)
        common = common + part * of_slope
    weight = np.exp(log - log.max())
    return Form(weight / weight.sum(), centre, variance + form**2, form)
