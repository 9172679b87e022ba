"""A left-hander whose every shot, hole and wind is the mirror of a right-hander's: plans and patterns are mirrored."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.patterns.finishes import finishes
from server.analysis.patterns.shapes import shapes
from server.analysis.plan.ahead import look_ahead
from server.analysis.plan.flight import Day
from server.analysis.plan.ground import prepare
from server.analysis.plan.options import Bag, bag_of
from server.analysis.plan.position_value import position_values
from server.analysis.plan.posterior import Prior
from server.analysis.plan.priors import SHAPE_MISSES, Skill, of_shape, prior_of
from server.analysis.plan.tee_plan import plan
from server.game.hole_maps import Feature, feature, oval
from tests.analysis.made_finishes import tapped, valued
from tests.analysis.made_holes import LONG, rectangle, straight_hole
from tests.tiers import some

TOUR = load_baseline()
TEE = (0.0, 0.0)
PIN = (4.0, LONG)
LEFT, RIGHT = "left", "right"

HOLE = [
    *straight_hole(16.0),
    rectangle("out_of_bounds", 45, 160, -60, 520),
    rectangle("lateral_water_hazard", -90, -32, 150, 330),
    feature("bunker", oval(20, 262, 6, 8)),
    rectangle("rough", -160, -150, -60, 520),
]
TREES = feature("trees", oval(-26, 210, 9, 30))


def club(label: str, target: float, shape: str | None, n: int, seed: int) -> list[dict[str, Any]]:
    """A right-hander's shots: draws finish left, fades right."""
    bias = {"draw": -6.0, "fade": 7.0, None: 2.0, "straight": 1.0}[shape]
    rng = np.random.default_rng(seed)
    sort = {"driver": "driver", "3 wood": "wood"}.get(label, "iron")
    more = {"club": label, "sort": sort, "target_yd": target, "distance_yd": 400.0, "lie": "tee"}
    more |= {"planned_shape": shape, "actual_shape": shape}
    return tapped(rng.normal(bias, target / 14, n).tolist(), rng.normal(-4, 9, n).tolist(), **more)


@lru_cache
def shots() -> pd.DataFrame:
    rows = [
        *club("driver", 255, "draw", 30, 1),
        *club("driver", 250, "fade", 22, 2),
        *club("3 wood", 225, "draw", 18, 3),
        *club("3 wood", 225, "straight", 7, 4),
        *club("7 iron", 160, None, 40, 5),
        *club("9 iron", 130, "fade", 12, 6),
    ]
    return valued(rows).assign(carry_yd=np.nan, firmness=None)


