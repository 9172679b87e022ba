"""Printed quantiles of ellipses and circles, degrees offline, the standard atmosphere, rules of thumb."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.analysis.patterns.air import HEAD_PER_MPH, TAIL_PER_MPH, Air, density
from server.analysis.patterns.ellipses import circular_error, next_shot_factor
from server.analysis.patterns.finishes import degrees_offline
from tests.published.reference_tables import read_rows

ELLIPSES = [
    tuple(float(row[name]) for name in ("coverage", "chi2_2df", "radius_in_sigma"))
    for row in read_rows("ellipse_quantiles.csv")
]
CIRCLES = [{name: float(value) for name, value in row.items()} for row in read_rows("cep_table.csv")]


@pytest.mark.parametrize(("coverage", "squared", "radius"), ELLIPSES)
def test_ellipses_of_very_many_shots_are_those_printed(coverage: float, squared: float, radius: float) -> None:
    """From 10^7 shots F has become the chi-square to 1e-6. Rows are printed to 5 decimals; the coverage 0.3935
    itself to 4, and there q = -2 ln(1 - P) rises by 2 / (1 - P) = 3.30, its root by 1.65."""
    coarse = 0.5e-4 if coverage == 0.3935 else 0.0
    assert next_shot_factor(10**7, coverage) == pytest.approx(squared, abs=3.30 * coarse + 0.5e-5 + 1e-5)
    assert circular_error(1.0, 1.0, coverage) == pytest.approx(radius, abs=1.65 * coarse + 0.5e-5 + 1e-9)


@pytest.mark.parametrize("row", CIRCLES, ids=lambda row: str(row["sigma_ratio_min_over_max"]))
def test_circular_errors_are_those_printed(row: dict[str, float]) -> None:
    ratio = row["sigma_ratio_min_over_max"]
    found = [circular_error(1.0, ratio, share) for share in (0.5, 0.9, 0.95)]
    printed = [row[name] for name in ("R50_over_sigma_max", "R90_over_sigma_max", "R95_over_sigma_max")]
    assert found == pytest.approx(printed, abs=0.5e-5 + 1e-9)


def test_four_degrees_at_300_yd_are_20_98_yd() -> None:
    aside = 300 * math.tan(math.radians(4))
    assert aside == pytest.approx(20.98, abs=0.005)
    assert degrees_offline(np.array([aside]), np.array([300.0]))[0] == pytest.approx(4.0)


def test_density_is_the_standard_atmospheres() -> None:
    """rho = 1.225 (1 - h_ft/145442)^4.255876; a mile 0.8544, 1,000 m 0.9075 of sea level, printed to 4 decimals."""
    printed = next(row["rule"] for row in read_rows("carry_corrections.csv") if row["factor"] == "air density")
    assert "5280 ft ratio 0.8544; 1000 m ratio 0.9075" in printed
    assert density() == pytest.approx(1.225, abs=5e-5)
    assert density(5280 * 0.3048) / density() == pytest.approx(0.8544, abs=1e-4)
    assert density(1000.0) / density() == pytest.approx(0.9075, abs=1e-4)
    for feet in (0, 2000, 7000):
        ratio = (1 - feet / 145442) ** 4.255876
        assert density(feet * 0.3048) / density() == pytest.approx(ratio, abs=1e-4)


def test_corrections_lie_between_the_rules_of_thumb() -> None:
    """Altitude: 2.5 yd per 1,000 ft of a 275-yd drive (0.9 %) to 2 %. Temperature: 1.33 yd in 250 per 10 F (0.5 %)
    to 2 yd (0.8 %). Wind of 10 mph: head 13 to 15 in 250 yd, tail 9 to 12."""
    altitude = Air(altitude_m=304.8).factor - 1
    assert 0.009 <= altitude <= 0.020
    ten_f = Air(temperature_c=15 + 10 / 1.8).factor - 1
    assert 0.005 <= ten_f <= 0.0115
    assert 13 / 250 <= 10 * HEAD_PER_MPH <= 15 / 250
    assert 9 / 250 <= 10 * TAIL_PER_MPH <= 12 / 250
    assert Air().factor == 1.0
