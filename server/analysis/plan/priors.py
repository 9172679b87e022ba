"""What is believed of a club before its own shots: of a stated skill, or learnt from the player's other shots.

Belief on centre, spread and share of mishits, each with what it is worth (`posterior`): players of one skill differ,
and so do the clubs of one player.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy import stats

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.posterior import Belief, Prior, drawn_patterns

BIAS_DEG: Final = 1.5
"""How far clubs of players with one skill miss to one side on average, one standard deviation. A choice of this
tool."""
SPREAD_FREEDOM: Final = 8.0
"""Spreads of players with one skill differ by about a quarter, one standard deviation: 1 / sqrt(2 x 8). A choice of
this tool."""
LENGTH_SHOTS: Final = 1.0
"""That usual shots centre on the club's distance is worth one shot: its own shots show how far it goes."""
MISHIT_SHOTS: Final = 25.0
"""The stated share of mishits is worth so many shots. A choice of this tool."""

BETWEEN_CLUBS_DEG: Final = 1.0
BETWEEN_FREEDOM: Final = 10.0
LEARNT_MISHIT_SHOTS: Final = 40.0
"""How far the clubs, or shapes, of one player differ: side bias by 1 degree, spreads by 22 %; and what the share of
mishits of the others is worth. Choices of this tool: closer than players among each other."""


@dataclass(frozen=True)
class ShapeMiss:
    """How a planned shape misses, of a right-hander: `side_deg` where its finishes centre, right of the target; `wider`
    factor of the side spread beside that of all shots of a player."""

    side_deg: float
    wider: float


ANY_SHAPE: Final = ShapeMiss(0.0, 1.0)
SHAPE_MISSES: Final = {"draw": ShapeMiss(0.5, 1.05), "straight": ShapeMiss(0.0, 0.95), "fade": ShapeMiss(-0.5, 1.05)}
"""A planned curve misses both ways, by not coming and by coming too much. The ball that does not curve is the more
frequent miss: a right-hander's draw then finishes right of its target, his fade left of it. Figures are choices of this
tool; common practice, no source. A left-hander's are mirrored (`options.Bag`)."""


@dataclass(frozen=True)
class Skill:
    """A stated pattern: clean shots and mishits that come up short. Length as a share of the distance, side in degrees.

    The defaults are a low handicap's: side between 3.4 to 4.0 degrees (professionals) and 5.4 (scores of 70 to 83;
    Broadie, Science and Golf V, 2008); depth so that the median error is about 6 % (James and Rees 2008: 4.6 to 6.5
    % on the tour); the share of mishits is a choice of this tool.
    """

    depth_share: float = 0.045
    side_deg: float = 4.5
    mishit_share: float = 0.08
    mishit_short: tuple[float, float] = (0.05, 0.25)
    mishit_wider: float = 1.6

    @property
    def words(self) -> str:
        """What the pattern is, in words."""
        return f"a low handicap's: {self.figures}"

    @property
    def figures(self) -> str:
        """Its figures, in words."""
        return (
            f"side spread {self.side_deg:g} degrees, length {self.depth_share:.1%} of the distance, "
            f"{self.mishit_share:.0%} mishits {self.mishit_short[0]:.0%} to {self.mishit_short[1]:.0%} short"
        )


def prior_of(skill: Skill) -> Prior:
    """The prior of a stated skill: its spreads are the medians of what is believed."""
    side = float(np.tan(np.radians(skill.side_deg)))
    bias = float(np.tan(np.radians(BIAS_DEG)))
    return Prior(
        side=Belief(0.0, (side / bias) ** 2, median_spread(side, SPREAD_FREEDOM), SPREAD_FREEDOM),
        depth=Belief(1.0, LENGTH_SHOTS, median_spread(skill.depth_share, SPREAD_FREEDOM), SPREAD_FREEDOM),
        mishits=(skill.mishit_share * MISHIT_SHOTS, (1 - skill.mishit_share) * MISHIT_SHOTS),
        short=skill.mishit_short,
        wider=skill.mishit_wider,
    )


def of_shape(prior: Prior, shape: str, behind: Sequence[str | None]) -> Prior:
    """The prior of a planned shape, of a right-hander. `behind`: the planned shapes, None where there was none, of the
    shots that `prior` was learnt from, empty for the stated one: what they have of a shape already is taken off."""
    theirs = [SHAPE_MISSES.get(one or "", ANY_SHAPE) for one in behind] or [ANY_SHAPE]
    own = SHAPE_MISSES[shape]
    side = float(np.mean([np.tan(np.radians(one.side_deg)) for one in theirs]))
    wider = own.wider / float(np.mean([one.wider for one in theirs]))
    centre = prior.side.centre + float(np.tan(np.radians(own.side_deg))) - side
    return replace(prior, side=replace(prior.side, centre=centre, spread=prior.side.spread * wider))


def median_spread(spread: float, freedom: float) -> float:
    """The s0 of an inverse-chi-square belief whose median is `spread`."""
    return spread * float(np.sqrt(stats.chi2.ppf(0.5, freedom) / freedom))


def learnt(others: Floats, groups: Floats, stated: Prior) -> Prior:
    """The prior of a club from the player's other shots, each group of them (a club, a shape) around its own centre.

    `others`: (n, 2) right and along in shares of the target; `groups`: (n,) numbers. The side's centre is theirs, drawn
    to the stated one as its worth says; what it is worth joins how far groups differ to how little is known of theirs.
    """
    numbers, place, counts = np.unique(groups, return_inverse=True, return_counts=True)
    middle = np.column_stack([np.bincount(place, one) / counts for one in others.T])
    overall = others.mean(axis=0)
    within = others - middle[place] + overall
    draws = drawn_patterns(within, stated, np.random.default_rng(5), 40)
    spread = np.sqrt((draws.spread**2).mean(axis=0))
    between = float(np.tan(np.radians(BETWEEN_CLUBS_DEG))) ** 2
    unknown = between * (1 + 1 / numbers.size) + float(draws.centre[:, 0].var())
    freedom = 1 / (1 / BETWEEN_FREEDOM + 1 / (stated.side.freedom + stated.side.worth * len(others)))
    share = float(draws.mishits.mean())
    return replace(
        stated,
        side=replace(
            stated.side,
            centre=float(draws.centre[:, 0].mean()),
            shots=float(spread[0] ** 2 / unknown),
            spread=median_spread(float(spread[0]), freedom),
            freedom=freedom,
        ),
        depth=replace(stated.depth, spread=median_spread(float(spread[1]), freedom), freedom=freedom),
        mishits=(share * LEARNT_MISHIT_SHOTS, (1 - share) * LEARNT_MISHIT_SHOTS),
    )
