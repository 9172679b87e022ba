"""Curves of expected strokes: the extension of every lie, its continuity, its marks, and the grid against a search."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.expected_strokes.curves import CLOSEST_ROWS_YD, Grid, extend, extend_all
from server.game.lies import CODE, LIES
from tests.analysis.repeatable import REPEATABLE

TOUR = load_baseline("tour")
FIRST = {"tee": 100, "fairway": 10, "fringe": 10, "rough": 10, "sand": 10, "recovery": 10, "green": 2 / 3}
LAST = {"tee": 600, "fairway": 600, "fringe": 600, "rough": 600, "sand": 600, "recovery": 600, "green": 30}
ROUNDING = 1e-12


def columns(*pairs):
    table = np.array(pairs, dtype=float)
    return table[:, 0], table[:, 1]


# lie, yards, expected strokes worked out by hand from the printed rows and the stated extension
BY_HAND = [
    # below: the line through the first two rows goes on to the hole
    ("fairway", 5, 2.18 - 5 * (2.40 - 2.18) / 10),
    ("fringe", 5, 2.18 - 5 * (2.40 - 2.18) / 10),
    ("rough", 2, 2.34 - 8 * (2.59 - 2.34) / 10),
    ("sand", 4, 2.43 - 6 * (2.53 - 2.43) / 10),
    ("recovery", 1, 3.45 - 9 * (3.51 - 3.45) / 10),
    # tee: the fairway's value plus 2.92 - 2.80; at 75 yd the fairway is midway between 2.72 and 2.75
    ("tee", 75, 2.735 + 0.12),
    ("tee", 90, 2.77 + 0.12),
    ("tee", 5, 2.18 - 5 * (2.40 - 2.18) / 10 + 0.12),
    # green: a straight line from 1.01 at 2 ft to 1 at the hole
    ("green", 1 / 3, 1.005),
    ("green", 0.5 / 3, 1.0025),
    # beyond: the mean slope of the last 100 yd (of the last 30 ft on the green) goes on
    ("tee", 700, 4.82 + (4.82 - 4.41)),
    ("fairway", 650, 4.89 + 0.5 * (4.89 - 4.50)),
    ("fringe", 650, 4.89 + 0.5 * (4.89 - 4.50)),
    ("rough", 620, 5.25 + 0.2 * (5.25 - 4.77)),
    ("sand", 700, 6.10 + (6.10 - 5.40)),
    ("recovery", 700, 5.70 + (5.70 - 5.22)),
    ("green", 40, 2.36 + (2.36 - 2.21)),
]


@pytest.mark.parametrize(("lie", "yards", "expected"), BY_HAND)
def test_extension_by_hand(lie, yards, expected):
    assert TOUR.expected(lie, yards)[0] == pytest.approx(expected, abs=ROUNDING)
    assert TOUR.extended(lie, yards)[0]


@pytest.mark.parametrize("lie", LIES)
def test_printed_ends_are_continuous_and_marked_outside_only(lie):
    for edge, outside in ((FIRST[lie], 0.0), (LAST[lie], 1000.0)):
        beside = np.nextafter(edge, outside)
        at, near = TOUR.expected(lie, [edge, beside])
        assert near == pytest.approx(at, abs=ROUNDING)
        assert TOUR.extended(lie, [edge, beside]).tolist() == [False, True]
    middle = np.linspace(FIRST[lie], LAST[lie], 10_001)
    assert not TOUR.extended(lie, middle).any()


@pytest.mark.parametrize("lie", LIES)
def test_every_curve_is_finite_and_never_below_one(lie):
    yards = np.r_[5e-324, 1e-300, np.linspace(1e-6, 700, 200_001), 1e4, 1e9, 1e300]
    values = TOUR.expected(lie, yards)
    assert np.isfinite(values).all()
    assert values.min() >= 1


@pytest.mark.parametrize("lie", LIES)
def test_curve_has_no_jump_anywhere(lie):
    """The steepest printed row rises 0.13 strokes in a foot (green) and 0.023 in a yard (elsewhere)."""
    yards = np.linspace(1e-6, 700, 700_001)
    steepest = 0.39 if lie == "green" else 0.026
    assert np.abs(np.diff(TOUR.expected(lie, yards))).max() <= steepest * 0.001


@pytest.mark.parametrize("lie", LIES)
def test_beyond_the_last_row_nothing_falls(lie):
    assert (np.diff(TOUR.expected(lie, np.linspace(LAST[lie], 700, 1001))) >= 0).all()


def test_falling_table_goes_on_level():
    curve = extend("rough", *columns((10, 3.0), (100, 2.5)))
    assert curve.slope_beyond == 0


def test_line_to_the_hole_never_goes_below_one():
    curve = extend("rough", *columns((10, 1.2), (11, 2.0), (12, 2.1)))
    assert curve.expected[0] == 1
    assert curve.distance_yd[0] == 0


def test_far_slope_is_the_mean_of_the_last_hundred_yards():
    """Rows at 100, 350, 400: 300 yd lies on the line from 2 to 4, at 3.6; 4.5 - 3.6 over 100 yd."""
    curve = extend("fairway", *columns((100, 2.0), (350, 4.0), (400, 4.5)))
    assert curve.slope_beyond == pytest.approx(0.009, abs=ROUNDING)


def test_far_slope_of_a_short_table_takes_what_there_is():
    assert extend("fairway", *columns((10, 2.0), (30, 2.5))).slope_beyond == pytest.approx(0.025, abs=ROUNDING)
    assert extend("green", *columns((1, 1.2), (21, 2.2))).slope_beyond == pytest.approx(0.05, abs=ROUNDING)


@pytest.mark.parametrize(("lie", "at_hole"), [("rough", 2.5), ("green", 1.0)])
def test_one_row_alone(lie, at_hole):
    curve = extend(lie, *columns((40, 2.5)))
    assert curve.expected.tolist() == [at_hole, 2.5]
    assert curve.slope_beyond == 0
    assert (curve.printed_from, curve.printed_to) == (40, 40)


def test_tee_without_a_fairway_goes_on_by_its_own_line():
    rows = {"tee": columns((100, 3.0), (200, 3.5))}
    curve = extend_all(rows)["tee"]
    assert curve.expected.tolist() == [2.5, 3.0, 3.5]


def test_tee_follows_a_fairway_that_lies_above_it():
    """Fairway 2.0 at 50, 3.0 at 100; tee 2.5 at 100: half a stroke below the fairway, never below one."""
    rows = {"tee": columns((100, 2.5), (200, 3.0)), "fairway": columns((50, 2.0), (100, 3.0))}
    grid = Grid(extend_all(rows))
    tee = np.full(4, CODE["tee"], dtype=np.int8)
    values = grid.expected(tee, np.array([75.0, 50.0, 12.5, 1e-9]))
    assert values[:2].tolist() == pytest.approx([2.0, 1.5], abs=ROUNDING)
    assert values[2:].min() >= 1


def test_lie_without_a_row_has_no_value():
    grid = Grid(extend_all({"green": columns((1, 1.1), (10, 1.9))}))
    codes = np.array([CODE["tee"], CODE["fringe"], CODE["green"], -1], dtype=np.int8)
    values = grid.expected(codes, np.full(4, 5.0))
    assert np.isnan(values).tolist() == [True, True, False, True]
    assert not grid.is_extended(codes, np.full(4, 700.0))[[0, 1, 3]].any()


def test_tee_row_close_to_a_fairway_row_stays_small():
    """A tee that begins a hair after a fairway row must not make the grid's buckets a hair wide."""
    rows = {"tee": columns((100.000001, 3.0), (600, 4.8)), "fairway": columns((99, 2.8), (100, 2.9), (600, 4.9))}
    grid = Grid(extend_all(rows))
    assert grid._first.nbytes <= 8 * 4 * (600 / CLOSEST_ROWS_YD + 1)
    assert grid.expected(np.array([CODE["tee"]], dtype=np.int8), np.array([100.000001]))[0] == 3.0


