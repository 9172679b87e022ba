"""Solved holes against closed forms, policies known by hand, and the same holes played out ball by ball."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pytest

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.plan.flight import STOPS_DEAD, Day, flight_of
from server.analysis.plan.ground import prepare
from server.analysis.plan.hole_grid import LIES, drops, hole_grid
from server.analysis.plan.position_value import position_values
from server.analysis.plan.priors import Skill
from server.analysis.plan.solve import Solved, StoppedError, solve
from server.analysis.plan.tee_plan import Option, plan
from server.game.hole_maps import Feature, feature, oval
from tests import tiers
from tests.analysis.made_bags import from_every_lie, full_bag, known_club
from tests.analysis.made_holes import FLAT, LONG, rectangle, straight_hole
from tests.analysis.played_out import Floats, Hole, played_out
from tests.analysis.solved_values import solved_values

TOUR = load_baseline()
TEE, PIN = (0.0, 0.0), (0.0, LONG)
WIDE = straight_hole(150.0)


def solved(
    features: list[Feature], bag: dict[str, list[Option]], curves: Baseline = TOUR, within: float = 80.0, **more: Any
) -> Solved:
    cell = more.pop("cell", 2.0)
    return solve(hole_grid(prepare(features), TEE, PIN, cell=cell), bag, curves, within, **more)


@cache
def by_full_bag(sort: str, cell: float = 2.0) -> Solved:
    """A hole of `HOLES` solved for the full bag on a calm day: several tests look at it."""
    return solved(HOLES[sort], from_every_lie(full_bag()), cell=cell)


def at(found: Solved, y: float, lie: str = "fairway", x: float = 0.0) -> float:
    return float(found.at(np.array(x), np.array(y), lie))


def best_at(found: Solved, bag: dict[str, list[Option]], y: float, lie: str = "fairway") -> str:
    return bag[lie][int(found.next_at(np.array(0.0), np.array(y), lie))].name


def test_one_club_without_hazards_takes_the_shots_that_division_says() -> None:
    """Exactly 100 yd straight on, every ball: from d yards k shots bring it within 80 yd, k = ceil((d - 80) / 100), and
    the curve adds 2 from a fairway. Checked away from where k changes: between nodes values are linear."""
    bag = from_every_lie([known_club(100.0, STOPS_DEAD)], harder=False)
    found = solved(WIDE, bag, FLAT)
    for d in (120.0, 150.0, 220.0, 250.0, 320.0, 350.0):
        assert at(found, LONG - d) == pytest.approx(math.ceil((d - 80) / 100) + 2.0, abs=0.02), d
    assert at(found, LONG - 60) == 2.0


def test_out_of_bounds_on_the_way_is_the_closed_form() -> None:
    """A club of exactly 200 yd that slices half its balls 60 yd out of bounds: V = (1 + p + (1 - p) 2) / (1 - p) = 5
    for p = 1/2, from 250 yd."""
    half = known_club(200.0, STOPS_DEAD)
    half.landings.right[:] = np.where(np.arange(2000) < 1000, 0.0, 60.0)
    bag = from_every_lie([half], harder=False)
    features = [*straight_hole(30.0), rectangle("out_of_bounds", 40, 200, -60, 500)]
    found = solve(hole_grid(prepare(features), TEE, PIN, aims=np.zeros(1)), bag, FLAT, 80.0)
    assert at(found, 150.0) == pytest.approx((1 + 0.5 + 0.5 * 2) / 0.5, abs=0.02)


def test_a_hole_whose_best_play_is_known_lays_up_to_the_distance_of_its_club() -> None:
    """No club goes 150 yd, and behind the green is water: a drive of 250 leaves 150, which only the 200 can play, into
    the water. Laying up with the 200 leaves 200, which it plays exactly. By the tour's curves the drive is better."""
    features = [*straight_hole(100.0), rectangle("water_hazard", -150, 150, 416, 470)]
    clubs = [known_club(reach, STOPS_DEAD, side=3.0, depth=3.0) for reach in (250.0, 200.0)]
    bag = from_every_lie(clubs, harder=False)
    found = solved(features, bag, within=80.0)
    assert best_at(found, bag, 0.0) == "200"
    ground = prepare(features)
    one_step = plan(position_values(ground, TOUR, TEE, "tee", PIN), TEE, PIN, clubs)
    ahead = plan(solved_values(found, ground, TOUR, TEE, PIN), TEE, PIN, clubs)
    assert one_step["best"]["name"] == "250"
    assert ahead["best"]["name"] == "200"
    # played out: what each of the two first shots costs when the second is the best there is
    hole = Hole(features, PIN, TOUR, 80.0)
    lay_up, drive = (played_out(hole, bag, TEE, first_then(found, bag, number), 20_000).mean() for number in (1, 0))
    assert lay_up < drive - 0.3
    assert ahead["options"][0]["expected"] == pytest.approx(lay_up, abs=0.03)


