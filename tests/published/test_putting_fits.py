"""The make-rate model against its published fits and an open count of putts.

Sources: D. Berry (1996) through A. Gelman and D. Nolan, Teaching Statistics 24 (2002); M. Broadie (2018) through
A. Gelman, "Model building and expansion for golf putting" (2019); M. Broadie, Every Shot Counts (2014). See
reference/SOURCES.md.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize

from server.analysis.putting.make_rates import TOUR, TOUR_PRIOR, Prior, make_rate, posterior
from tests.published.reference_tables import read_rows


def counts(name: str) -> Any:
    """Feet, attempts, made."""
    rows = [[float(row[key]) for key in ("distance_ft", "attempts", "made")] for row in read_rows(name)]
    return np.array(rows).T


def published(model: str, data: str, parameter: str) -> tuple[float, float, float]:
    """Posterior mean and sd as printed, and the maximum of the likelihood; NaN for a blank."""
    row = next(
        row
        for row in read_rows("putting_model_fits.csv")
        if (row["model"], row["data"], row["parameter"]) == (model, data, parameter)
    )
    mean, sd, peak = (float(row[key] or "nan") for key in ("posterior_mean", "posterior_sd", "our_mle"))
    return mean, sd, peak


NO_DISTANCE = Prior(np.log([TOUR[0], 1e-5]), np.array([math.inf, 1e-3]))
"""Says nothing of the angle, and pins the spread of the roll at none: the model of 2002, which has the angle alone."""


def test_the_angle_model_fits_the_counts_of_1996_as_published():
    feet, attempts, made = counts("putts_berry_1996.csv")
    assert (attempts.sum(), made.sum()) == (5988, 3390)
    found = posterior(feet, attempts, made, NO_DISTANCE, careless=0.0)
    mean, sd, peak = published("angle", "Berry", "sigma_deg")
    angle, _ = found.sigma()
    assert math.degrees(angle) == pytest.approx(mean, abs=sd)
    # A posterior mean and its peak differ by less than a tenth of the sd when so many putts speak.
    assert math.degrees(angle) == pytest.approx(peak, abs=sd / 10)
    axis, weight = np.degrees(np.exp(found.log_angle)), found.weight.sum(axis=-1)
    spread = math.sqrt(weight @ (axis - weight @ axis) ** 2)
    assert round(spread, 2) == sd


def test_angle_and_distance_fit_the_counts_of_2018_as_published():
    """Gelman's likelihood: shares normal about the curve, with a further spread sigma_y of every share."""
    feet, attempts, made = counts("putts_broadie_2018.csv")

    def unlikely(log_parameters: Any) -> float:
        angle, distance, extra = np.exp(log_parameters)
        rate = make_rate(feet, angle, distance)
        variance = rate * (1 - rate) / attempts + extra**2
        return 0.5 * float(np.sum(np.log(variance) + (made / attempts - rate) ** 2 / variance))

    best = minimize(
        unlikely,
        np.log([0.03, 0.15, 0.01]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-9, "maxiter": 5000},
    )
    assert best.success
    angle, distance, extra = np.exp(best.x)
    model = "angle+distance"
    for found, name in ((math.degrees(angle), "sigma_deg"), (distance, "sigma_distance"), (extra, "sigma_y")):
        mean, sd, peak = published(model, "Broadie 2018", name)
        assert found == pytest.approx(mean, abs=sd)
        # our_mle is printed to six figures
        assert found == pytest.approx(peak, rel=1e-3)
    # The prior's centre is that fit, rounded to three figures.
    assert pytest.approx(TOUR, rel=0.003) == (angle, distance)


GROUP = [
    (int(row["distance_ft"]), int(row["tour_pct"]) / 100)
    for row in read_rows("one_putt_percent_by_group.csv")
    if row["tour_pct"] and 3 <= int(row["distance_ft"]) <= 20
]


@pytest.mark.parametrize(("feet", "share"), GROUP)
def test_the_tour_curve_agrees_with_the_printed_shares(feet: int, share: float):
    assert len(GROUP) == 8
    assert make_rate([feet], *TOUR)[0] == pytest.approx(share, abs=0.03)


def test_a_90_golfer_lies_within_the_prior():
    """The printed shares of a 90-golfer are met, within 3.5 points (the shares are a group's, a mixture of players, and
    rounded), by a curve about one prior spread from the tour in each parameter."""
    rows = [row for row in read_rows("one_putt_percent_by_group.csv") if row["golfer90_pct"]]
    feet = np.array([float(row["distance_ft"]) for row in rows])
    share = np.array([float(row["golfer90_pct"]) for row in rows]) / 100
    tried = np.full(feet.size, 10_000)
    found = posterior(feet, tried, (share * tried).round())
    assert np.abs(found.rates(feet) - share).max() < 0.035
    assert np.all(np.abs(found.log_mean() - TOUR_PRIOR.mean) <= 1.1 * TOUR_PRIOR.sd)
