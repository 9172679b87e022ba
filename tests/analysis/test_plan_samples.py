"""The few landings that a drawing gets stand for all of them."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.plan.ground import prepare
from server.analysis.plan.landings import Landings, of_pattern, own_landings, stated
from server.analysis.plan.position_value import position_values
from server.analysis.plan.priors import Skill, prior_of
from server.analysis.plan.samples import SAMPLE, sampled
from server.analysis.plan.tee_plan import Option, plan
from tests.analysis.made_holes import FLAT, rectangle, straight_hole


def test_a_sample_follows_the_shares_and_not_the_number_of_landings() -> None:
    """Ten landings each on two spots, the second four times as likely: one landing in five is of the first."""
    right = np.r_[np.zeros(10), np.ones(10)]
    found = Landings(right, np.full(20, 150.0), np.repeat([0.02, 0.08], 10))
    assert sampled(found, 25)[0] == [0.0] * 5 + [1.0] * 20
    known = of_pattern(np.arange(10.0), np.full(10, 150.0))
    assert sampled(known, 4) == ([1.0, 3.0, 6.0, 8.0], [150.0] * 4)


def test_a_sample_keeps_the_spread_of_own_shots() -> None:
    rng = np.random.default_rng(0)
    own = rng.normal([10.0, 200.0], [12.0, 8.0], (200, 2))
    right, along = sampled(own_landings(own, prior_of(Skill())))
    assert len(right) == len(along) == SAMPLE
    assert np.mean(right) == pytest.approx(10 * 200 / 209, abs=3.0)
    assert np.std(right) == pytest.approx(12.0, rel=0.25)


def test_a_plan_samples_each_option_at_its_best_aim_and_says_what_lies_there() -> None:
    """A fairway of 30 yd alone: what the sample says of it lies within its edges when placed by the stated rule."""
    start, pin = (0.0, 0.0), (0.0, 400.0)
    ground = prepare(straight_hole(15.0, rectangle("out_of_bounds", 25, 160, -20, 440)))
    option = Option("club", of_pattern(*stated(Skill(), 250.0)), 250.0, {})
    made = plan(position_values(ground, FLAT, start, "tee", pin), start, pin, [option])
    (row,) = made["options"]
    assert row["aim_deg"] == pytest.approx(row["line_deg"] + np.degrees(np.arctan2(row["aim_yd"], 250.0)))
    assert row["aim_deg"] < 0
    turn = np.radians(row["aim_deg"])
    right, along = (np.array(row["landings"][name]) for name in ("right_yd", "along_yd"))
    x = np.sin(turn) * along + np.cos(turn) * right
    y = np.cos(turn) * along - np.sin(turn) * right
    ends = np.array(row["landings"]["ends"])
    assert set(ends) == {"fairway", "rough", "out_of_bounds"}
    assert np.all(np.abs(x[ends == "fairway"]) < 15.3)
    assert np.all(y[ends == "fairway"] > 19.7)
    assert np.all(x[ends == "out_of_bounds"] > 24.7)
    for name in ("fairway", "rough", "out_of_bounds"):
        assert np.mean(ends == name) == pytest.approx(row["shares"][name], abs=0.1)