def test_clubs_for_every_distance_make_the_same_choice_as_the_curves() -> None:
    """Where a golfer has every club of the bag and no trouble, looking ahead changes little: the driver."""
    clubs = full_bag()
    found = by_full_bag("wide")
    ground = prepare(WIDE)
    one_step = plan(position_values(ground, TOUR, TEE, "tee", PIN), TEE, PIN, clubs)
    ahead = plan(solved_values(found, ground, TOUR, TEE, PIN), TEE, PIN, clubs)
    assert one_step["best"]["name"] == ahead["best"]["name"] == "276"


HAZARDS = [
    *straight_hole(16.0),
    rectangle("out_of_bounds", 45, 160, -60, 520),
    rectangle("lateral_water_hazard", -90, -32, 150, 330),
    rectangle("lateral_water_hazard", -30, 30, 215, 225),
    feature("bunker", oval(20, 262, 6, 8)),
    feature("bunker", oval(-18, 240, 5, 5)),
]
HOLES = {"wide": WIDE, "bare": straight_hole(16.0), "hazards": HAZARDS}


def policy_of(found: Solved, bag: dict[str, list[Option]]) -> Any:
    """The solved hole's own choices, by the nearest node: the club played there, at the point where it is aimed from
    there. A ball off its node that kept the direction instead would land as far aside as it lies off. Beyond the grid
    the direction of its edge holds."""
    grid = found.grid
    reach = np.array([[option.reach_yd for option in bag[lie]] for lie in LIES])
    across, along = grid.nodes()

    def chosen(x: Floats, y: Floats, lie: Any) -> Any:
        rows, columns = grid.node_shape
        row = np.clip(((y - grid.near) / grid.spacing).astype(int), 0, rows - 1)
        column = np.clip(((x - grid.left) / grid.spacing).astype(int), 0, columns - 1)
        place = np.array([LIES.index(one) for one in lie])
        option = np.maximum(found.option[place, row, column].astype(int), 0)
        aim, far = found.aim[place, row, column].astype(float), reach[place, option]
        off_x, off_y = across[column] - x, along[row] - y
        there = np.arctan2(off_x + np.sin(aim) * far, off_y + np.cos(aim) * far)
        to_hole = np.arctan2(grid.pin[0] - x, grid.pin[1] - y)
        beyond = np.hypot(off_x, off_y) > grid.spacing
        return option, np.where(np.isnan(aim), to_hole, np.where(beyond, aim, there))

    return chosen


def first_then(found: Solved, bag: dict[str, list[Option]], first: int) -> Any:
    """That option straight up the hole from the tee, the solved hole's choices after it."""
    rest = policy_of(found, bag)

    def chosen(x: Floats, y: Floats, lie: Any) -> Any:
        option, aim = rest(x, y, lie)
        on_tee = np.hypot(x - TEE[0], y - TEE[1]) < 1
        return np.where(on_tee, first, option), np.where(on_tee, 0.0, aim)

    return chosen


