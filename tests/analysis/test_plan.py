"""The plan of a shot against exact integrals, by symmetry, by common practice, and a simulation written apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import shapely
from scipy import special, stats

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.plan.choice import NO_DIFFERENCE
from server.analysis.plan.ground import Ground, prepare
from server.analysis.plan.landings import of_pattern, own_landings, stated
from server.analysis.plan.position_value import position_values
from server.analysis.plan.priors import Skill, prior_of
from server.analysis.plan.tee_plan import Across, Option, across, direction, expected, plan
from server.game.hole_maps import Feature, feature, kind_of, oval, polygon
from tests.analysis.made_holes import FLAT, LONG, rectangle, straight_hole

TOUR = load_baseline()
TEE, PIN = (0.0, 0.0), (0.0, LONG)
AIMS = np.arange(-40.0, 41.0, 2.0)

INTEGRAL = 0.005
"""Strokes: half-yard cells put an edge up to 0.25 yd off, that is 0.25 / (20 sqrt(2 pi)) = 0.005 of a pattern of 20
yd."""


def known(right: Any, along: Any, name: str = "club", reach: float = 250.0) -> Option:
    right, along = np.broadcast_arrays(np.asarray(right, dtype=float), np.asarray(along, dtype=float))
    return Option(name, of_pattern(right.copy(), along.copy()), reach, {"shots": 0, "notes": []})


def normal_side(sd: float, reach: float = 250.0) -> Option:
    """A pattern that is spread sideways alone, at its exact quantiles."""
    return known(sd * special.ndtri((np.arange(2000) + 0.5) / 2000), reach, reach=reach)


def at_aims(ground: Ground, option: Option, baseline: Baseline = FLAT, aims: np.ndarray = AIMS) -> Across:
    return across(position_values(ground, baseline, TEE, "tee", PIN), TEE, 0.0, option, aims)


def place_of(aim: float, reach: float, right: float) -> float:
    """x of a ball `right` yards off a line aimed `aim` yards aside at `reach`."""
    turn = math.atan2(aim, reach)
    return reach * math.sin(turn) + right * math.cos(turn)


@pytest.mark.parametrize("sd", [8.0, 20.0])
@pytest.mark.parametrize("aim", [-24.0, 0.0, 10.0])
def test_a_fairway_of_30_yards_is_the_normal_integral(sd: float, aim: float) -> None:
    found = at_aims(prepare(straight_hole()), normal_side(sd), aims=np.array([aim]))
    centre, scale = place_of(aim, 250, 0), math.cos(math.atan2(aim, 250)) * sd
    hit = stats.norm.cdf((15 - centre) / scale) - stats.norm.cdf((-15 - centre) / scale)
    assert found.expected[0] == pytest.approx(1 + 2 * hit + 3 * (1 - hit), abs=INTEGRAL * 20 / sd)
    assert found.shares[0].sum() == pytest.approx(1.0)


@pytest.mark.parametrize("aim", [-20.0, 0.0, 12.0])
def test_out_of_bounds_is_the_closed_form_of_the_normal_integral(aim: float) -> None:
    ground = prepare(straight_hole(15.0, rectangle("out_of_bounds", 30, 150, -20, 460)))
    found = at_aims(ground, normal_side(20.0), aims=np.array([aim]))
    centre, scale = place_of(aim, 250, 0), math.cos(math.atan2(aim, 250)) * 20
    p = stats.norm.sf((30 - centre) / scale)
    hit = stats.norm.cdf((15 - centre) / scale) - stats.norm.cdf((-15 - centre) / scale)
    in_play = (2 * hit + 3 * (1 - p - hit)) / (1 - p)
    by_hand = 1 + in_play + 2 * p / (1 - p)
    assert found.expected[0] == pytest.approx(by_hand, abs=3 * INTEGRAL)
    # the same by playing it out: hit until in play, two strokes for each ball out of bounds
    balls = np.random.default_rng(1).geometric(1 - p, 400_000) - 1
    assert by_hand == pytest.approx(1 + in_play + 2 * balls.mean(), abs=4 * 2 * balls.std() / math.sqrt(balls.size))


def test_the_closed_form_by_hand_and_its_end() -> None:
    # a tenth out of bounds, the rest worth 3: 1 + 3 + 0.2 / 0.9
    assert expected(np.array([2.7]), np.array([0.1]))[0] == pytest.approx(4.2222, abs=5e-5)
    assert expected(np.array([3.0]), np.array([0.0]))[0] == 4.0
    assert np.isinf(expected(np.array([0.1]), np.array([0.96]))[0])


@pytest.mark.parametrize(
    "trouble",
    [(), (rectangle("trees", 30, 90, -20, 460), rectangle("trees", -90, -30, -20, 460))],
    ids=["bare", "lined"],
)
def test_a_symmetric_hole_is_aimed_at_its_middle(trouble: Sequence[Feature]) -> None:
    found = at_aims(prepare(straight_hole(15.0, *trouble)), normal_side(18.0), TOUR)
    assert found.aim_yd[found.best] == 0.0
    assert found.expected == pytest.approx(found.expected[::-1], abs=2e-3)


@pytest.mark.parametrize("kind", ["out_of_bounds", "lateral_water_hazard", "trees"])
def test_trouble_on_one_side_moves_the_aim_away_more_for_wider_patterns(kind: str) -> None:
    right = prepare(straight_hole(15.0, rectangle(kind, 24, 150, -20, 460)))
    left = prepare(straight_hole(15.0, rectangle(kind, -150, -24, -20, 460)))
    aims = {}
    for sd in (7.0, 14.0, 24.0):
        found, mirrored = (at_aims(ground, normal_side(sd), TOUR) for ground in (right, left))
        aims[sd] = found.aim_yd[found.best]
        assert mirrored.aim_yd[mirrored.best] == pytest.approx(-aims[sd], abs=2.0)
    assert 0 >= aims[7.0] >= aims[14.0] >= aims[24.0]
    assert aims[24.0] < aims[7.0]
    assert aims[24.0] <= -6


def test_one_shape_aimed_at_one_edge_takes_a_straight_ball_and_a_curve_of_30_yards() -> None:
    """Common practice, no source: a fairway of about 30 yd, aimed at the left edge: a straight ball and one that
    curves 30 yd to the right are both in or at it. A yard narrower than the fairway, so that "at the edge" is
    decided."""
    found = at_aims(prepare(straight_hole()), known([0.0] * 50 + [29.0] * 50, 250.0), aims=np.arange(-20.0, 21.0, 0.5))
    best = found.aim_yd[np.isclose(found.expected, found.expected.min())]
    assert best.min() >= -15
    assert best.max() <= -14
    assert found.shares[found.best].argmax() == 1
    assert found.expected.min() == pytest.approx(1 + 2.0)
    middle = found.expected[found.aim_yd == 0.0][0]
    assert middle == pytest.approx(1 + 2.5)


def test_the_iron_that_is_never_long_against_the_wood_with_a_bunker_behind() -> None:
    """Into a green with out of bounds 20 yd behind: the shorter, tighter club is better, though it leaves a chip."""
    ground = prepare(straight_hole(15.0, rectangle("out_of_bounds", -100, 100, 425, 520)))
    start = (0.0, 190.0)
    even = special.ndtri((np.arange(2000) + 0.5) / 2000)
    side = np.random.default_rng(0).permutation(even)
    iron = known(side * 7, 200 + 5 * even, "iron", 200.0)
    wood = known(side * 7, 212 + 14 * even, "wood", 212.0)
    made = plan(position_values(ground, TOUR, start, "fairway", PIN), start, PIN, [wood, iron])
    assert made["best"]["name"] == "iron"
    assert made["second"]["low"] > 0.02
    assert made["verdict"] == "iron is better"
    assert {row["line"] for row in made["options"]} == {"the hole"}


def test_equal_clubs_are_no_real_difference() -> None:
    ground = prepare(straight_hole())
    own = np.column_stack(stated(Skill(), 250.0, 40, seed=5))
    clubs = [Option(name, own_landings(own, prior_of(Skill())), 250.0, {}) for name in ("one", "other")]
    made = plan(position_values(ground, TOUR, TEE, "tee", PIN), TEE, PIN, clubs)
    assert made["verdict"] == NO_DIFFERENCE
    assert made["second"]["costs"] == pytest.approx(0.0, abs=1e-9)
    assert 0.3 < made["second"]["chance_best_is_better"] < 0.7


def drawn_club(name: str, side: float, seed: int, n: int = 60, shape: str | None = None) -> Option:
    """A club of 250 yd from `n` shots of a normal pattern, `side` its side spread in yards."""
    own = np.random.default_rng(seed).normal([0.0, 250.0], [side, 10.0], (n, 2))
    about: Any = {"club": "driver" if shape else name, "planned_shape": shape}
    return Option(name, own_landings(own, prior_of(Skill())), 250.0, about)


NARROW = prepare(straight_hole(11.0, rectangle("trees", 20, 90, 0, 400), rectangle("trees", -90, -20, 0, 400)))


def test_each_option_has_its_chance_to_be_the_best_and_they_sum_to_one() -> None:
    clubs = [drawn_club("wide", 28.0, 1), drawn_club("tight", 9.0, 2), drawn_club("middling", 20.0, 3)]
    made = plan(position_values(NARROW, TOUR, TEE, "tee", PIN), TEE, PIN, clubs)
    assert sum(row["chance_best"] for row in made["options"]) == pytest.approx(1.0)
    assert made["best"]["name"] == "tight"
    assert made["options"][0]["chance_best"] > 0.9
    assert made["verdict"] == "tight is better"
    assert all(row["low"] < row["expected"] < row["high"] for row in made["options"])


def test_few_shots_leave_the_interval_wider() -> None:
    values = position_values(NARROW, TOUR, TEE, "tee", PIN)
    widths = []
    for n in (8, 60, 400):
        (row,) = plan(values, TEE, PIN, [drawn_club("club", 18.0, 5, n)])["options"]
        widths.append(row["high"] - row["low"])
    assert widths[0] > 1.5 * widths[1] > 2.0 * widths[2]


@pytest.mark.parametrize(
    ("draw", "said"), [(28.0, "suits a fade"), (10.0, "no shape is clearly better")], ids=["wide draw", "like shapes"]
)
def test_the_hole_says_which_shape_of_a_club_suits_it(draw: float, said: str) -> None:
    shapes = [drawn_club("driver, draw", draw, 1, shape="draw"), drawn_club("driver, fade", 10.0, 2, shape="fade")]
    made = plan(position_values(NARROW, TOUR, TEE, "tee", PIN), TEE, PIN, [*shapes, drawn_club("iron", 15.0, 3)])
    (row,) = made["shapes"]
    assert row["verdict"] == said
    assert row["low"] <= row["costs"] <= row["high"]
    best = next(one for one in made["options"] if one["name"] == f"driver, {row['shape']}")
    assert (row["aim_yd"], row["line"]) == (best["aim_yd"], best["line"])


def test_the_aim_of_a_shape_leaves_room_for_its_misses_to_both_sides() -> None:
    """A fade that finishes right of its aim three times in four and a little left of it else: it is aimed left of the
    middle of a fairway of 22 yd, so that both ends of eight in ten are on it."""
    right = np.concatenate([stats.norm.ppf((np.arange(1500) + 0.5) / 1500, 9.0, 4.0), np.full(500, -3.0)])
    about: Any = {"club": "driver", "planned_shape": "fade"}
    fade = Option("driver, fade", of_pattern(right, np.full(2000, 250.0)), 250.0, about)
    wide: Any = {"club": "driver", "planned_shape": "draw"}
    draw = Option("driver, draw", of_pattern(right * 3, np.full(2000, 250.0)), 250.0, wide)
    values = position_values(NARROW, FLAT, TEE, "tee", PIN)
    made = plan(values, TEE, PIN, [draw, fade])
    (row,) = made["shapes"]
    assert row["shape"] == "fade"
    assert row["miss_left_yd"] == pytest.approx(-np.quantile(right, 0.1), abs=0.1)
    assert row["miss_right_yd"] == pytest.approx(np.quantile(right, 0.9), abs=0.1)
    assert row["aim_yd"] - row["miss_left_yd"] >= -11
    assert row["aim_yd"] + row["miss_right_yd"] <= 11


def test_a_pattern_that_may_end_nearly_always_out_of_bounds_has_no_upper_end() -> None:
    """Out of bounds where nearly every ball ends: some drawn patterns have more than 95 % out."""
    ground = prepare(straight_hole(15.0, rectangle("out_of_bounds", -32, 300, 100, 330)))
    wild = np.random.default_rng(1).normal([60.0, 250.0], [15.0, 10.0], (6, 2))
    option = Option("wild", own_landings(wild, prior_of(Skill())), 250.0, {})
    (row,) = plan(position_values(ground, FLAT, TEE, "tee", PIN), TEE, PIN, [option], aims=5)["options"]
    assert row["high"] is None
    assert row["chance_best"] == 1.0


def test_what_cannot_be_planned_is_named() -> None:
    ground = prepare(straight_hole(15.0, rectangle("out_of_bounds", -300, 300, 200, 330)))
    made = plan(position_values(ground, FLAT, TEE, "tee", PIN), TEE, PIN, [normal_side(9.0), normal_side(9.0, 600.0)])
    assert made["best"] is None
    assert [entry["reason"] for entry in made["left_out"]] == [
        "nearly every ball ends out of bounds",
        "its shots end beyond the map",
    ]
    assert made["verdict"] == "no club can be planned on this hole"


def test_the_line_of_reference_is_the_fairway_where_the_hole_bends() -> None:
    bent = [
        feature("fairway", [(-15, 20), (15, 20), (75, 260), (45, 260)]),
        feature("green", oval(0, LONG, 12, 12)),
    ]
    angle, name = direction(prepare(bent), TEE, 200.0, PIN)
    # at a reach of 200 the fairway's middle lies on x = (y - 20) / 4: x^2 + y^2 = 200^2 at y = 195.1, x = 43.8
    assert angle == pytest.approx(math.degrees(math.atan2(43.8, 195.1)), abs=0.3)
    assert name == "the middle of the fairway"
    assert direction(prepare(bent), TEE, 390.0, PIN) == (0.0, "the hole")


ROUGH, TREES, FAIRWAY, SAND, FRINGE, GREEN, WATER, OUT = range(8)
PAINT = {
    TREES: "trees",
    FAIRWAY: "fairway",
    SAND: "bunker",
    GREEN: "green",
    WATER: "lateral_water_hazard",
    OUT: "out_of_bounds",
}
VALUED = {ROUGH: "rough", TREES: "recovery", FAIRWAY: "fairway", SAND: "sand", FRINGE: "fairway", GREEN: "green"}


def simulated(
    features: list[Feature],
    water: tuple[float, float, float, float],
    right: np.ndarray,
    along: np.ndarray,
    aim: float,
    reach: float,
) -> float:
    """Expected strokes of one aim from the tee, by exact polygons and exact drops; none of the plan's code.

    `water`: the one red rectangle; a ball in it is dropped in the rough two club-lengths before the edge that it
    crossed.
    """
    turn = math.atan2(aim, reach)
    x = math.sin(turn) * along + math.cos(turn) * right
    y = math.cos(turn) * along - math.sin(turn) * right
    lie = np.full(x.size, ROUGH, dtype=np.int8)
    for code in range(TREES, OUT + 1):
        shape = shapely.union_all([polygon(f) for f in features if kind_of(f) == PAINT.get(code, "green")])
        shape = shape.buffer(2) if code == FRINGE else shape
        shapely.prepare(shape)
        lie[shapely.contains_xy(shape, x, y)] = code
    total = 0.0
    for code, name in VALUED.items():
        here = lie == code
        if here.any():
            away = np.maximum(np.hypot(x[here] - PIN[0], y[here] - PIN[1]), 0.05)
            total += float(TOUR.expected(name, away).sum())
    wet = lie == WATER
    left, right_edge, near, far = water
    went_in = np.maximum(  # share of the way at which a straight line from (0, 0) enters the rectangle
        np.minimum(left / x[wet], right_edge / x[wet]), np.minimum(near / y[wet], far / y[wet])
    )
    whole = np.hypot(x[wet], y[wet])
    dropped = went_in - 2.5 / whole
    total += float((1 + TOUR.expected("rough", np.hypot(dropped * x[wet] - PIN[0], dropped * y[wet] - PIN[1]))).sum())
    p = float(np.mean(lie == OUT))
    return 1 + total / float(np.sum(lie != OUT)) + 2 * p / (1 - p)


LOW = {"properties": {"golf": "trees", "height_yd": 1}}
"""Trees that no ball meets in its flight: the simulation knows where balls come down alone."""


@pytest.mark.simulation
@pytest.mark.parametrize("aim", [-10.0, 0.0, 8.0])
def test_two_thousand_landings_agree_with_a_million_to_a_hundredth_of_a_stroke(aim: float) -> None:
    """Everything on one hole: out of bounds right, red water left, trees, bunkers, a pattern with mishits."""
    water = (-90.0, -32.0, 150.0, 330.0)
    features = straight_hole(
        16.0,
        rectangle("out_of_bounds", 45, 160, -20, 460),
        rectangle("lateral_water_hazard", *water),
        rectangle("trees", 30, 45, -20, 460) | LOW,
        feature("bunker", oval(20, 262, 6, 8)),
        feature("bunker", oval(-18, 240, 5, 5)),
    )
    skill = Skill()
    right, along = stated(skill, 265.0)
    found = at_aims(prepare(features), known(right, along, reach=265.0), TOUR, np.array([aim]))
    rng = np.random.default_rng(7)
    n = 1_000_000
    mishit = rng.random(n) < skill.mishit_share
    far = 265 * (1 + skill.depth_share * rng.standard_normal(n)) - mishit * 265 * rng.uniform(*skill.mishit_short, n)
    aside = (
        265 * math.tan(math.radians(skill.side_deg)) * rng.standard_normal(n) * np.where(mishit, skill.mishit_wider, 1)
    )
    assert found.expected[0] == pytest.approx(simulated(features, water, aside, far, aim, 265.0), abs=0.01)
