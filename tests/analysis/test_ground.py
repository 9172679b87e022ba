"""The prepared ground is what shapely says of the polygons; water is worth the drop."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.ground import CELL_YD, OUT, RED, YELLOW, prepare
from server.analysis.plan.position_value import PositionValues, position_values
from server.game.hole_maps import Feature, feature, oval, polygon
from server.game.lies import CODE
from tests.analysis.made_holes import FLAT, LONG, flat_baseline, rectangle, straight_hole

TOUR = load_baseline()
PIN = (0.0, LONG)


def at(values: PositionValues, x: float, y: float) -> float:
    return float(values.value[values.ground.places(np.array([x]), np.array([y]))[0]])


def test_cells_are_what_shapely_says_of_their_centres() -> None:
    """A star with a hole in it, points at all angles: every cell but those whose centre lies on an edge."""
    turns = np.linspace(0, 2 * math.pi, 41)[:-1]
    radius = np.where(np.arange(40) % 2, 55.3, 21.7)
    ring = np.column_stack([radius * np.cos(turns), 200 + radius * np.sin(turns)])
    star = feature("fairway", ring.tolist())
    star["geometry"]["coordinates"].append([[-6.1, 196.2], [1.3, 208.9], [7.7, 193.4], [-6.1, 196.2]])
    ground = prepare([feature("green", oval(0, LONG, 12, 12)), star])
    x, y = ground.centres()
    grid_x, grid_y = np.meshgrid(x, y)
    inside = shapely.contains_xy(polygon(star), grid_x, grid_y)
    painted = (ground.code == CODE["fairway"]) & (grid_y < 300)
    assert inside.sum() > 10_000
    assert (painted != inside).sum() == 0
    assert inside.sum() * CELL_YD**2 == pytest.approx(polygon(star).area, rel=0.002)


def test_what_lies_above_covers_what_lies_below() -> None:
    everywhere = (-30.0, 30.0, 180.0, 220.0)
    kinds = ["rough", "trees", "fairway", "bunker", "green", "water_hazard", "lateral_water_hazard", "out_of_bounds"]
    codes = [CODE["rough"], CODE["recovery"], CODE["fairway"], CODE["sand"], CODE["green"], YELLOW, RED, OUT]
    far_green = feature("green", oval(0, LONG, 12, 12))
    for count, code in enumerate(codes, start=1):
        ground = prepare([far_green, *(rectangle(kind, *everywhere) for kind in reversed(kinds[:count]))])
        assert ground.codes(np.array([0.0]), np.array([200.0]))[0] == code
    assert ground.codes(np.array([13.0, 14.5]), np.array([LONG, LONG])).tolist() == [CODE["fringe"], CODE["rough"]]


def test_places_beyond_the_raster_count_at_its_edge() -> None:
    ground = prepare(straight_hole(15.0, rectangle("out_of_bounds", 30, 150, -20, 460)))
    assert ground.codes(np.array([9e5]), np.array([200.0]))[0] == CODE["rough"]
    assert ground.inside(0, 0, 0)
    assert not ground.inside(0, 900, 100)
    assert ground.pin == pytest.approx((0, LONG), abs=1e-6)


@pytest.mark.parametrize(("features", "words"), [([], "no green"), (straight_hole()[:1], "no green")])
def test_a_hole_without_a_green_is_named(features: list[Feature], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        prepare(features)


def test_cells_are_worth_the_expected_strokes_of_their_lie_and_distance() -> None:
    ground = prepare(straight_hole(15.0, rectangle("trees", 40, 90, 0, 420)))
    values = position_values(ground, TOUR, (0.0, 0.0), "tee", PIN)
    for x, lie in ((0.25, "fairway"), (25.25, "rough"), (60.25, "recovery")):
        assert at(values, x, 250.25) == pytest.approx(TOUR.expected(lie, math.hypot(x, LONG - 250.25))[0])


def test_red_water_is_a_stroke_and_the_better_of_two_drops() -> None:
    """Straight ahead, water from 200: two club-lengths back along the shot is 197.5, on the line from the hole one
    yard back is 199 and better. Cells and steps of half a yard; the fairway's slope is 0.0065 strokes a yard: 0.005
    covers 0.75 yd."""
    ground = prepare(straight_hole(15.0, rectangle("lateral_water_hazard", -60, 60, 200, 260)))
    values = position_values(ground, TOUR, (0.0, 0.0), "tee", PIN)
    drop = 1 + TOUR.expected("fairway", LONG - 199.0)[0]
    assert at(values, 0.25, 230.25) == pytest.approx(drop, abs=0.005)
    assert at(values, 0.25, 259.25) == pytest.approx(drop, abs=0.005)


def test_red_water_at_the_side_is_dropped_beside_where_it_crossed() -> None:
    """From the tee to (50, 250): crosses x = 30 at y = 150; the drop is in the rough 2.5 yd before."""
    ground = prepare(straight_hole(15.0, rectangle("lateral_water_hazard", 30, 90, 100, 330)))
    values = position_values(ground, TOUR, (0.0, 0.0), "tee", PIN)
    share = 1 - 2.5 / math.hypot(30, 150)
    drop = 1 + TOUR.expected("rough", math.dist((30 * share, 150 * share), PIN))[0]
    assert at(values, 50.25, 250.25) == pytest.approx(drop, abs=0.01)


def test_yellow_water_is_dropped_back_on_the_line_from_the_hole() -> None:
    """Island green: crossed at y = 370 on the way to the hole; behind that on the line the fairway begins at once."""
    ground = prepare(straight_hole(15.0, rectangle("water_hazard", -60, 60, 370, 384)))
    values = position_values(ground, TOUR, (0.0, 200.0), "fairway", PIN)
    assert at(values, 0.25, 380.25) == pytest.approx(1 + TOUR.expected("fairway", LONG - 369.0)[0], abs=0.02)


def test_water_without_a_place_to_drop_is_stroke_and_distance() -> None:
    """Behind the crossing point, seen from the hole, nothing but water and out of bounds for 100 yd: 1 + E(tee) = 5."""
    around = [
        rectangle("water_hazard", -60, 60, 60, 300),
        rectangle("out_of_bounds", -200, 200, -90, 60),
        rectangle("out_of_bounds", -200, -60, 60, 300),
        rectangle("out_of_bounds", 60, 200, 60, 300),
    ]
    values = position_values(prepare(straight_hole(15.0, *around)), FLAT, (0.0, 0.0), "tee", PIN)
    assert at(values, 0.25, 250.25) == pytest.approx(1 + 4.0)
    values = position_values(prepare(straight_hole(15.0, around[0])), FLAT, (0.0, 0.0), "tee", PIN)
    assert at(values, 0.25, 250.25) == pytest.approx(1 + 2.0)


def test_a_baseline_without_a_lie_of_the_hole_is_named() -> None:
    bare = flat_baseline({"fairway": 2.0, "green": 1.5})
    with pytest.raises(ValueError, match="flat: it has no value"):
        position_values(prepare(straight_hole()), bare, (0.0, 0.0), "tee", PIN)


def test_points_on_straight_edges_change_nothing_once_a_hole_is_prepared() -> None:
    """The same fairway of 4 points and of 2,480: the same raster, so a plan costs the same."""
    corners = [(-15.0, 20.0), (15.0, 20.0), (15.0, 330.0), (-15.0, 330.0), (-15.0, 20.0)]
    dense = list(shapely.segmentize(shapely.LinearRing(corners), 0.25).coords)
    assert len(dense) > 2400
    green = feature("green", oval(0, LONG, 12, 12))
    few, many = (prepare([green, feature("fairway", ring)]) for ring in (corners, dense))
    assert np.array_equal(few.code, many.code)
