"""The carry share of a player's own shots: beside scipy, by hand, recovered from simulated shots, and hard to spoil."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats

from server.analysis.patterns.full_swings import full_swings
from server.analysis.plan.ahead import options_by_lie
from server.analysis.plan.flight import BY_SORT, FIRM, MEDIUM, RUN, SOFT, Day, flight_of, flown
from server.analysis.plan.options import bag_of
from server.analysis.plan.own_carry import (
    CLUB_SPREAD,
    FARTHEST_OFF,
    PRIOR_SHOTS,
    SHOT_SPREAD,
    own_carries,
    own_flight,
    pooled,
)
from tests.analysis.made_finishes import tapped, valued

DEFAULT = BY_SORT["driver"].carry_share


def drives(carries: Sequence[float | None], ground: str | None = None, **more: object) -> pd.DataFrame:
    """Drives of 250 yd with these carries."""
    usual = {"club": "driver", "sort": "driver", "lie": "tee", "target_yd": 250.0, "distance_yd": 420.0}
    n = len(carries)
    frame = valued(tapped([0.0] * n, [0.0] * n, **usual | more))
    return frame.assign(carry_yd=np.array(carries, dtype=np.float64), firmness=ground)


def shares(shots: pd.DataFrame) -> np.ndarray:
    return own_carries(shots, full_swings(shots)).get("driver", np.array([]))


def test_a_worked_example() -> None:
    """Default 0.93, worth 4 shots: two drives of 250 yd that carried 225 and 220 yd have shares of 0.90 and 0.88, so
    exp((4 log 0.93 + log 0.90 + log 0.88) / 6) = exp((-0.29028 - 0.10536 - 0.12783) / 6) = exp(-0.087246) = 0.91645."""
    assert pytest.approx(4.0) == PRIOR_SHOTS
    found = shares(drives([225.0, 220.0]))
    assert found == pytest.approx([0.90, 0.88])
    assert pooled(0.93, found) == pytest.approx(0.91645, abs=5e-6)


@pytest.mark.parametrize("own", [[0.90], [0.86, 0.91, 0.88], [0.95] * 12])
def test_it_is_the_mean_of_the_posterior_that_scipy_integrates(own: list[float]) -> None:
    grid = np.linspace(math.log(0.6), math.log(1.1), 20_001)
    density = stats.norm.pdf(grid, math.log(DEFAULT), CLUB_SPREAD)
    density *= stats.norm.pdf(np.log(own)[:, None], grid, SHOT_SPREAD).prod(axis=0)
    mean = float((grid * density).sum() / density.sum())
    assert math.log(pooled(DEFAULT, np.array(own))) == pytest.approx(mean, abs=1e-6)


def test_with_a_stray_shot_it_is_the_mode_under_the_likelihood_of_huber() -> None:
    own = np.log([0.90, 0.91, 0.52, 0.92])

    def loss(middle: float) -> float:
        off = np.abs(own - middle) / SHOT_SPREAD
        huber = np.where(off <= FARTHEST_OFF, off**2 / 2, FARTHEST_OFF * (off - FARTHEST_OFF / 2)).sum()
        return float(huber + ((middle - math.log(DEFAULT)) / CLUB_SPREAD) ** 2 / 2)

    mode = optimize.minimize_scalar(loss, bounds=(-1, 0.1), method="bounded", options={"xatol": 1e-10}).x
    assert math.log(pooled(DEFAULT, np.exp(own))) == pytest.approx(mode, abs=1e-6)


@pytest.mark.parametrize("sort", list(BY_SORT))
def test_without_a_carry_it_is_the_stated_default_itself(sort: str) -> None:
    stated = flight_of(sort)
    assert own_flight(stated, None) is stated
    assert own_flight(stated, np.array([])) is stated
    shots = drives([None] * 20)
    assert own_carries(shots, full_swings(shots)) == {}
    assert own_carries(shots.drop(columns="carry_yd"), full_swings(shots)) == {}
    (option,), _ = bag_of(shots).options("tee", 420.0)
    assert option.flight == flight_of("driver")
    assert not any("carry" in note for note in option.about["notes"])


@pytest.mark.parametrize("truth", [0.82, 0.90, 0.97])
def test_a_simulated_share_is_recovered(truth: float) -> None:
    """Mean over 200 players with 60 shots each: 4 of 64 parts are the default's, and the error of the mean is
    0.06 / sqrt(64 x 200) = 0.0005."""
    rng = np.random.default_rng(3)
    found = [pooled(DEFAULT, truth * np.exp(rng.normal(0, SHOT_SPREAD, 60))) for _ in range(200)]
    expected = math.exp((4 * math.log(DEFAULT) + 60 * math.log(truth)) / 64)
    assert np.mean(found) == pytest.approx(expected, abs=0.003)
    assert np.std(found) == pytest.approx(expected * SHOT_SPREAD * math.sqrt(60) / 64, rel=0.2)
    assert pooled(DEFAULT, truth * np.exp(rng.normal(0, SHOT_SPREAD, 5000))) == pytest.approx(truth, abs=0.004)


def test_own_shares_stand_nearer_to_the_truth_than_the_default() -> None:
    """Players drawn from the prior with 12 shots each: the error falls from 0.03 to 0.03 sqrt(4 / 16) = 0.015."""
    rng = np.random.default_rng(4)
    truths = DEFAULT * np.exp(rng.normal(0, CLUB_SPREAD, 1000))
    found = [pooled(DEFAULT, truth * np.exp(rng.normal(0, SHOT_SPREAD, 12))) for truth in truths]
    off = np.log(found) - np.log(np.minimum(truths, 1.0))
    assert np.std(np.log(DEFAULT / truths)) == pytest.approx(0.03, rel=0.1)
    assert np.sqrt(np.mean(off**2)) == pytest.approx(0.015, rel=0.12)


@pytest.mark.parametrize("carry", [5.0, 100.0, 126.0, 264.9, 266.0, 400.0])
def test_one_absurd_record_moves_little(carry: float) -> None:
    """Of 250 yd: a carry of 5 or 100 and one of 266 or 400 tell nothing. One that is taken moves the default by
    0.18 / 4 in the logarithm at the most, twelve sound shots by 0.18 / 15."""
    sound = [232.5] * 12
    alone, beside = pooled(DEFAULT, shares(drives([carry]))), pooled(DEFAULT, shares(drives([*sound, carry])))
    assert alone == pytest.approx(DEFAULT, abs=DEFAULT * 0.046)
    assert beside == pytest.approx(DEFAULT, abs=DEFAULT * 0.013)
    assert len(shares(drives([carry]))) == (1 if 125 <= carry <= 265 else 0)


def test_a_share_is_never_above_one() -> None:
    flight = own_flight(flight_of("wedge"), np.full(30, 1.1))
    assert (flight.carry_share, flight.own_shots) == (1.0, 30)


@pytest.mark.parametrize("ground", [SOFT, MEDIUM, FIRM, None])
def test_the_days_ground_is_taken_off_and_put_on_again(ground: str | None) -> None:
    """What a drive of share 0.9 does on each ground by the plan's own flight gives 0.9 back."""
    truth = own_flight(flight_of("driver"), None)
    truth = type(truth)(0.9, truth.descent_deg)
    day = Day(firmness=ground or MEDIUM)
    ball = flown((0, 0), np.zeros(1), np.zeros(1), np.full(1, 250.0), truth, day)
    whole, carry = float(ball.y[0, 0]), float(ball.carry_y[0, 0])
    assert whole / carry - 1 == pytest.approx((1 / 0.9 - 1) * RUN[ground or MEDIUM])
    shots = drives([carry] * 3, ground).assign(long_yd=whole - 250.0)
    assert shares(shots) == pytest.approx([0.9] * 3)


