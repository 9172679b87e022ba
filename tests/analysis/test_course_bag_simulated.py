"""How often the interval of what a club is worth contains the truth: invented players whose patterns are known, a
season's shots of each club, and the same two bags played with the true patterns as they were planned with the known
ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.analysis.course_bag.bags import Solution
from server.analysis.course_bag.drawn import drawn_strokes
from server.analysis.course_bag.swings import Played, Swings, from_lists
from server.analysis.course_bag.table import Player
from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.choice import LEVEL
from server.analysis.plan.flight import USUAL_DAY
from server.analysis.plan.ground import prepare
from server.analysis.plan.hole_grid import LIES
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.plan.landings import of_pattern
from server.analysis.plan.tee_plan import Option
from tests.analysis.bag_played_out import OneHole
from tests.analysis.made_holes import LONG, rectangle, straight_hole
from tests.analysis.simulated_patterns import drawn_truth, option_of
from tests.tiers import count

pytestmark = pytest.mark.simulation

REACHES = (115.0, 140.0, 165.0, 190.0, 215.0, 240.0)
SHOTS = 40
PLAYERS = count(3, 120)
CURVES = load_baseline()


def of_clubs(options: list[Option]) -> Swings:
    """The same clubs from every lie and the tee."""
    named = [
        replace(one, name=f"{yards:g}", about={**one.about, "club": f"{yards:g}"})
        for one, yards in zip(options, REACHES, strict=True)
    ]
    played = [Played(place, one) for place, one in enumerate(named)]
    return from_lists([one.name for one in named], played, {lie: list(played) for lie in LIES})


def worth(solutions: list[Solution], player: Player, one: OneHole, draws: int) -> np.ndarray:
    """What each bag costs more than the first under patterns drawn, or as `player` knows them: (bags - 1, draws)."""
    strokes = drawn_strokes(player, one.table, solutions, draws)
    return strokes[1:] - strokes[0]


def test_intervals_of_a_clubs_worth_contain_the_truth_nine_times_in_ten() -> None:
    more = rectangle("bunker", 16, 26, 240, 270), rectangle("water_hazard", -60, -22, 150, 330)
    hole = HoleToPlay(1, 4, LONG, prepare(straight_hole(16.0, *more)), (0.0, 0.0), (0.0, LONG))
    inside, wide = [], []
    for seed in range(PLAYERS):
        rng = np.random.default_rng(seed)
        truths = [drawn_truth(rng, yards) for yards in REACHES]
        known = [option_of(f"{yards:g}", truth, SHOTS, rng) for yards, truth in zip(REACHES, truths, strict=True)]
        balls = [truth.balls(2000, rng) for truth in truths]
        true = [replace(one, landings=of_pattern(*at.T)) for one, at in zip(known, balls, strict=True)]
        one = OneHole(hole, of_clubs(known), CURVES)
        bag = frozenset(range(len(REACHES)))
        solutions = [one.bags.solve(bag)] + [one.bags.without(bag, club) for club in sorted(bag)]
        drawn = worth(solutions, one.player, one, 80)
        as_it_is = Player(one.aimed, of_clubs(true), (CURVES, CURVES, 0.0), hole.start, USUAL_DAY)
        truth = worth(solutions, as_it_is, one, 1)[:, 0]
        low, high = np.quantile(drawn, ((1 - LEVEL) / 2, (1 + LEVEL) / 2), axis=1)
        used = np.ptp(drawn, axis=1) > 1e-3
        inside += list(((low <= truth) & (truth <= high))[used])
        wide += list((high - low)[used])
    rate, error = float(np.mean(inside)), np.sqrt(0.09 / len(inside))
    print(f"{len(inside)} clubs of {PLAYERS} players: {100 * rate:.1f} % inside, width {np.mean(wide):.3f} strokes")
    assert np.mean(wide) > 0.005
    assert 0.87 - 3 * error < rate