def toward_hole(reach: np.ndarray, longest: int) -> Any:
    """Always at the hole: the club that goes as far as the hole is, the longest when it is farther."""

    def chosen(x: Floats, y: Floats, lie: Any) -> Any:
        away = np.hypot(PIN[0] - x, PIN[1] - y)
        nearest = np.abs(reach[None, :] - away[:, None]).argmin(axis=1)
        return np.where(away > reach.max(), longest, nearest), np.arctan2(PIN[0] - x, PIN[1] - y)

    return chosen


BALLS = 1_000_000 if tiers.LONG else 20_000


@pytest.mark.simulation
@pytest.mark.parametrize("sort", tiers.some(["bare", "hazards"], 1))
def test_no_fixed_play_beats_the_solved_value_and_its_own_choices_reach_it(sort: str) -> None:
    clubs, features = full_bag(), HOLES[sort]
    bag = from_every_lie(clubs)
    found = by_full_bag(sort)
    value = plan(solved_values(found, prepare(features), TOUR, TEE, PIN), TEE, PIN, clubs)["options"][0]["expected"]
    hole, balls = Hole(features, PIN, TOUR, 80.0), BALLS
    reach = np.array([club.reach_yd for club in clubs])
    plays = {"its own": policy_of(found, bag)}
    plays |= {
        f"{clubs[longest].name} at the hole": toward_hole(reach[: longest + 1], longest) for longest in (13, 11, 8)
    }
    for name, play in plays.items():
        strokes = played_out(hole, bag, TEE, play, balls, seed=5)
        error = float(strokes.std()) / math.sqrt(balls)
        assert value <= strokes.mean() + 0.01 + 2 * error, name
        if name == "its own":
            assert value == pytest.approx(strokes.mean(), abs=0.02 + 2 * error)


@pytest.mark.simulation
@pytest.mark.parametrize("sort", tiers.some(["bare", "hazards"], 1))
def test_a_finer_grid_changes_the_plan_by_less_than_a_hundredth(sort: str) -> None:
    clubs, ground = full_bag(), prepare(HOLES[sort])
    values = [
        plan(solved_values(by_full_bag(sort, cell), ground, TOUR, TEE, PIN), TEE, PIN, clubs) for cell in (2.0, 1.5)
    ]
    coarse, fine = (made["options"][0]["expected"] for made in values)
    assert coarse == pytest.approx(fine, abs=0.01)


def test_a_ball_shut_in_by_trees_costs_a_stroke_more_than_the_rough_at_the_most() -> None:
    wood = rectangle("trees", -150, -20, -60, 380)
    found = solved([*straight_hole(15.0), wood], from_every_lie(full_bag()))
    x, y = np.array([-60.0, -80.0]), np.array([150.0, 250.0])
    as_far = LONG - np.hypot(x - PIN[0], y - PIN[1])
    recovery, rough = found.at(x, y, "recovery"), found.at(np.full(2, 25.0), as_far, "rough")
    assert np.all(recovery <= 1 + rough + 0.1)
    assert np.all(recovery > rough + 0.3)


def test_trees_across_the_way_keep_the_low_shot_from_being_played() -> None:
    """Trees of 60 yd from 60 to 70 yd before the tee: nothing flies them, so that from the tee one plays round them."""
    open_, shut = (
        solved([*straight_hole(15.0), *wood], from_every_lie(full_bag()))
        for wood in ([], [feature("trees", [(-60, -40), (60, -40), (60, -36), (-60, -36)], height_yd=60)])
    )
    assert at(shut, 100.0) == pytest.approx(at(open_, 100.0), abs=1e-3)
    tall = feature("trees", [(-14, 30), (14, 30), (14, 40), (-14, 40)], height_yd=60)
    features = [rectangle("fairway", -15, 15, 60, 380), feature("green", oval(0, LONG, 12, 12)), tall]
    blocked = solved(features, from_every_lie(full_bag()))
    assert at(blocked, 0.0) > at(open_, 0.0) + 0.05


