"""The costliest plan that is allowed: its raster is bounded, its memory is little more than its values, and what is
dearer is refused before anything is painted."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan import ground as ground_module
from server.analysis.plan.ground import CELL_YD, RED, prepare
from server.analysis.plan.options import MOST_CLUBS
from server.analysis.plan.position_value import position_values
from server.game.hole_maps import Feature, feature, oval
from server.game.map_bounds import AROUND_YD
from tests.analysis.made_holes import rectangle
from tests.analysis.test_options import bag, club

FAR = 1999.0
PIN = (560.0, 560.0)
CORNER = feature("green", oval(*PIN, 5, 5))
"""As far from the back tee as a green may be, and the most that a raster can be: at half a right angle."""


def wide(golf: str) -> Feature:
    return rectangle(golf, -FAR, FAR, -FAR, FAR)


def test_the_raster_ends_where_a_plan_no_longer_looks() -> None:
    ground = prepare([CORNER, wide("lateral_water_hazard")])
    side = int((PIN[0] + 2 * AROUND_YD) / CELL_YD)
    assert ground.code.shape == (side, side)
    assert ground.bounds == pytest.approx((-AROUND_YD, -AROUND_YD, PIN[0] + AROUND_YD, PIN[1] + AROUND_YD))
    assert (ground.code == RED).mean() > 0.99
    assert ground.inside(0.0, -AROUND_YD, 0.0)
    assert not ground.inside(0.0, -AROUND_YD - 1, 0.0)


def test_a_polygon_beyond_the_raster_paints_nothing_and_one_across_its_edge_its_part() -> None:
    green = feature("green", oval(0, 300, 10, 10))
    beyond = rectangle("bunker", -290, -260, 0, 100)
    across = rectangle("water_hazard", -280, -240, 150, 250)
    ground = prepare([green, beyond, across])
    assert ground.left == -AROUND_YD
    places = np.array([-249.75, -240.25, -239.75]), np.array([200.25] * 3)
    assert ground.codes(*places).tolist() == [ground_module.YELLOW] * 2 + [0 + ground_module.CODE["rough"]]
    assert ground.codes(np.array([-249.75]), np.array([50.25]))[0] == ground_module.CODE["rough"]


def test_what_covers_too_much_is_refused_before_painting(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("it was painted")

    monkeypatch.setattr(ground_module, "_paint", never)
    with pytest.raises(ValueError, match="61 polygons cover"):
        prepare([CORNER, *[wide("rough")] * 60])


def test_the_largest_plan_needs_little_more_memory_than_its_values() -> None:
    """4.5 million cells, all of them water: 36 MB of values and 4.5 MB of ground. Two bytes a cell say on which ray
    it lies; the rest is worked out in parts."""
    features = [CORNER, *[wide("lateral_water_hazard")] * 5]
    baseline = load_baseline()
    tracemalloc.start()
    try:
        ground = prepare(features)
        values = position_values(ground, baseline, (0.0, 0.0), "tee", PIN)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert ground.code.size == 4_494_400
    assert values.value.nbytes == 8 * ground.code.size
    assert most < 75_000_000


def test_of_many_clubs_those_with_the_most_shots_are_planned_with() -> None:
    many = bag(*(club(f"club {n}", 100 + n, 6 + n % 4, n) for n in range(MOST_CLUBS + 5)))
    found, left_out = many.options("tee", 400.0)
    assert len(found) == MOST_CLUBS
    assert len(left_out) == 5
    assert {entry["reason"] for entry in left_out} == {
        "30 other clubs have more shots; name this one to plan with it",
    }
    assert all(int(entry["name"].split()[1]) % 4 == 0 for entry in left_out)
    (named,), _ = many.options("tee", 400.0, [left_out[0]["name"]])
    assert named.name == left_out[0]["name"]
