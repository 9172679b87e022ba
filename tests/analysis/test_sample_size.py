"""Shots needed when the standard deviation is an estimate: by hand from printed quantiles, and by simulation."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.evidence.sample_size import MOST_SHOTS, spread_factors, two_means_range, two_means_shots


@pytest.mark.parametrize(
    ("freedom", "few", "many"),
    # 5 % and 95 % points of chi-square as every printed table has them
    [(5, 1.145, 11.070), (10, 3.940, 18.307), (19, 10.117, 30.144), (30, 18.493, 43.773)],
)
def test_factors_from_printed_chi_square_points(freedom: int, few: float, many: float) -> None:
    found = spread_factors(freedom, 0.9)
    assert found == pytest.approx(((freedom / many) ** 0.5, (freedom / few) ** 0.5), rel=5e-4)


def test_the_range_is_the_number_at_both_ends() -> None:
    """An effect of half a standard deviation known from 20 shots: 64 shots a side (Cohen), 41 to 119 at 90 %."""
    low, high = two_means_range(0.5, 19, 0.05)
    factors = spread_factors(19)
    assert low == pytest.approx(two_means_shots(0.5 / factors[0], 0.05))
    assert high == pytest.approx(two_means_shots(0.5 / factors[1], 0.05))
    assert low < two_means_shots(0.5, 0.05) < high
    assert (round(low), round(high)) == (41, 119)


def test_more_freedom_narrows_it_to_the_number_itself() -> None:
    widths = [high - low for low, high in (two_means_range(0.5, freedom, 0.1) for freedom in (3, 10, 100, 1e8))]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.05


def test_the_bounds_of_the_number_hold() -> None:
    assert two_means_range(1e-4, 5, 0.1)[1] == MOST_SHOTS
    assert two_means_range(50, 5, 0.1)[0] >= 2


@pytest.mark.parametrize("freedom", [0, -1, float("nan")])
def test_freedom_that_is_none_is_named(freedom: float) -> None:
    with pytest.raises(ValueError, match=r"freedom: .* is not above 0"):
        two_means_range(0.5, freedom, 0.1)


def test_a_level_outside_its_range_is_named() -> None:
    with pytest.raises(ValueError, match=r"level: 0\.4 is outside"):
        spread_factors(5, 0.4)


@pytest.mark.parametrize("shots", [5, 12, 40])
def test_it_holds_the_true_number_nine_times_of_ten(shots: int) -> None:
    """True standard deviation 1, a difference of half of it. 4,000 estimates: 0.014 is three errors."""
    truth = two_means_shots(0.5, 0.1)
    spreads = np.random.default_rng(5).standard_normal((4000, shots)).std(axis=1, ddof=1)
    edges = np.quantile(spreads, [0, 1])
    grid = np.linspace(edges[0], edges[1], 200)
    ends = np.array([two_means_range(0.5 / spread, shots - 1, 0.1) for spread in grid])
    low, high = (np.interp(spreads, grid, ends[:, side]) for side in (0, 1))
    assert np.mean((low <= truth) & (truth <= high)) == pytest.approx(0.9, abs=0.014)
