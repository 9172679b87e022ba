"""Units of length: 1 yd = 0.9144 m = 3 ft exactly (international yard and pound agreement, 1959)."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.game.units import FEET_PER_YARD, METRES_PER_YARD, UNITS, default_unit, from_yards, to_yards
from tests.analysis.repeatable import REPEATABLE

TWO_ROUNDINGS = 2**-52
"""A division and a multiplication round once each, by at most half a unit in the last place."""


def test_figures_of_the_agreement():
    assert Decimal(str(METRES_PER_YARD)) == Decimal("0.9144")
    assert FEET_PER_YARD == 3
    assert to_yards(0.9144, "m") == 1
    assert to_yards(3, "ft") == 1
    assert from_yards(1, "m") == 0.9144
    assert from_yards(1, "ft") == 3
    assert from_yards(400, "m") == pytest.approx(365.76, abs=1e-12)
    assert to_yards(100, "m") == pytest.approx(109.3613298, abs=5e-8)


def test_yards_are_yards():
    assert to_yards(123.4, "yd") == 123.4
    assert from_yards(123.4, "yd") == 123.4


def test_whole_feet_survive_the_way_to_yards_and_back():
    assert [from_yards(to_yards(n, "ft"), "ft") for n in range(2101)] == list(range(2101))


@REPEATABLE
@given(st.floats(1e-3, 2100), st.sampled_from(UNITS))
def test_there_and_back(length, unit):
    assert from_yards(to_yards(length, unit), unit) == pytest.approx(length, rel=TWO_ROUNDINGS)


@pytest.mark.parametrize("unit", ["yards", "M", "", "cm", None])
def test_other_units_are_refused_by_name(unit):
    with pytest.raises(ValueError, match=r"unit: .* is not one of yd, ft, m"):
        to_yards(1, unit)
    with pytest.raises(ValueError, match=r"unit: .* is not one of yd, ft, m"):
        from_yards(1, unit)


def test_usual_units():
    assert default_unit("green") == "ft"
    others = ("tee", "fairway", "fringe", "rough", "sand", "recovery")
    assert [default_unit(lie) for lie in others] == ["yd"] * 6
