"""The shipped baseline against the two published tables it was copied from.

Sources: M. Broadie, Interfaces 42(2), 2012, 146-165 (off the green); M. Broadie, "Putts Gained", draft of
13 January 2011, figure 1 (green). Figures: reference/SOURCES.md.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import interp1d

from server.analysis.expected_strokes.baseline import load_baseline
from tests.published.reference_tables import green_rows, off_green_rows, printed_columns

TOUR = load_baseline("tour")
COLUMNS = printed_columns()

FEW_ULP = 3
"""Both sides compute y0 + slope * (x - x0) with a slope that carries two roundings of its own and one rise of
less than a stroke; the sum is rounded once more. That is at most 1.5 units in the last place a side, so 3
between them."""


def within_few_ulp(got, wanted):
    assert np.all(np.abs(got - wanted) <= FEW_ULP * np.spacing(wanted))


def test_reference_files_are_complete():
    assert len(off_green_rows()) == 26 + 4 * 35
    assert len(green_rows()) == 16
    assert set(COLUMNS) == {"tee", "fairway", "rough", "sand", "recovery", "green"}


@pytest.mark.parametrize(("lie", "yards", "strokes"), off_green_rows())
def test_every_printed_row_off_the_green(lie, yards, strokes):
    assert TOUR.expected(lie, yards)[0] == strokes
    assert not TOUR.extended(lie, yards)[0]


@pytest.mark.parametrize(("lie", "feet", "putts"), green_rows())
def test_every_printed_row_on_the_green(lie, feet, putts):
    assert TOUR.expected(lie, feet / 3)[0] == putts
    assert not TOUR.extended(lie, feet / 3)[0]


def test_shipped_table_has_no_other_rows():
    for lie, (distances, values) in COLUMNS.items():
        rows = TOUR.about.rows[lie]
        assert rows[0].tolist() == distances
        assert rows[1].tolist() == values
    assert set(TOUR.about.rows) == set(COLUMNS)


@pytest.mark.parametrize("lie", COLUMNS)
def test_midpoints_against_numpy_interp(lie):
    distances, values = (np.array(column) for column in COLUMNS[lie])
    middle = (distances[1:] + distances[:-1]) / 2
    within_few_ulp(TOUR.expected(lie, middle), np.interp(middle, distances, values))


@pytest.mark.parametrize("lie", COLUMNS)
def test_whole_interpolation_against_scipy(lie):
    distances, values = (np.array(column) for column in COLUMNS[lie])
    points = np.random.default_rng(2012).uniform(distances[0], distances[-1], 10_000)
    within_few_ulp(TOUR.expected(lie, points), interp1d(distances, values)(points))
    assert not TOUR.extended(lie, points).any()


def test_fringe_is_valued_as_fairway_all_the_way():
    points = np.r_[COLUMNS["fairway"][0], np.random.default_rng(2012).uniform(0.01, 700, 10_000)]
    assert np.array_equal(TOUR.expected("fringe", points), TOUR.expected("fairway", points))
    assert np.array_equal(TOUR.extended("fringe", points), TOUR.extended("fairway", points))
