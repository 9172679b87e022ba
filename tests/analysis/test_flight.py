"""Flight and run: what lies under the flight does not count, what the run crosses does, trees stop what flies low, and
the day moves all of it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import optimize, special, stats

from server.analysis.patterns.air import HEAD_PER_MPH, TAIL_PER_MPH, Air
from server.analysis.plan.carries import carries
from server.analysis.plan.flight import (
    BY_SORT,
    FIRM,
    MEDIUM,
    PEAK_SHARE,
    SOFT,
    USUAL_DAY,
    Day,
    Flight,
    flight_of,
    flown,
)
from server.analysis.plan.ground import Ground, prepare
from server.analysis.plan.landings import Landings, of_pattern
from server.analysis.plan.options import punch
from server.analysis.plan.position_value import position_values
from server.analysis.plan.rest import UNDER_BRANCHES_YD, at_rest
from server.analysis.plan.tee_plan import Across, Option, across, plan
from server.game.hole_maps import Feature, feature, map_fault, oval
from tests.analysis.made_holes import FLAT, LONG, rectangle, straight_hole

TEE, PIN = (0.0, 0.0), (0.0, LONG)
DRIVE = BY_SORT["driver"]
WATER = (10, 11)


def one_ball(along: float, right: float = 0.0) -> Landings:
    return of_pattern(np.array([right]), np.array([along]))


def code_of(ground: Ground, along: float, flight: Flight, right: float = 0.0, **more: Any) -> int:
    """What a ball that would rest `along` yards up the middle comes to lie in."""
    shots = flown(TEE, np.zeros(1), np.array([right]), np.array([along]), flight, more.pop("day", USUAL_DAY))
    return int(ground.code.ravel()[at_rest(ground, TEE, shots, flight, **more)[0, 0]])


def at_zero(features: list[Feature], landings: Landings, flight: Flight, reach: float, day: Day = USUAL_DAY) -> Across:
    values = position_values(prepare(features), FLAT, TEE, "tee", PIN)
    return across(values, TEE, 0.0, Option("club", landings, reach, {}, flight), np.zeros(1), day)


def test_the_curve_of_a_flight_lands_at_its_angle_and_is_highest_where_its_derivative_is_zero() -> None:
    for flight in BY_SORT.values():
        step = 1e-4
        fall = flight.height(np.array([250 - step]), np.array(250.0))[0] / step
        assert math.degrees(math.atan(fall)) == pytest.approx(flight.descent_deg, abs=0.01)
        found = optimize.minimize_scalar(
            lambda away, flight=flight: -flight.height(np.array([away]), np.array(250.0))[0],
            bounds=(1, 249),
            method="bounded",
        )
        assert found.x / 250 == pytest.approx(PEAK_SHARE, abs=1e-4)
        assert flight.apex_yd(250.0) == pytest.approx(-found.fun, abs=1e-6)
    assert flight_of("no such club") == flight_of(None) == BY_SORT["iron"]


def test_a_ditch_under_the_flight_is_flown_and_one_where_the_ball_lands_is_not() -> None:
    """A drive of 255 yd lands at 237: a ditch from 225 to 240 catches nearly all, one from 180 to 220 none."""
    wide = (-150.0, 150.0)
    spread = of_pattern(np.zeros(2000), 255 + 5 * special.ndtri((np.arange(2000) + 0.5) / 2000))
    caught = at_zero(straight_hole(15.0, rectangle("water_hazard", *wide, 225, 240)), spread, DRIVE, 255.0)
    flown_over = at_zero(straight_hole(15.0, rectangle("water_hazard", *wide, 180, 220)), spread, DRIVE, 255.0)
    before = at_zero(straight_hole(15.0, rectangle("water_hazard", *wide, 225, 240)), spread, Flight(1.0, 50.0), 255.0)
    # lands in 225 to 240, or lands short of it and runs in: carry below 240, that is a length below 240 / 0.93
    short_of_it = stats.norm.cdf((240 / 0.93 - 255) / 5)
    assert caught.shares[0, list(WATER)].sum() == pytest.approx(short_of_it, abs=0.05)
    assert caught.shares[0, list(WATER)].sum() > 0.7
    assert flown_over.shares[0, list(WATER)].sum() == 0
    assert before.shares[0, list(WATER)].sum() < 0.01


def test_a_ball_runs_into_water_and_sand_and_through_anything_else() -> None:
    """Lands at 237.2, rests at 255."""
    for kind, caught in (("water_hazard", True), ("lateral_water_hazard", True), ("bunker", True), ("rough", False)):
        ground = prepare(straight_hole(15.0, rectangle(kind, -5, 5, 245, 248)))
        rests_in = code_of(ground, 255.0, DRIVE)
        assert (rests_in != code_of(prepare(straight_hole()), 255.0, DRIVE)) == caught, kind
        beside = code_of(ground, 255.0, DRIVE, right=12.0)
        assert beside == code_of(prepare(straight_hole()), 255.0, DRIVE)


def test_a_ball_in_a_ditch_is_dropped_before_it_and_pays_one_stroke() -> None:
    """Rough is worth 3 in the flat baseline, fairway 2: the drop lies on the fairway before the ditch."""
    found = at_zero(straight_hole(15.0, rectangle("water_hazard", -150, 150, 225, 240)), one_ball(250.0), DRIVE, 250.0)
    assert found.expected[0] == pytest.approx(1 + 1 + 2.0)


BARE = [feature("green", oval(0, LONG, 12, 12))]
"""Nothing but a green: rough all the way."""


def wood(near: float, far: float, **more: Any) -> Feature:
    return feature("trees", [(-30, near), (30, near), (30, far), (-30, far)], **more)


@pytest.mark.parametrize(
    ("near", "far", "height", "stops"),
    [(20, 30, 15, True), (110, 130, 15, False), (110, 130, 40, True), (225, 240, 15, True), (20, 30, 2, False)],
    ids=["before it rises", "under its highest point", "higher than it flies", "where it falls", "lower than it"],
)
def test_trees_stop_what_flies_below_their_tops(near: float, far: float, height: float, stops: bool) -> None:
    """A drive of 255 yd carries 237, 31 yd high at the most."""
    ground = prepare([*BARE, wood(near, far, height_yd=height)])
    assert (code_of(ground, 255.0, DRIVE) == 5) == stops


def test_trees_without_a_height_have_the_stated_one_and_absurd_heights_are_named() -> None:
    plain, tall = ([*straight_hole(), wood(20, 30, **more)] for more in ({}, {"height_yd": 15}))
    assert prepare(plain).tree_yd.max() == prepare(tall).tree_yd.max() == 15
    assert prepare(straight_hole()).tree_yd is None
    for absurd in (0, -3, 101, "tall", True):
        fault = map_fault([*straight_hole(), wood(20, 30, height_yd=absurd)])
        assert fault is not None
        assert "height_yd" in fault
        assert "1 to 100 yd" in fault


def test_the_highest_of_trees_that_overlap_counts_and_none_where_a_fairway_was_cut() -> None:
    ground = prepare([*straight_hole(5.0), wood(20, 60, height_yd=30), wood(30, 50, height_yd=10)])
    tops = ground.tree_yd.ravel()[ground.places(np.array([20.0, 20.0, 0.0]), np.array([40.0, 25.0, 40.0]))]
    assert tops.tolist() == [30, 30, 0]


def test_a_ball_in_a_wood_goes_out_where_the_map_leaves_an_opening_and_a_punch_goes_under_a_little_wood() -> None:
    """The wood reaches from 10 to 60 yd and has a gap of 8 yd to the right, 20 degrees off the line."""
    gap = math.radians(20.0)
    left = feature("trees", [(-60, 10), (10 * math.tan(gap) - 4, 10), (60 * math.tan(gap) - 4, 60), (-60, 60)])
    right = feature("trees", [(10 * math.tan(gap) + 4, 10), (80, 10), (80, 60), (60 * math.tan(gap) + 4, 60)])
    values = position_values(prepare([*BARE, left, right]), FLAT, TEE, "recovery", PIN)
    tight = of_pattern(np.zeros(50), np.full(50, 150.0))
    option = Option("iron", tight, 150.0, {}, BY_SORT["iron"])
    through = across(values, TEE, 0.0, option, 150 * np.tan(np.array([0.0, gap])))
    assert through.shares[0, 5] == pytest.approx(1.0)
    assert through.shares[1, 5] == 0.0
    low = Option("punch", tight, 150.0, {}, punch().flight, low=True)
    thin = position_values(prepare([*BARE, wood(10, 10 + UNDER_BRANCHES_YD - 4)]), FLAT, TEE, "recovery", PIN)
    assert across(thin, TEE, 0.0, low, np.zeros(1)).shares[0, 5] == 0.0
    assert across(values, TEE, 0.0, low, np.zeros(1)).shares[0, 5] == pytest.approx(1.0)


def test_a_plan_out_of_a_wood_turns_to_the_opening() -> None:
    """Walled in but for the right: every option is aimed there, over 60 degrees to either side."""
    wall = feature("trees", [(-200, 5), (2, 5), (2, 300), (-200, 300)], height_yd=60)
    values = position_values(prepare([*BARE, wall]), FLAT, TEE, "recovery", PIN)
    option = Option("iron", of_pattern(np.zeros(50), np.full(50, 150.0)), 150.0, {}, BY_SORT["iron"])
    (row,) = plan(values, TEE, PIN, [option], all_round=True)["options"]
    # past the corner at (2, 5), or within a step of 2 yd of it
    assert math.degrees(math.atan2(2, 7)) < row["aim_deg"] <= 60.0
    assert row["shares"]["trees"] == 0.0
    (narrow,) = plan(values, TEE, PIN, [option])["options"]
    assert narrow["shares"]["trees"] == pytest.approx(1.0)
    both = plan(values, TEE, PIN, [option, punch()], all_round=True)
    assert {row["name"] for row in both["options"]} == {"iron", "punch"}


def test_carries_name_what_lies_across_the_line_and_how_often_it_is_flown() -> None:
    """Carry of a drive of 255 +- 8 yd: 237 +- 7.4. A ditch from 225 to 240 is flown in P(carry > 240)."""
    ground = prepare(
        straight_hole(15.0, rectangle("water_hazard", -150, 150, 225, 240), rectangle("bunker", 20, 30, 150, 160))
    )
    spread = of_pattern(np.zeros(4000), 255 + 8 * special.ndtri((np.arange(4000) + 0.5) / 4000))
    (row,) = carries(ground, TEE, 0.0, spread, DRIVE)
    assert (row["kind"], row["from_yd"], row["to_yd"]) == (
        "water",
        pytest.approx(225, abs=0.5),
        pytest.approx(240, abs=0.5),
    )
    assert row["over"] == pytest.approx(stats.norm.sf(240, 0.93 * 255, 0.93 * 8), abs=0.02)
    assert row["short"] == pytest.approx(stats.norm.cdf(225, 255, 8), abs=0.02)
    aside = carries(ground, TEE, math.degrees(math.atan2(25, 155)), spread, DRIVE)
    assert [one["kind"] for one in aside] == ["sand", "water"]
    assert carries(prepare(straight_hole()), TEE, 0.0, spread, DRIVE) == []


def test_two_stretches_with_a_strip_of_grass_between_are_two_carries() -> None:
    ground = prepare(
        straight_hole(15.0, rectangle("water_hazard", -50, 50, 100, 120), rectangle("water_hazard", -50, 50, 130, 140))
    )
    found = carries(ground, TEE, 0.0, one_ball(200.0), BY_SORT["iron"])
    assert [(row["from_yd"], row["to_yd"]) for row in found] == [
        (pytest.approx(100, abs=0.5), pytest.approx(120, abs=0.5)),
        (pytest.approx(130, abs=0.5), pytest.approx(140, abs=0.5)),
    ]


def rest_of(day: Day, along: float = 200.0, aim: float = 0.0, flight: Flight = DRIVE) -> tuple[float, float, float]:
    """Carry along the aim, rest along it, and rest to its right, yards, of a ball of `along` yards."""
    shots = flown(TEE, np.array([aim]), np.zeros(1), np.array([along]), flight, day)
    sine, cosine = math.sin(aim), math.cos(aim)
    carry = sine * shots.carry_x[0, 0] + cosine * shots.carry_y[0, 0]
    along_ = sine * shots.x[0, 0] + cosine * shots.y[0, 0]
    return carry, along_, cosine * shots.x[0, 0] - sine * shots.y[0, 0]


def test_firm_ground_lengthens_the_run_alone() -> None:
    run = 0.07 * 200
    for firmness, factor in ((SOFT, 0.4), (MEDIUM, 1.0), (FIRM, 1.8)):
        carry, rest, aside = rest_of(Day(firmness=firmness))
        assert carry == pytest.approx(186.0)
        assert rest == pytest.approx(186 + factor * run)
        assert aside == pytest.approx(0.0)


@pytest.mark.parametrize(("wind_from", "aim"), [(0.0, 0.0), (90.0, math.pi / 2), (-120.0, -2 * math.pi / 3)])
def test_wind_shortens_a_carry_into_it_and_lengthens_one_before_it_by_the_stated_shares(
    wind_from: float, aim: float
) -> None:
    against, before = Day(10.0, wind_from), Day(10.0, wind_from + 180)
    assert rest_of(against, aim=aim)[0] == pytest.approx(186 * (1 - 10 * HEAD_PER_MPH))
    assert rest_of(before, aim=aim)[0] == pytest.approx(186 * (1 + 10 * TAIL_PER_MPH))
    assert rest_of(against, aim=aim)[1] - rest_of(against, aim=aim)[0] == pytest.approx(14.0)


def test_a_cross_wind_from_the_right_moves_the_ball_left_and_its_mirror_right() -> None:
    _, _, from_right = rest_of(Day(10.0, 90.0))
    _, _, from_left = rest_of(Day(10.0, -90.0))
    assert from_right == pytest.approx(-from_left)
    assert from_right < -9


def test_air_moves_the_carry_by_the_same_factor_as_the_ladder() -> None:
    air = Air(temperature_c=5.0, altitude_m=1200.0)
    assert rest_of(Day(air=air))[0] == pytest.approx(186 * air.factor)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"wind_mph": 200.0}, "wind_mph: 200 is outside 0 to 60 mph"),
        ({"wind_mph": -1.0}, "wind_mph"),
        ({"wind_mph": float("nan")}, "wind_mph"),
        ({"wind_from_deg": 400.0}, "wind_from_deg"),
        ({"firmness": "hard"}, "firmness: 'hard' is not one of soft, medium, firm"),
    ],
)
def test_an_absurd_day_is_refused_by_field_value_and_range(wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(ValueError, match=field.split(":", maxsplit=1)[0]) as refused:
        Day(**wrong)
    assert field in str(refused.value)


def test_the_day_in_words() -> None:
    assert Day().words == ""
    day = Day(12.0, 0.0, FIRM, Air(8.0, 600.0))
    assert day.words == "wind of 12 mph against, firm ground, 8 degrees C, 600 m of altitude"


def simulated_share(carry_share: float, edge: float, seed: int) -> float:
    """Share of balls in a ditch from `edge` to `edge` + 12 yd, ball by ball in plain Python: it lies in it when it
    lands in it, or lands before it and would run to it or over it."""
    rng = np.random.default_rng(seed)
    wet = 0
    for length in rng.normal(255, 12, 20_000):
        landed = carry_share * length
        wet += edge <= landed <= edge + 12 or (landed < edge <= length)
    return wet / 20_000


@pytest.mark.parametrize("edge", [200.0, 222.0, 240.0, 262.0])
def test_shares_in_a_ditch_agree_with_balls_played_one_by_one(edge: float) -> None:
    spread = of_pattern(np.zeros(4000), 255 + 12 * special.ndtri((np.arange(4000) + 0.5) / 4000))
    found = at_zero(straight_hole(15.0, rectangle("water_hazard", -90, 90, edge, edge + 12)), spread, DRIVE, 255.0)
    # 0.0035 is the Monte-Carlo error of a half of 20,000; cells of half a yard add 0.25 / 12 of a density
    assert found.shares[0, list(WATER)].sum() == pytest.approx(simulated_share(0.93, edge, 8), abs=0.02)
