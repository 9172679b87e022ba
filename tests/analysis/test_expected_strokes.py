"""`Baseline.expected`: shapes, forms of input, and distances that cannot be."""

from __future__ import annotations

import doctest

import numpy as np
import pandas as pd
import pytest

from server.analysis.expected_strokes import baseline as expected_strokes
from server.analysis.expected_strokes.baseline import load_baseline
from server.game.lies import LIES
from tests.analysis.played import baseline_of

TOUR = load_baseline("tour")


def test_example_of_the_docstring():
    assert doctest.testmod(expected_strokes).failed == 0
    assert doctest.testmod(expected_strokes).attempted > 0


def test_one_lie_many_distances_and_the_other_way_round():
    assert TOUR.expected("fairway", [100, 140]).tolist() == [2.80, 2.91]
    assert TOUR.expected(["fairway", "rough", "sand"], 100).tolist() == [2.80, 3.02, 3.23]
    assert TOUR.expected("fairway", 100).shape == (1,)


@pytest.mark.parametrize("empty", [[], np.array([]), pd.Series([], dtype=float)])
def test_no_shots_no_values(empty):
    lies = np.array([], dtype=object)
    assert TOUR.expected(lies, empty).shape == (0,)
    assert TOUR.extended(lies, empty).shape == (0,)


@pytest.mark.parametrize("dtype", [np.float32, np.int64, np.int16, object])
def test_distances_of_every_type(dtype):
    yards = np.array([100, 140, 160], dtype=dtype)
    values = TOUR.expected("fairway", yards)
    assert values.dtype == np.float64
    assert values.tolist() == [2.80, 2.91, 2.98]


def test_views_with_strides():
    yards = np.arange(1, 601, dtype=float)
    codes = np.tile(np.array([1, 3], dtype=np.int8), 300)
    assert np.array_equal(TOUR.expected(codes[::3], yards[::3]), TOUR.expected(codes, yards)[::3])
    assert np.array_equal(TOUR.expected(codes[::-1], yards[::-1]), TOUR.expected(codes, yards)[::-1])


@pytest.mark.parametrize("yards", [0.0, -0.0, -1.0, -1e9, np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("lie", LIES)
def test_impossible_distances_have_no_value(lie, yards):
    values = TOUR.expected([lie, lie, lie], [100.0, yards, 20.0])
    assert np.isnan(values).tolist() == [False, True, False]
    assert values[[0, 2]].tolist() == TOUR.expected([lie, lie], [100.0, 20.0]).tolist()


@pytest.mark.parametrize("yards", [1e9, 1e300, np.finfo(float).max])
def test_far_distances_stay_finite_numbers_and_are_marked(yards):
    assert np.isfinite(TOUR.expected("sand", yards)[0])
    assert TOUR.extended("sand", yards)[0]


def test_unknown_lies_have_no_value():
    assert np.isnan(TOUR.expected(["cart path", None, float("nan"), ""], 100.0)).all()
    assert not TOUR.extended(["cart path", None], [0.1, 900]).any()


@pytest.mark.parametrize("code", [-1, 7, 8, 9, 100, -8])
def test_codes_that_are_no_lie_have_no_value(code):
    assert np.isnan(TOUR.expected(np.array([code], dtype=np.int8), 100.0)).all()
    assert np.isnan(TOUR.expected(np.array([code]), 100.0)).all()


def test_shapes_that_do_not_fit():
    with pytest.raises(ValueError, match="broadcast"):
        TOUR.expected(["tee", "tee"], [100.0, 200.0, 300.0])


def test_inputs_stay_as_they_were():
    codes, yards = np.array([1, -1, 9], dtype=np.int8), np.array([100.0, -5.0, np.nan])
    TOUR.expected(codes, yards)
    TOUR.extended(codes, yards)
    assert codes.tolist() == [1, -1, 9]
    assert yards[:2].tolist() == [100.0, -5.0]


def test_identity_of_the_usual_baseline():
    assert load_baseline().id == "tour"
    assert (TOUR.id, TOUR.version) == ("tour", "2012.1+2011.1")
    assert set(TOUR.curves) == set(LIES) - {"fringe"}


def test_fringe_is_fairway_in_a_table_of_ones_own(tmp_path):
    own = baseline_of(tmp_path, [("fairway", "10", "yd", "2"), ("fairway", "20", "m", "3")])
    assert own.expected("fringe", [10, 15]).tolist() == own.expected("fairway", [10, 15]).tolist()
    assert own.expected("fairway", 20 / 0.9144)[0] == 3
    assert np.isnan(own.expected("rough", 15)[0])