def mirrored_shots(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.assign(right_yd=-frame["right_yd"])


def mirrored_hole(hole: list[Feature]) -> list[Feature]:
    def turned(one: Feature) -> Feature:
        rings = [[[-x, y] for x, y in ring[::-1]] for ring in one["geometry"]["coordinates"]]
        return {**one, "geometry": {**one["geometry"], "coordinates": rings}}

    return [turned(one) for one in hole]


def bags() -> tuple[Bag, Bag]:
    return bag_of(shots(), RIGHT), bag_of(mirrored_shots(shots()), LEFT)


@pytest.mark.parametrize("lie", ["tee", "rough", "recovery"])
def test_landings_are_mirrored_ball_by_ball(lie: str) -> None:
    ours, theirs = (bag.options(lie, 400.0)[0] for bag in bags())
    assert [one.name for one in ours] == [one.name for one in theirs]
    assert {"driver, draw", "driver, fade", "3 wood, straight"} <= {one.name for one in ours}
    for one, other in zip(ours, theirs, strict=True):
        assert np.array_equal(one.landings.right, -other.landings.right)
        assert np.array_equal(one.landings.along, other.landings.along)
        assert np.array_equal(one.landings.drawn, other.landings.drawn)
        assert (one.about, one.flight) == (other.about, other.flight)


DAYS = [Day(), Day(wind_mph=12.0, wind_from_deg=70.0, firmness="firm")]
CLUBS = ("driver", "3 wood", "7 iron", "9 iron")


@pytest.mark.parametrize(
    ("day", "ahead"),
    some([(DAYS[0], False), (DAYS[1], False), (DAYS[1], True)], 1, 2),
    ids=some(["usual", "windy", "windy and ahead"], 1, 2),
)
def test_the_mirrored_plan(day: Day, ahead: bool) -> None:
    """Aims are mirrored to the yard, expected strokes to 0.002: balls on the line between two half-yard cells fall to
    the other one of them. Looking ahead without trees, which the solver's cells of two yards do not draw alike from
    either side: beside these expected strokes differ by up to 0.009."""
    plans, close = [], 0.002
    hole = HOLE if ahead else [*HOLE, TREES]
    turned = Day(day.wind_mph, -day.wind_from_deg, day.firmness)
    given = ((hole, PIN, day), (mirrored_hole(hole), (-PIN[0], PIN[1]), turned))
    for bag, (played, pin, when) in zip(bags(), given, strict=True):
        ground = prepare(played)
        options, _ = bag.options("tee", LONG, CLUBS)
        values = (
            look_ahead(ground, bag, TOUR, TEE, pin, CLUBS, day=when).values(ground, TEE, "tee", pin)
            if ahead
            else position_values(ground, TOUR, TEE, "tee", pin)
        )
        plans.append(plan(values, TEE, pin, options, day=when))
    ours, theirs = plans
    assert [one["name"] for one in ours["options"]] == [one["name"] for one in theirs["options"]]
    assert ours["verdict"] == theirs["verdict"]
    for one, other in zip(ours["options"], theirs["options"], strict=True):
        assert one["aim_yd"] == -other["aim_yd"], one["name"]
        assert one["expected"] == pytest.approx(other["expected"], abs=close)
        assert one["chance_best"] == pytest.approx(other["chance_best"], abs=10 * close)
        assert one["shares"] == pytest.approx(other["shares"], abs=0.002)
        curve, turned_curve = ([(at["aim_yd"], at["expected"]) for at in row["curve"]] for row in (one, other))
        near = np.array(curve)[:, 1] <= one["expected"] + 0.1
        assert np.array(curve)[near] == pytest.approx((np.array(turned_curve)[::-1] * [-1, 1])[near], abs=1.5 * close)
    assert [(row["club"], row["shape"], row["verdict"]) for row in ours["shapes"]] == [
        (row["club"], row["shape"], row["verdict"]) for row in theirs["shapes"]
    ]
    for one, other in zip(ours["shapes"], theirs["shapes"], strict=True):
        assert (one["aim_yd"], one["line"]) == (-other["aim_yd"], other["line"])
        assert (one["miss_left_yd"], one["miss_right_yd"]) == pytest.approx(
            (other["miss_right_yd"], other["miss_left_yd"]), abs=1e-9
        )
        assert (one["costs"], one["low"]) == pytest.approx((other["costs"], other["low"]), abs=2 * close)


def test_shapes_and_their_misses_are_mirrored() -> None:
    ours, theirs = (shapes(finishes(frame)) for frame in (shots(), mirrored_shots(shots())))
    swap = {"misses left": "misses right", "misses right": "misses left"}
    assert len(ours) == len(theirs) > 3
    for one, other in zip(ours, theirs, strict=True):
        assert (one["club"], one["planned"], one["came"]) == (other["club"], other["planned"], other["came"])
        misses, turned = one["misses"], other["misses"]
        assert (misses["left"], misses["right"]) == (turned["right"], turned["left"])
        assert swap.get(misses["word"], misses["word"]) == turned["word"]


def right_deg(prior: Prior) -> float:
    return float(np.degrees(np.arctan(prior.side.centre)))


def test_the_prior_of_a_shape_is_turned_with_the_player() -> None:
    """Few shots that are dead straight, all the belief from the prior: a right-hander's draw is expected right of its
    target, a left-hander's left; and a fade the other way."""
    flat = [*tapped([0.0] * 15, [0.0] * 15, club="driver", target_yd=250.0, planned_shape="draw")]
    flat += tapped([0.0] * 15, [0.0] * 15, club="driver", target_yd=250.0, planned_shape="fade")
    means = {}
    for plays in (RIGHT, LEFT):
        found, _ = bag_of(valued(flat), plays).options("tee", 400.0)
        means[plays] = {one.name: float(one.landings.share @ one.landings.right) for one in found}
    assert means[RIGHT]["driver, draw"] > 0 > means[RIGHT]["driver, fade"]
    assert means[LEFT] == pytest.approx({name: -right for name, right in means[RIGHT].items()}, abs=1e-9)


def test_the_prior_of_a_shape_takes_off_what_it_was_learnt_from() -> None:
    stated = prior_of(Skill())
    assert right_deg(of_shape(stated, "draw", [])) == pytest.approx(0.5, abs=1e-6)
    assert right_deg(of_shape(stated, "fade", [None, None])) == pytest.approx(-0.5, abs=1e-6)
    assert right_deg(of_shape(stated, "fade", ["fade"] * 9)) == pytest.approx(0.0, abs=1e-9)
    assert right_deg(of_shape(stated, "draw", ["fade"] * 9)) == pytest.approx(1.0, abs=1e-3)
    assert right_deg(of_shape(stated, "straight", ["draw", "fade"])) == pytest.approx(0.0, abs=1e-9)
    spread = of_shape(stated, "draw", ["straight"]).side.spread / stated.side.spread
    assert spread == pytest.approx(SHAPE_MISSES["draw"].wider / SHAPE_MISSES["straight"].wider)
    assert of_shape(stated, "draw", []).depth == stated.depth
