"""The invented course: lies from geometry, and drops where the rules allow them."""

import math

import numpy as np
import pytest

from demo_rounds.course import TWO_CLUB_LENGTHS_YD, load_course
from demo_rounds.play import come_to_rest

COURSE = load_course()
HOLES = {hole.number: hole for hole in COURSE.holes}


def test_eighteen_holes_of_par_72_with_middle_tees_in_front():
    assert [hole.number for hole in COURSE.holes] == list(range(1, 19))
    assert sum(hole.par for hole in COURSE.holes) == 72
    assert sum(hole.back for hole in COURSE.holes) == 6929
    assert sum(hole.middle for hole in COURSE.holes) == 6633
    assert all(hole.middle < hole.back for hole in COURSE.holes)


@pytest.mark.parametrize(
    ("number", "x", "y", "ground"),
    [
        (1, 0, 398, "green"),
        (1, 1, 398 + 2 + 16, "fringe"),
        (1, -17, 394, "sand"),
        (1, 3, 250, "fairway"),
        (1, 30, 250, "rough"),
        (1, 60, 250, "recovery"),
        (1, 0, 100, "rough"),
        (2, 60, 250, "out_of_bounds"),
        (4, 0, 140, "water"),
        (18, 0, 441 + 40, "out_of_bounds"),
    ],
)
def test_ground_by_hand(number, x, y, ground):
    assert HOLES[number].ground(x, y) == ground


def test_the_hole_is_on_the_green_and_the_tee_is_dry_and_in_bounds():
    for hole in COURSE.holes:
        assert hole.ground(0, hole.back) == "green"
        for tees in ("back", "middle"):
            assert hole.ground(*hole.tee(tees)) == "rough"
            assert hole.to_hole(*hole.tee(tees)) == hole.length(tees)


def water_balls(hole, relief, rng):
    """Places in the hole's water of that relief, with places in bounds and dry from which they were hit."""
    for water in hole.water:
        if water.relief == relief:
            left, right, near, far = water.area
            for _ in range(200):
                end = (rng.uniform(left, right), rng.uniform(near, far))
                start = (rng.uniform(-20, 20), rng.uniform(0, near - 40))
                if hole.ground(*start) not in {"water", "out_of_bounds"}:
                    yield water, start, end


def first_in(water, start, end):
    """The first place on the way that the water holds: of 2,000 parts of the way, then of ten parts of the first."""
    low, high = 0.0, 1.0
    for parts in (2_000, 10):
        shares = np.linspace(low, high, parts + 1)
        xs, ys = (start[axis] + (end[axis] - start[axis]) * shares for axis in (0, 1))
        first = next(at for at, place in enumerate(zip(xs, ys, strict=True)) if water.holds(*place))
        low, high = shares[max(first - 1, 0)], shares[first]
    return xs[first], ys[first]


@pytest.mark.parametrize("relief", ["line", "lateral"])
def test_drops_from_water_are_dry_and_not_nearer_the_hole_than_the_crossing(relief):
    """Rules of Golf 2023, 17.1d(2) and 17.1d(3)."""
    rng = np.random.RandomState(5)
    count = 0
    for hole in COURSE.holes:
        for water, start, end in water_balls(hole, relief, rng):
            drop = hole.drop(start, end)
            assert not water.holds(*drop)
            assert hole.ground(*drop) in {"fairway", "fringe", "rough", "recovery"}
            crossing = first_in(water, start, end)
            assert hole.to_hole(*drop) >= hole.to_hole(*crossing) - 0.3
            if relief == "lateral":
                assert math.dist(drop, crossing) <= TWO_CLUB_LENGTHS_YD + 0.3
            else:
                bearing = math.atan2(drop[0], hole.back - drop[1]) - math.atan2(crossing[0], hole.back - crossing[1])
                assert abs(bearing) * hole.to_hole(*crossing) < 0.3
            count += 1
    assert count > 300


def test_a_ball_hit_back_into_the_water_is_not_dropped_nearer_the_hole():
    """Two club-lengths back along the shot would be nearer: what is left is the line, 17.1d(2). Hole 8: the shot enters
    where it meets the near edge of the water, y = 330, at x = -34."""
    hole = HOLES[8]
    drop = hole.drop((-20.0, 400.0), (-40.0, 300.0))
    assert hole.to_hole(*drop) > hole.to_hole(-34.0, 330.0)
    assert hole.ground(*drop) in {"fairway", "fringe", "rough", "recovery"}


def test_an_unplayable_ball_is_dropped_two_club_lengths_away_not_nearer():
    """Rules of Golf 2023, 19.2c."""
    rng = np.random.RandomState(6)
    for hole in COURSE.holes:
        for side in (-1, 1):
            trees = hole.trees[1] if side > 0 else hole.trees[0]
            if trees and hole.par > 3:
                y = rng.uniform(150, hole.back - 60)
                ball = (hole.middle_line(y) + side * (trees + 3), y)
                drop = hole.lateral(ball)
                assert hole.to_hole(*drop) >= hole.to_hole(*ball)
                assert math.dist(drop, ball) == pytest.approx(TWO_CLUB_LENGTHS_YD)


def test_a_ball_rests_where_its_logged_distance_says():
    rng = np.random.RandomState(4)
    hole = HOLES[1]
    for _ in range(200):
        x, y = rng.uniform(-40, 40), rng.uniform(0, 430)
        lie = "green" if hole.ground(x, y) == "green" else "rough"
        spot = come_to_rest(hole, x, y, lie)
        assert hole.to_hole(spot.x, spot.y) == pytest.approx(spot.yards)
        assert spot.distance >= 1
        assert math.dist((x, y), (spot.x, spot.y)) <= (0.5 if lie == "rough" else 0.5 / 3) + 1e-9
    assert come_to_rest(hole, 0.01, 398.0, "green").distance == 1
    assert come_to_rest(hole, 0, 398 - 20.2, "rough", not_nearer=True).distance == 21
