"""The bench of the plan runs at tiny size and times what it says. No test here looks at a time."""

from __future__ import annotations

import numpy as np
import shapely

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.ground import prepare
from server.game.hole_maps import map_fault, polygon
from tests.bench import bench_plan as bench


def test_the_hole_has_18_sound_polygons_of_as_many_points_as_asked_for() -> None:
    for points in (16, 270):
        made = bench.hole(points)
        assert len(made) == 18
        assert map_fault(made) is None
        assert all(points <= len(found["geometry"]["coordinates"][0]) <= points + 8 for found in made)


def test_both_ways_look_at_the_same_landings() -> None:
    """The plan keeps both clubs; shapely finds some of their landings in a polygon and not all."""
    options = bench.clubs(2, 400)
    made = bench.planned(prepare(bench.hole(16)), load_baseline(), options, 3)
    held = bench.inside_by_shapely(bench.hole(16), options, 3)
    total = 3 * sum(option.landings.right.size for option in options)
    assert 0 < held < total
    assert len(made["options"]) == 2  # type: ignore[arg-type]


def test_more_points_change_the_plan_by_no_more_than_their_rounding() -> None:
    options = bench.clubs(2, 400)
    values = [
        [row["expected"] for row in bench.planned(prepare(bench.hole(points)), load_baseline(), options, 5)["options"]]  # type: ignore[attr-defined]
        for points in (64, 270)
    ]
    assert np.allclose(*values, atol=0.01)
    areas = [shapely.area([polygon(found) for found in bench.hole(points)]) for points in (64, 270)]
    assert np.allclose(*areas, rtol=0.005)


def test_measuring_gives_a_time_for_everything() -> None:
    found = bench.measure(2, 3, 100, 32, 1)
    assert all(seconds.clock > 0 and seconds.processor >= 0 for seconds in vars(found).values())
