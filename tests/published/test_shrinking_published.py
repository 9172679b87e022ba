"""Shrinkage against Efron and Morris (1975, 1977), Kacker (2004) and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from server.analysis.evidence.shrinkage import DERSIMONIAN_LAIRD, METHODS, PAULE_MANDEL, between_variance, shrink
from tests.published.reference_tables import read_rows

BATTERS = read_rows("efron_morris_1975.csv")
LABORATORIES = read_rows("kacker_2004.csv")
MEANS = np.array([float(row["laboratory_mean"]) for row in LABORATORIES])
VARIANCES = np.array([float(row["variance_of_mean"]) for row in LABORATORIES])
PRINTED = 0.0005
"""Three printed decimals."""


@pytest.mark.parametrize("method", METHODS)
def test_efron_morris_factor_and_eighteen_averages(method: str) -> None:
    """Sampling variance m(1 - m)/45 about the grand mean m, as in Scientific American 236 (1977)."""
    averages = np.array([int(row["hits_in_45"]) / 45 for row in BATTERS])
    grand = averages.mean()
    assert grand == pytest.approx(0.265, abs=PRINTED)
    found = shrink(averages, np.full(18, grand * (1 - grand) / 45), method=method)
    assert found.own == pytest.approx(np.full(18, 0.212), abs=PRINTED)
    printed = np.array([float(row["james_stein_1977"]) for row in BATTERS])
    assert found.shrunk == pytest.approx(printed, abs=PRINTED + 1e-12)
    assert found.centre == pytest.approx(np.full(18, grand), abs=1e-12)


def test_efron_morris_shrunk_averages_predict_the_rest_of_the_season() -> None:
    """Published (1977): the raw averages' total squared error is 3.5 times that of the shrunk ones."""
    raw = np.array([int(row["hits_in_45"]) / 45 for row in BATTERS])
    rest = np.array([float(row["rest_average"]) for row in BATTERS])
    grand = raw.mean()
    found = shrink(raw, np.full(18, grand * (1 - grand) / 45))
    errors = [((guess - rest) ** 2).sum() for guess in (raw, found.shrunk)]
    assert errors[0] / errors[1] == pytest.approx(3.5, abs=0.05)


def test_kacker_between_laboratory_variances() -> None:
    """Paule-Mandel to the four printed decimals; DerSimonian-Laird to 1e-3, as in statsmodels' own test."""
    assert np.sqrt(between_variance(MEANS, VARIANCES, method=PAULE_MANDEL)) == pytest.approx(0.8399, abs=6e-5)
    assert np.sqrt(between_variance(MEANS, VARIANCES, method=DERSIMONIAN_LAIRD)) == pytest.approx(0.5359, abs=1e-3)


@pytest.mark.parametrize(("method", "theirs"), [(PAULE_MANDEL, "pm"), (DERSIMONIAN_LAIRD, "dl")])
def test_between_variance_agrees_with_statsmodels(method: str, theirs: str) -> None:
    """statsmodels stops its iteration at 1e-9."""
    wanted = combine_effects(MEANS, VARIANCES, method_re=theirs, atol=1e-9)
    assert between_variance(MEANS, VARIANCES, method=method) == pytest.approx(wanted.tau2, abs=1e-7)
    found = shrink(MEANS, VARIANCES, method=method)
    assert found.centre[0] == pytest.approx(wanted.mean_effect_re, abs=1e-7)
    assert found.between_sd == pytest.approx(np.sqrt(wanted.tau2), abs=1e-7)


def test_efron_morris_intervals_predict_the_rest_of_the_season() -> None:
    """None are printed there: our own count on their data. 90 % intervals of the shrunk averages hold
    16 of the 18 averages of the rest of the season, as those of the raw ones do, and are 0.58 times as wide."""
    raw = np.array([int(row["hits_in_45"]) / 45 for row in BATTERS])
    rest = np.array([float(row["rest_average"]) for row in BATTERS])
    variance = raw.mean() * (1 - raw.mean()) / 45
    low, high = shrink(raw, np.full(18, variance)).interval(0.9)
    half = 1.6449 * variance**0.5
    assert int(((low <= rest) & (rest <= high)).sum()) == int((np.abs(raw - rest) <= half).sum()) == 16
    assert (high - low).mean() / (2 * half) == pytest.approx(0.58, abs=0.005)
