"""A player's make-rate curve, what it allows for, and what errors of length would move in it.

Where rounds recorded how their lengths were taken, or lengths heap at fives, the curve is in true lengths: the
likelihood integrates over them (`true_lengths`). Otherwise lengths are taken as entered.
"""

from __future__ import annotations

from typing import Final, cast

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.curves import Floats
from server.analysis.lengths.heaping import rounds_taken
from server.analysis.lengths.rows import CurveMoved, CurveSensitivity, HalfMoved, Heaping, PuttLengths
from server.analysis.putting.make_rates import TOUR, TOUR_PRIOR, Posterior, Prior, make_rate, posterior
from server.analysis.putting.rows import CurveRow, MakeRateCurve
from server.analysis.putting.true_lengths import blurred_posterior, entered_putts
from server.game.lengths_taken import GREEN_ERRORS, GUESSED, PACED
from server.game.numbers import plain

LEAST_PUTTS: Final = 20
"""Below this many putts no curve is shown. A stated choice of this tool."""
CURVE_FT: Final = (2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50, 60)
NEAR: Final = 1.25
"""A putt within this factor of a length is near it."""
LEAST_NEAR: Final = 5
LENGTH_ERROR: Final = 0.1
"""The error of length whose effect is shown. A stated choice."""
EXAMPLE_FT: Final = 8


def curve_of(putts: pd.DataFrame, prior: Prior = TOUR_PRIOR) -> Posterior:
    """The make-rate curve of a frame that `putts_of` returned, its lengths taken as entered. A putt with `worth` counts
    as that many."""
    feet, place = np.unique(putts["feet"].to_numpy(dtype=np.float64).round(3), return_inverse=True)
    worth = putts["worth"].to_numpy(dtype=np.float64) if "worth" in putts else np.ones(len(putts))
    tried = np.bincount(place, weights=worth, minlength=feet.size)
    made = np.bincount(place, weights=worth * putts["holed"].to_numpy(dtype=np.float64), minlength=feet.size)
    return posterior(feet, tried, made, prior)


def practice_prior(practised: pd.DataFrame) -> Prior:
    """The prior of the curve on the course from the player's practice. `practised`: putts as `curve_of` takes
    them.

    Centred on practice instead of the tour, and as wide as the tour's prior with practice's own error added: practice
    is trusted to predict the course no better than the tour predicts the player, so no interval is narrower for it.
    """
    curve = curve_of(practised)
    mean = curve.log_mean()
    angle = np.sqrt(((curve.log_angle - mean[0]) ** 2 * curve.weight.sum(axis=1)).sum())
    distance = np.sqrt(((curve.log_distance - mean[1]) ** 2 * curve.weight.sum(axis=0)).sum())
    return Prior(mean, np.hypot(TOUR_PRIOR.sd, np.array([angle, distance])))


def make_rate_curve(
    putts: pd.DataFrame,
    heaped: Heaping,
    level: float,
    practised: pd.DataFrame | None = None,
    *,
    practice_alone: bool = False,
) -> MakeRateCurve:
    """The curve of putts (a frame of `putts.putts_of`). `heaped`: of all of the player's putts. `practised`: practice
    putts on which the curve leans instead of on the tour, where there are enough of them. `practice_alone`: the putts
    are of practice sessions."""
    prior = TOUR_PRIOR if practised is None or len(practised) < LEAST_PUTTS else practice_prior(practised)
    tour_half = _half(np.array(CURVE_FT, dtype=np.float64), make_rate(CURVE_FT, *TOUR))
    errors = length_errors(putts, heaped["strong"])
    allowed = float(errors.max()) if len(putts) and errors.max() > 0 else None
    if len(putts) < LEAST_PUTTS:
        lacking = f"{_few(len(putts), practice_alone)}: too few for a curve, {LEAST_PUTTS} at least are needed."
        lengths = _put_lengths(putts, heaped, allowed, None)
        return {
            "curve": [],
            "half_ft": None,
            "half_low_ft": None,
            "half_high_ft": None,
            "tour_half_ft": tour_half,
            "lacking": lacking,
            "lengths": lengths,
        }
    found = curve_with_errors(putts, errors, prior=prior)
    low, rates, high = found.interval(CURVE_FT, level)
    tour = make_rate(CURVE_FT, *TOUR)
    feet = putts["feet"].to_numpy()
    near = [int(((feet >= length / NEAR) & (feet <= length * NEAR)).sum()) for length in CURVE_FT]
    rows: list[CurveRow] = [
        {
            "feet": length,
            "rate": float(rate),
            "low": float(bottom),
            "high": float(top),
            "tour": float(theirs),
            "putts_near": count,
            "leans_on_tour": count < LEAST_NEAR,
        }
        for length, rate, bottom, top, theirs, count in zip(CURVE_FT, rates, low, high, tour, near, strict=True)
    ]
    # Each curve falls, so the share of curves at or under one half at a length is the chance that the half length is at
    # or under it: the ends of the band cross one half at the ends of the half length's interval.
    half_low, half, half_high = (_half(np.array(CURVE_FT, dtype=np.float64), ends) for ends in (low, rates, high))
    lengths = _put_lengths(putts, heaped, allowed, _sensitivity(putts, errors, half, level, prior))
    return {
        "curve": rows,
        "half_ft": half,
        "half_low_ft": half_low,
        "half_high_ft": half_high,
        "tour_half_ft": tour_half,
        "lacking": None,
        "lengths": lengths,
    }


