"""Invented players whose rounds come from known holes, for checks of forecasts of scores.

Inside the model's own family: strokes beyond the plan, form of the day, slope and drift are drawn from the stated
priors. Outside it: form that rises and falls through the season, a level that falls by a stroke every six rounds, and
days with the tails of Student's t with 3 degrees of freedom.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from server.analysis.round_ahead.counts import STROKES, summed, tilted, tilted_together
from server.analysis.round_ahead.form import (
    BEYOND_PLAN,
    BEYOND_SD,
    DRIFT_SD,
    DRIFTS,
    FORM_SD,
    SLOPE_SD,
    STEADY,
    Past,
    form_of,
)
from server.analysis.round_ahead.near_hole import stated_shape
from server.analysis.round_ahead.score_ahead import score_ahead
from server.analysis.round_ahead.scoring import Forecast, naive_forecast

Floats = np.ndarray
FAMILY, WAVES, FALLING, HEAVY = "family", "waves", "falling", "heavy"
PARS: Final = (4, 4, 5, 3, 4, 4, 3, 5, 4) * 2
MEANS: Final = np.array([par + (0.3 if par < 5 else -0.1) for par in PARS], dtype=np.float64)
UNKNOWN: Final = 0.6


def known_holes() -> Floats:
    """Eighteen holes whose plans are known, (18, K): the strokes of a hole and a little more spread than near it."""
    shape = np.convolve(stated_shape(), [0.25, 0.5, 0.25])[: STROKES.size]
    return tilted(shape / shape.sum(), MEANS)


def beyond_plan(kind: str, rounds: int, rng: np.random.Generator) -> Floats:
    """Strokes beyond the plan in each of a season's rounds, (rounds,)."""
    level = BEYOND_PLAN + BEYOND_SD * rng.standard_normal()
    form = abs(FORM_SD * rng.standard_normal())
    if kind == FAMILY:
        chance = np.exp(-0.5 * (DRIFTS[1:] / DRIFT_SD) ** 2)
        drift = 0.0 if rng.random() < STEADY else float(rng.choice(DRIFTS[1:], p=chance / chance.sum()))
        wander = np.concatenate(([0.0], np.cumsum(drift * rng.standard_normal(rounds - 1))))
        slope = SLOPE_SD * rng.standard_normal() * np.arange(rounds)
        return level + slope + wander + form * rng.standard_normal(rounds)
    at = np.arange(rounds)
    if kind == WAVES:
        return level + 1.5 * np.sin(2 * np.pi * (at / 15 + rng.random())) + form * rng.standard_normal(rounds)
    if kind == FALLING:
        return level - at / 6 + form * rng.standard_normal(rounds)
    return level + 1.5 / np.sqrt(3) * rng.standard_t(3, rounds)


def season_forecast(kind: str, rounds: int, seed: int) -> Forecast:
    """The last round of a season of `rounds`, predicted from those before it. What is not known of the patterns hits
    the predicted round alone, as it lies in the plan of all rounds before."""
    rng = np.random.default_rng(seed)
    holes = known_holes()
    shifts = beyond_plan(kind, rounds, rng)
    shifts[-1] += np.sqrt(UNKNOWN) * rng.standard_normal()
    each, _ = tilted_together(holes, shifts)
    scores = np.array([[rng.choice(STROKES, p=hole) for hole in one] for one in each]).sum(axis=1)
    plan, variance = holes @ STROKES, holes @ STROKES**2 - (holes @ STROKES) ** 2
    away = scores[:-1] - plan.sum()
    past = Past(away, np.ones(rounds - 1), np.full(rounds - 1, variance.sum()))
    made = score_ahead(holes, form_of(past), UNKNOWN)
    naive = naive_forecast(scores[:-1] - float(sum(PARS)), sum(PARS))
    return Forecast(made.round, int(scores[-1]), naive)


def right_forecast(seed: int) -> Forecast:
    """A forecast that is the truth itself: independent holes."""
    holes = known_holes()
    rng = np.random.default_rng(seed)
    return Forecast(summed(holes), int(sum(rng.choice(STROKES, p=hole) for hole in holes)), None)
