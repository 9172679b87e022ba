"""The score of a predicted round: holes, form and what is not known, as one distribution.

Each hole has a distribution of its own (`hole_ahead`). Form, what play costs beyond the plan, and what is not known of
the patterns are one number of strokes in 18 holes, the same for all holes of the round: it tilts them together
(`counts.tilted_together`), so that good days are good on every hole. Given that number holes are independent, and the
round is their sum; it is averaged over `NODES` values of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from server.analysis.expected_strokes.curves import Floats
from server.analysis.round_ahead.counts import mean_and_variance, mixed, summed, tilted, tilted_together
from server.analysis.round_ahead.form import FULL_ROUND, Form
from server.analysis.round_ahead.hole_ahead import HoleAhead

NODES: Final = 41
NEAR_WORTH: Final = 4.0
"""What is not known of putting and short game: their variance in a round, divided by the player's rounds and so many
more. A choice of this tool: with no round it is about 1.1 strokes, one standard deviation."""
NEAR_VARIANCE: Final = 0.25
"""Variance of the strokes near one hole. A choice of this tool, about that of the stated shape and of two putts."""


@dataclass(frozen=True, eq=False)
class ScoreAhead:
    """A predicted round. `round`: chance of 0, 1, ... strokes; `holes`: of 1, 2, ... on each hole (h, K)."""

    round: Floats
    holes: Floats

    @property
    def mean(self) -> float:
        """Expected strokes of the round."""
        return mean_and_variance(self.round)[0]


def unknown_of(holes: Sequence[HoleAhead], rounds: int) -> float:
    """Variance, for 18 holes, of what is not known of the patterns and of the strokes near the hole. `rounds`: whose
    shots the player's curves are based on."""
    drawn = np.sum([hole.by_draw for hole in holes], axis=0)
    noise = float(np.sum([hole.noise for hole in holes], axis=0).mean())
    patterns = max(float(drawn.var(ddof=1)) - noise, 0.0) * (FULL_ROUND / len(holes)) ** 2
    return patterns + FULL_ROUND * NEAR_VARIANCE / (rounds + NEAR_WORTH)


def score_ahead(holes: Floats, form: Form, unknown: float) -> ScoreAhead:
    """The round over these holes (h, K). `unknown`: of `unknown_of`."""
    part = len(holes) / FULL_ROUND
    beyond, weights = form.spread_out(unknown, NODES)
    each, _ = tilted_together(holes, part * beyond)
    return ScoreAhead(mixed([summed(one) for one in each], weights), np.tensordot(weights, each, axes=1))


def moved(holes: Floats, by: Floats) -> Floats:
    """Holes (h, K) tilted so that each takes `by` (h,) strokes more on average: the same holes from other tees."""
    means = holes @ np.arange(1, holes.shape[1] + 1)
    return np.array(
        [tilted(hole, np.array([mean + more]))[0] for hole, mean, more in zip(holes, means, by, strict=True)]
    )