def _few(count: int, practice: bool) -> str:
    putt, where = ("practice putt", "these sessions") if practice else ("putt", "these rounds")
    counted = {0: f"No {putt} with a known outcome", 1: f"One {putt}"}.get(count, f"{count} {putt}s")
    return f"{counted} in {where}"


def length_errors(putts: pd.DataFrame, heaped: bool) -> Floats:
    """The error of the length of each putt (standard deviation, a share of the length) that the curve allows for, shape
    (n,). All 0, lengths as entered, where no round recorded how they were taken and they are not `heaped`; where they
    are heaped, those of such rounds count as guessed; where some rounds recorded it, those of the others as paced."""
    words = putts["lengths_taken"]
    if not heaped and words.isna().all():
        return np.zeros(len(putts))
    sizes = words.fillna(GUESSED if heaped else PACED).map(GREEN_ERRORS)
    return np.asarray(sizes, dtype=np.float64)


def curve_with_errors(putts: pd.DataFrame, errors: Floats, times: float = 1.0, prior: Prior = TOUR_PRIOR) -> Posterior:
    """The make-rate curve of putts whose lengths are off by `errors`, shape (n,); by the lengths as entered where all
    are 0. `times`: true lengths are that many times what the entered ones represent."""
    if not errors.any():
        return curve_of(putts.assign(feet=putts["feet"] * times), prior)
    feet, holed = putts["feet"].to_numpy(dtype=np.float64), putts["holed"].to_numpy(dtype=np.float64)
    sizes = np.unique(errors)
    parts = [entered_putts(feet[errors == size], holed[errors == size], size) for size in sizes]
    return blurred_posterior(parts, prior, times=times)


def _sensitivity(
    putts: pd.DataFrame, errors: Floats, half: float | None, level: float, prior: Prior
) -> CurveSensitivity:
    """The curve again with every length 10 % off, and with 10 % more of error at random."""
    again = {
        "too_long": curve_with_errors(putts, errors, 1 / (1 + LENGTH_ERROR), prior),
        "too_short": curve_with_errors(putts, errors, 1 / (1 - LENGTH_ERROR), prior),
        "at_random": curve_with_errors(putts, np.hypot(errors, LENGTH_ERROR), prior=prior),
    }
    rates = {name: curve.interval(CURVE_FT, level)[1] for name, curve in again.items()}
    halves = {name: _half(np.array(CURVE_FT, dtype=np.float64), rate) for name, rate in rates.items()}
    moved = [
        {"feet": length, **{name: float(rate[place]) for name, rate in rates.items()}}
        for place, length in enumerate(CURVE_FT)
    ]
    return {
        "error": LENGTH_ERROR,
        "curve": cast(list[CurveMoved], moved),
        "half_ft": cast(HalfMoved, halves),
        "words": _sensitivity_words(half, halves, rates),
    }


def _sensitivity_words(half: float | None, halves: dict[str, float | None], rates: dict[str, Floats]) -> str:
    """One sentence, in lengths where half of the putts fall on the curve, else in putts from `EXAMPLE_FT`."""
    long, short, random = (halves[name] for name in ("too_long", "too_short", "at_random"))
    if half is not None and long is not None and short is not None and random is not None:
        return (
            f"If every length had been entered 10 % too long, you would hole half your putts from {long:.1f} ft, if "
            f"10 % too short from {short:.1f} ft; errors of 10 % at random would make it {random:.1f} ft."
        )
    place = CURVE_FT.index(EXAMPLE_FT)
    long_, short_, random_ = (100 * rates[name][place] for name in ("too_long", "too_short", "at_random"))
    return (
        f"If every length had been entered 10 % too long, {plain(long_, 0)} of 100 putts would be holed from "
        f"{EXAMPLE_FT} ft, if 10 % too short {plain(short_, 0)}; errors of 10 % at random would make "
        f"it {plain(random_, 0)}."
    )


def _put_lengths(
    putts: pd.DataFrame, heaped: Heaping, allowed: float | None, sensitivity: CurveSensitivity | None
) -> PuttLengths:
    words = [heaped["words"]] if heaped["words"] else []
    if allowed is not None and sensitivity is not None:
        words.append(
            f"The curve allows for errors of length of {plain(100 * allowed, 0)} %, a size that this tool "
            "takes for granted."
        )
    if sensitivity is not None:
        words.append(sensitivity["words"])
    return {
        "taken": rounds_taken(putts),
        "heaping": heaped,
        "allowed_for": allowed,
        "sensitivity": sensitivity,
        "words": words,
    }


def _half(feet: Floats, rates: Floats) -> float | None:
    """The length from which half the putts fall, on straight lines between the lengths; None outside them."""
    if not rates.min() <= 0.5 <= rates.max():
        return None
    return float(np.interp(0.5, rates[::-1], feet[::-1]))