@st.composite
def tables(draw):
    """Rows of every lie: up to twelve knots at least 1/64 yd apart, any expected strokes from 1 to 20."""
    rows = {}
    for lie in draw(st.sets(st.sampled_from([lie for lie in LIES if lie != "fringe"]), min_size=1)):
        steps = draw(st.lists(st.floats(CLOSEST_ROWS_YD, 60) | st.just(CLOSEST_ROWS_YD), min_size=1, max_size=12))
        distance = np.cumsum(steps)
        assume_apart = np.diff(distance, prepend=0.0)
        distance = distance[assume_apart >= CLOSEST_ROWS_YD]
        values = draw(st.lists(st.floats(1, 20), min_size=distance.size, max_size=distance.size))
        rows[lie] = (distance, np.array(values))
    return rows


@REPEATABLE
@given(tables(), st.integers(0, 2**32 - 1))
def test_grid_is_numpy_interp_for_any_table(rows, seed):
    """Against `numpy.interp` over printed and extension knots, and at every knot the very value.

    Rounding: a slope of up to 19 strokes in 1/64 yd is rounded to one part in 2**52, so is the product with at most
    1/64 yd: 1e-13 leaves room to spare for sums below 20 strokes.
    """
    curves = extend_all(rows)
    grid = Grid(curves)
    draw = np.random.default_rng(seed)
    for lie, curve in curves.items():
        last = curve.distance_yd[-1]
        inner = draw.uniform(0, last, 50)
        points = np.r_[inner[inner > 0], curve.distance_yd[1:], np.nextafter(curve.distance_yd[1:], 0)]
        codes = np.full(points.size, CODE[lie], dtype=np.int8)
        assert np.allclose(grid.expected(codes, points), np.interp(points, curve.distance_yd, curve.expected), 0, 1e-13)
        printed, values = rows[lie]
        assert np.array_equal(grid.expected(codes[: printed.size], printed), values)
        beyond = last + draw.uniform(0, 100, 20)
        wanted = curve.expected[-1] + (beyond - last) * curve.slope_beyond
        assert np.allclose(grid.expected(codes[:20], beyond), wanted, 0, 1e-9 * (1 + curve.slope_beyond))
        assert grid.expected(codes, points).min() >= 1 - 1e-13
        inside = (points >= printed[0]) & (points <= printed[-1])
        assert np.array_equal(grid.is_extended(codes, points), ~inside)


def test_values_do_not_depend_on_where_blocks_end():
    draw = np.random.default_rng(3)
    codes = draw.integers(-1, 7, 50_000).astype(np.int8)
    yards = draw.uniform(-5, 710, 50_000)
    yards[::1000] = np.nan
    whole = TOUR.expected(codes, yards)
    parts = np.concatenate([TOUR.expected(codes[i : i + 777], yards[i : i + 777]) for i in range(0, 50_000, 777)])
    assert np.array_equal(whole, parts, equal_nan=True)
    assert np.array_equal(np.isnan(whole), (codes < 0) | ~(yards > 0))