def test_wind_against_costs_and_wind_behind_gains() -> None:
    calm = at(by_full_bag("wide"), 0.0)
    against, behind = (
        at(solved(WIDE, from_every_lie(full_bag()), day=day), 0.0) for day in (Day(20.0, 0.0), Day(20.0, 180.0))
    )
    assert behind < calm - 0.05
    assert against > calm + 0.05


@pytest.mark.parametrize("kind", ["water_hazard", "lateral_water_hazard"])
def test_a_drop_lies_before_the_water_and_never_nearer_the_hole(kind: str) -> None:
    features = [*straight_hole(40.0), rectangle(kind, -50, 50, 180, 220)]
    grid = hole_grid(prepare(features), TEE, PIN)
    straight = int(np.argmin(np.abs(grid.aims)))
    (place,) = drops(grid, grid.aims[[straight]])
    wet = np.flatnonzero(grid.wet().ravel())
    row, column = np.divmod(place, grid.code.shape[1])
    y = grid.near + (row + 0.5) * grid.cell
    assert np.all(place >= 0)
    assert np.all(~grid.wet().ravel()[place])
    inside = np.abs(grid.left + (wet % grid.code.shape[1] + 0.5) * grid.cell) < 40  # beside it a ray enters by the side
    assert np.abs(y - 179.0)[inside].max() <= 3.0
    assert np.abs(column - wet % grid.code.shape[1])[inside].max() <= 8


def test_water_without_a_dry_place_before_it_repeats_the_shot() -> None:
    """Water all around a green, and from the tee on but for a strip that is out of bounds: no drop anywhere. Half the
    balls reach the green: V = (1 + p + (1 - p) E) / (1 - p) = 4.5 with p a half and 1.5 on the green."""
    lake = [rectangle("water_hazard", -290, 290, 20, 365), rectangle("water_hazard", -290, 290, 365, 640)]
    ring = [list(point) for point in oval(0, LONG, 30, 30)[::-1]]
    lake[1]["geometry"]["coordinates"].append([*ring, ring[0]])
    before = rectangle("out_of_bounds", -290, 290, -200, 20)
    features = [feature("green", oval(0, LONG, 30, 30)), *lake, before]
    half = known_club(400.0, STOPS_DEAD)
    half.landings.along[:] = np.where(np.arange(2000) < 1000, 400.0, 300.0)
    grid = hole_grid(prepare(features), TEE, PIN, aims=np.zeros(1))
    found = solve(grid, from_every_lie([half], harder=False), FLAT, 40.0)
    assert at(found, 0.0) == pytest.approx((1 + 0.5 + 0.5 * 1.5) / 0.5, abs=0.02)


def test_solving_tells_how_far_it_is_and_can_be_stopped() -> None:
    told: list[float] = []
    bag = from_every_lie([known_club(100.0, STOPS_DEAD)], harder=False)
    solved(WIDE, bag, FLAT, progress=told.append)
    assert told == sorted(told)
    assert 0 < told[0] < told[-1] <= 1

    def stop(done: float) -> None:
        if done > 0.2:
            raise StoppedError

    with pytest.raises(StoppedError):
        solved(WIDE, bag, FLAT, progress=stop)


def test_a_bag_of_one_and_of_forty_clubs_and_none() -> None:
    one = from_every_lie([known_club(150.0, flight_of("iron"), Skill())])
    assert 4.0 < at(solved(straight_hole(), one), 0.0) < 7.0
    many = from_every_lie([known_club(60.0 + 6 * n, flight_of("iron"), Skill(), name=f"club {n}") for n in range(40)])
    assert at(solved(straight_hole(), many), 0.0) < at(solved(straight_hole(), one), 0.0)
    with pytest.raises(ValueError, match="no club"):
        solved(straight_hole(), {lie: [] for lie in LIES})


def test_a_green_that_no_club_reaches_in_its_stroke_is_still_played_to() -> None:
    short = from_every_lie([known_club(40.0, flight_of("wedge"), Skill())])
    found = solved(straight_hole(), short, within=40.0)
    assert at(found, 0.0) == pytest.approx(LONG / 40 + 1.5, abs=3.0)
    assert found.settled