def test_backspin_counts_as_it_is_on_any_ground() -> None:
    for ground in (SOFT, FIRM):
        assert shares(drives([255.0], ground)) == pytest.approx([1.02])


def test_shots_that_tell_no_length_tell_no_carry() -> None:
    assert len(shares(drives([230.0], lie="rough"))) == 0
    assert len(shares(drives([230.0], swing="part"))) == 0
    assert len(shares(drives([230.0], penalty_strokes=1))) == 0
    # a ball 60 yd aside of its line went hypot(250, 60) = 257.1 yd
    aside = drives([230.0]).assign(right_yd=60.0)
    assert shares(aside) == pytest.approx([230 / math.hypot(250, 60)])


def test_a_length_that_only_distances_tell_counts_too() -> None:
    shots = drives([215.0] * 4).assign(right_yd=np.nan, long_yd=np.nan, target_yd=np.nan, end_distance_yd=180.0)
    assert shares(shots) == pytest.approx([215 / 240] * 4)


def test_the_plan_flies_the_players_own_carry_and_tells_from_how_many_shots() -> None:
    (option,), _ = bag_of(drives([212.5] * 12 + [None] * 8)).options("tee", 420.0)
    assert option.flight.own_shots == 12
    assert option.flight.carry_share == pytest.approx(math.exp((4 * math.log(DEFAULT) + 12 * math.log(0.85)) / 16))
    assert option.flight.descent_deg == flight_of("driver").descent_deg
    assert option.about["notes"][-1] == "carry from 12 of your own shots"


def test_a_driver_with_a_carry_of_its_own_is_left_on_the_tee_as_well() -> None:
    irons = valued(tapped([0.0] * 20, [0.0] * 20, club="5 iron", sort="iron", target_yd=180.0, distance_yd=400.0))
    both = pd.concat([drives([225.0] * 20), irons.assign(carry_yd=np.nan, firmness=None).set_axis(range(200, 220))])
    by_lie = options_by_lie(bag_of(both))
    assert {option.about["club"] for options in by_lie.values() for option in options} <= {"5 iron", "punch"}
    assert {option.name for option in bag_of(both).options("tee", 400.0)[0]} == {"driver", "5 iron"}
