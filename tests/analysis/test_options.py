"""The options of a shot: whose shots count, from which lie, setup and shape, and who is left out."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.plan.landings import Landings
from server.analysis.plan.options import Bag, bag_of
from tests.analysis.made_finishes import tapped, valued


def club(label: str, target: float, n: int, seed: int = 0, **more: Any) -> list[dict[str, Any]]:
    right, long = np.random.default_rng(seed).normal(0, 6, (2, n)).tolist()
    return tapped(right, long, club=label, target_yd=target, distance_yd=400.0, **more)


def bag(*rows: list[dict[str, Any]]) -> Bag:
    return bag_of(valued([row for part in rows for row in part]))


def spread(landings: Landings) -> float:
    """Standard deviation to the side, yards."""
    middle = landings.share @ landings.right
    return float(np.sqrt(landings.share @ (landings.right - middle) ** 2))


def test_a_club_with_two_shots_is_left_out_by_name() -> None:
    found, left_out = bag(club("7 iron", 160, 2), club("8 iron", 150, 20)).options("tee", 400.0)
    assert [option.name for option in found] == ["8 iron"]
    assert left_out == [{"name": "7 iron", "reason": "2 tapped full swings; at least 5 are needed"}]
    assert bag().options("tee", 400.0) == ([], [])
    missing = bag(club("8 iron", 150, 20)).options("tee", 400.0, ["wedge"])
    assert missing == ([], [{"name": "wedge", "reason": "0 tapped full swings; at least 5 are needed"}])


def test_few_shots_lean_on_a_prior_that_is_named() -> None:
    (alone,), _ = bag(club("7 iron", 160, 15)).options("fairway", 160.0)
    assert alone.about["prior_weight"] == pytest.approx(60 / 75, abs=0.03)
    assert "a low handicap's" in alone.about["notes"][0]
    many = bag(club("7 iron", 160, 15), club("8 iron", 150, 70, 1)).options("fairway", 160.0)[0]
    notes = {option.name: option.about["notes"] for option in many}
    assert notes["7 iron"] == ["from the player's own shots and what the other clubs have in common"]
    assert "a low handicap's" in notes["8 iron"][0]
    assert many[0].reach_yd == pytest.approx(160, abs=4)


def test_the_prior_of_other_clubs_is_theirs_in_degrees_and_shares() -> None:
    """Others miss 10 % right of 150 yd, so at 100 yd 10 yd; own shots are straight. Between them lies what is
    believed: the nearer to the others the fewer own shots there are."""
    rng = np.random.default_rng(0)
    others = tapped((15 + rng.normal(0, 5, 60)).tolist(), rng.normal(0, 4, 60).tolist(), club="8 iron", target_yd=150)
    means = []
    for n in (5, 100):
        own = tapped(rng.normal(0, 3, n).tolist(), rng.normal(0, 3, n).tolist(), club="wedge", target_yd=100)
        (option,), _ = bag(own, others).options("fairway", 300.0, ["wedge"])
        means.append(float(option.landings.share @ option.landings.right))
    assert 2.0 < means[0] < 8.0
    assert abs(means[1]) < 1.5


def test_the_setup_in_force_counts_alone_when_it_has_enough_shots() -> None:
    old = club("driver", 260, 60, 0, setup="2026-01-01 old", played_on="2026-04-01")
    new = club("driver", 290, 25, 1, setup="2026-06-01 new", played_on="2026-07-01")
    (option,), _ = bag(old, new).options("tee", 400.0)
    assert (option.about["shots"], option.reach_yd) == (25, pytest.approx(290, abs=4))
    assert "shots of the setup of 2026-06-01 on" in option.about["notes"]
    (option,), _ = bag(old, new[:9]).options("tee", 400.0)
    assert option.about["shots"] == 69
    assert "all setups: only 9 shots of the present one" in option.about["notes"]


def test_each_planned_shape_is_an_option_when_each_has_enough_shots() -> None:
    draws = club("driver", 270, 20, 0, planned_shape="draw")
    fades = club("driver", 262, 18, 1, planned_shape="fade")
    found, _ = bag(draws, fades).options("tee", 400.0)
    assert [(option.name, option.about["planned_shape"], option.about["shots"]) for option in found] == [
        ("driver, draw", "draw", 20),
        ("driver, fade", "fade", 18),
    ]
    (option,), _ = bag(draws, fades[:4]).options("tee", 400.0)
    assert (option.name, option.about["shots"]) == ("driver", 24)


def test_a_shape_with_few_shots_is_shown_beside_one_with_many_and_is_less_sure() -> None:
    """Fourteen fades beside twenty draws: an option, with the draws as its prior. Where most shots have no planned
    shape the club stays one option."""
    draws = club("driver", 270, 20, 0, planned_shape="draw")
    fades = club("driver", 262, 14, 1, planned_shape="fade")
    found, _ = bag(draws, fades).options("tee", 400.0)
    assert [(option.name, option.about["shots"]) for option in found] == [("driver, draw", 20), ("driver, fade", 14)]
    assert found[1].about["notes"][0] == "planned as fade: 14 shots, with the club's shots of other shapes"
    (option,), _ = bag(draws, fades, club("driver", 265, 60, 2)).options("tee", 400.0)
    assert (option.name, option.about["shots"]) == ("driver", 94)
    means = [(option.landings.drawn @ option.landings.right).std() for option in found]
    assert means[1] > means[0]


def test_another_lie_is_played_shorter_and_wider_unless_enough_shots_are_known_from_it() -> None:
    good = club("7 iron", 160, 30)
    (fair,), _ = bag(good).options("fairway", 160.0)
    (rough,), _ = bag(good).options("rough", 160.0)
    assert rough.reach_yd / fair.reach_yd == pytest.approx(0.95, abs=0.01)
    assert spread(rough.landings) / spread(fair.landings) == pytest.approx(1.5, rel=0.1)
    assert "too few shots from the rough" in rough.about["notes"][0]
    (known,), _ = bag(good, club("7 iron", 140, 16, 2, lie="rough")).options("rough", 160.0)
    assert (known.reach_yd, known.about["shots"]) == (pytest.approx(140, abs=4), 16)


def test_part_swings_are_options_at_a_hole_within_reach_alone() -> None:
    own = bag(club("7 iron", 160, 30), club("7 iron", 145, 12, 3, swing="part"))
    names = {
        to_hole: [option.name for option in own.options("fairway", to_hole)[0]] for to_hole in (100.0, 145.0, 200.0)
    }
    assert names == {100.0: ["7 iron"], 145.0: ["7 iron", "7 iron, part"], 200.0: ["7 iron"]}
    part = own.options("fairway", 145.0)[0][1]
    assert part.reach_yd == pytest.approx(145, abs=5)
    assert [option.name for option in own.options("rough", 145.0)[0]] == ["7 iron"]
