"""Invented patterns of clubs whose truth is known, drawn from a stated population around the stated prior, and what a
plan says of them: does its interval contain the truth, is it flattered, does it call equal clubs different.

The population: side bias normal with 1.5 degrees; side and length spread the stated ones times a log-normal factor of
0.25; the share of mishits Beta(2, 23), how short they come times a log-normal factor of 0.2. The usual shots have
the tails of Student's t with 5, 8 or 30 degrees of freedom, scaled to their spread: each club one of them. Neither
tails nor spreads have the form that the plan assumes (8 degrees for all, inverse-chi-square).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.choice import NO_DIFFERENCE
from server.analysis.plan.ground import prepare
from server.analysis.plan.landings import of_pattern, own_landings
from server.analysis.plan.position_value import PositionValues, position_values
from server.analysis.plan.priors import Skill, prior_of
from server.analysis.plan.tee_plan import Option, across, plan
from server.game.hole_maps import Feature, feature, oval
from tests.analysis.made_holes import LONG, rectangle, straight_hole

TEE, PIN = (0.0, 0.0), (0.0, LONG)
TAILS: Final = (5, 8, 30)
MANY: Final = 8000
HOLES: Final = ("water", "out of bounds", "narrow")


@dataclass(frozen=True)
class Truth:
    """A club's true pattern: reach in yards, the rest as shares of it."""

    reach_yd: float
    bias: float
    side: float
    depth: float
    mishits: float
    severity: float
    tails: int

    def balls(self, n: int, rng: np.random.Generator) -> np.ndarray:
        """Right and along of `n` balls (n, 2)."""
        skill = Skill()
        heavy = rng.standard_t(self.tails, (2, n)) / np.sqrt(self.tails / (self.tails - 2))
        mishit = rng.random(n) < self.mishits
        short = mishit * self.severity * rng.uniform(*skill.mishit_short, n)
        right = self.bias + self.side * heavy[0] * np.where(mishit, skill.mishit_wider, 1.0)
        return self.reach_yd * np.column_stack([right, 1 + self.depth * heavy[1] - short])


def drawn_truth(rng: np.random.Generator, reach_yd: float) -> Truth:
    """A club of the population."""
    skill = Skill()
    wide, deep, severe = np.exp(rng.standard_normal(3) * (0.25, 0.25, 0.2))
    bias, side = np.tan(np.radians([1.5, skill.side_deg]))
    share = float(rng.beta(2, 23))
    tails = int(rng.choice(TAILS))
    return Truth(reach_yd, bias * rng.standard_normal(), side * wide, skill.depth_share * deep, share, severe, tails)


@lru_cache(maxsize=3)
def hole(name: str) -> PositionValues:
    """A hole of 400 yd: water across at 265 to 285 yd and a bunker short of it, out of bounds right, or a fairway of
    22 yd between trees."""
    more: dict[str, tuple[float, list[Feature]]] = {
        "water": (17, [rectangle("water_hazard", -60, 60, 268, 288), feature("bunker", oval(14, 235, 6, 8))]),
        "out of bounds": (16, [rectangle("out_of_bounds", 28, 200, -20, 460), feature("bunker", oval(-18, 240, 6, 9))]),
        "narrow": (11, [rectangle("trees", 22, 90, 0, 400), rectangle("trees", -90, -22, 0, 400)]),
    }
    half, features = more[name]
    return position_values(prepare(straight_hole(half, *features)), load_baseline(), TEE, "tee", PIN)


def option_of(name: str, truth: Truth, n: int, rng: np.random.Generator) -> Option:
    """A club as a plan gets it, from `n` of its balls."""
    own = truth.balls(n, rng)
    return Option(name, own_landings(own, prior_of(Skill())), float(np.median(own[:, 1])), {})


def true_value(values: PositionValues, truth: Truth, aim_deg: float, seed: int = 8) -> float:
    """Expected strokes of the true pattern at an aim, by 8,000 of its balls."""
    balls = truth.balls(MANY, np.random.default_rng(seed))
    known = Option("truth", of_pattern(balls[:, 0], balls[:, 1]), truth.reach_yd, {})
    return float(across(values, TEE, aim_deg, known, np.zeros(1)).expected[0])


@dataclass(frozen=True)
class Rates:
    """What plans with two equal clubs gave: `held`, share of the 90 % intervals of the option reported as the best
    that contain its true strokes at the aim reported; `bias`, mean of reported less true strokes, with its Monte-Carlo
    error; `called`, share of plans that call one of the two better; `width`, mean of the intervals, strokes."""

    plans: int
    held: float
    bias: float
    bias_error: float
    called: float
    width: float

    def error(self, share: float) -> float:
        """Monte-Carlo error of a share."""
        return float(np.sqrt(share * (1 - share) / self.plans))

    def __str__(self) -> str:
        held, called = (f"{100 * one:.1f} ± {100 * self.error(one):.1f}" for one in (self.held, self.called))
        return (
            f"held {held} %, bias {self.bias:+.3f} ± {self.bias_error:.3f}, called {called} %, width {self.width:.3f}, "
            f"{self.plans} plans"
        )


def rates(name: str, n: int, plans: int, seed: int) -> Rates:
    """Plans on one hole with two equal clubs, `n` shots each, each plan with a truth of its own. Equal clubs are the
    hardest: the choice between them rests on chance alone, so that it flatters most."""
    rng, values = np.random.default_rng([seed, n]), hole(name)
    held, errors, called, widths = [], [], [], []
    for _ in range(plans):
        truth = drawn_truth(rng, float(rng.uniform(225, 265)))
        options = [option_of(f"club {place}", truth, n, rng) for place in (1, 2)]
        made = plan(values, TEE, PIN, options, aims=21, step_yd=4.0)
        row = made["options"][0]
        low, high = row["low"], row["high"]
        assert low is not None
        assert high is not None
        true = true_value(values, truth, row["aim_deg"])
        held.append(low <= true <= high)
        errors.append(row["expected"] - true)
        widths.append(high - low)
        called.append(made["verdict"] != NO_DIFFERENCE)
    return Rates(
        plans,
        float(np.mean(held)),
        float(np.mean(errors)),
        float(np.std(errors) / np.sqrt(plans)),
        float(np.mean(called)),
        float(np.mean(widths)),
    )
