"""What a shot leaves, by hand, and the bag that the next shots are played with."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.ahead import TAKEN_DOWN, look_ahead, next_shots, options_by_lie
from server.analysis.plan.flight import STOPS_DEAD
from server.analysis.plan.ground import prepare
from server.reports.plan_ahead import next_words, times_in_ten
from tests.analysis.made_bags import known_club
from tests.analysis.made_holes import LONG, straight_hole
from tests.analysis.test_options import bag, club

TEE, PIN = (0.0, 0.0), (0.0, LONG)


def test_a_driver_stays_on_the_tee_unless_it_is_the_only_club() -> None:
    driver = [row | {"sort": "driver"} for row in club("driver", 270, 40)]
    iron = [row | {"sort": "iron"} for row in club("7 iron", 160, 40, 1)]
    both = options_by_lie(bag(driver, iron))
    assert {option.about["club"] for lie in both for option in both[lie]} == {"7 iron", "punch"}
    alone = options_by_lie(bag(driver))
    assert {option.about["club"] for option in alone["fairway"]} == {"driver"}


def test_irons_are_taken_down_from_the_fairway_alone() -> None:
    iron = [row | {"sort": "iron"} for row in club("7 iron", 160, 40, 1)]
    found = options_by_lie(bag(iron))
    full, shorter = found["fairway"]
    assert shorter.reach_yd == pytest.approx(TAKEN_DOWN * full.reach_yd)
    assert shorter.landings.right == pytest.approx(TAKEN_DOWN * full.landings.right)
    assert len(found["rough"]) == 1


def test_what_a_shot_leaves_is_counted_from_where_its_balls_rest() -> None:
    """Three balls in four 250 yd straight, on the fairway, one 40 yd right of it in the rough."""
    iron = [row | {"sort": "iron"} for row in club("7 iron", 150, 60, 1)]
    ground = prepare(straight_hole(15.0))
    ahead = look_ahead(ground, bag(iron), load_baseline(), TEE, PIN)
    option = known_club(250.0, STOPS_DEAD)
    option.landings.right[:] = np.where(np.arange(2000) < 1500, 0.0, 40.0)
    fairway, rough = next_shots(ahead, ground, TEE, 0.0, option)
    assert (fairway["lie"], rough["lie"]) == ("fairway", "rough")
    assert (fairway["share"], rough["share"]) == (pytest.approx(0.75), pytest.approx(0.25))
    assert fairway["distance_yd"] == pytest.approx(150, abs=0.5)
    assert rough["distance_yd"] == pytest.approx(np.hypot(150, 40), abs=0.5)
    assert fairway["club"] == rough["club"] == "7 iron"
    assert fairway["club_share"] == pytest.approx(1.0)


@pytest.mark.parametrize(("share", "words"), [(0.04, "1 time in 20"), (0.15, "2 times in 10"), (0.5, "5 times in 10")])
def test_shares_in_words(share: float, words: str) -> None:
    assert times_in_ten(share) == words


def test_the_green_is_shown_in_feet_and_without_a_club() -> None:
    left = {"lie": "green", "share": 0.6, "distance_yd": 8.0, "nearest_yd": 2.0, "farthest_yd": 15.0}
    assert next_words({**left, "club": None, "club_share": None}) == "On the green 6 times in 10, 24 ft from the hole."
