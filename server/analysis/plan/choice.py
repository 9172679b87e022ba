"""The choice between options: how likely each is the best, and whether the best is called better.

The best of many options on the same shots flatters itself (Smith and Winkler, Management Science 52 (2006) 311-322). So
the choice is made again within each draw of the patterns: there each option has its own best aim, and each draw one
best option. The value reported of an option is that of its pattern on average over the draws, at one aim.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.rows import BestOption, Choice, ShapeRow

LEVEL: Final = 0.90
SURE: Final = 0.975
"""An option is called better when it is so in this share of draws: each way, so that of two equal clubs 5 % are called
different. At 0.95 each way simulated plans called 7.5 % of them different (DEVELOPERS.md, how often plans err)."""
WORTH_REPORTING: Final = 0.05
"""Options closer than this many strokes are called the same. A choice of this tool: less than what the map, the
baseline and the weather leave open."""
NO_DIFFERENCE: Final = "no real difference"
CALLED: Final = {"draw": "a draw", "straight": "a straight ball", "fade": "a fade"}
NO_SHAPE: Final = "no shape is clearly better"
FARTHEST: Final = 10.0
"""Strokes that represent a difference without bound, where nearly every ball of one option is out of bounds."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """An option at its best aim, and the strokes that it expects under drawn patterns, aimed anew in each (d,).
    `line`: what the line of reference points at; `misses`: how far left and right of the aim one ball in ten finishes,
    yards."""

    name: str
    aim_yd: float
    expected: float
    drawn: Floats
    club: str = ""
    shape: str | None = None
    line: str = ""
    misses: tuple[float, float] = (0.0, 0.0)


def paired(drawn: Sequence[Floats]) -> Floats:
    """Draws of all options side by side (d, options). Patterns of two options are drawn apart, so each option's draws
    are put in an order of their own, the same each time; a known pattern is repeated."""
    if not drawn:
        return np.zeros((0, 0))
    draws = max(one.size for one in drawn)
    rng = np.random.default_rng(4)
    return np.column_stack([rng.permutation(one) if one.size > 1 else np.full(draws, one[0]) for one in drawn])


def chances_best(drawn: Floats) -> Floats:
    """Share of draws in which each option expects the fewest strokes (options,); equals share a draw.

    >>> chances_best(np.array([[4.0, 4.1], [4.2, 4.1], [4.0, 4.0], [4.0, 4.3]])).tolist()
    [0.625, 0.375]
    """
    least = drawn == drawn.min(axis=1, keepdims=True)
    return np.asarray((least / least.sum(axis=1, keepdims=True)).mean(axis=0))


@dataclass(frozen=True)
class Difference:
    """What one option costs against another: `costs` at the aims reported, the interval and the chance that it costs
    anything over the draws."""

    costs: float
    low: float
    high: float
    chance: float

    @property
    def clear(self) -> bool:
        """Whether the second option is called worse."""
        return self.costs > WORTH_REPORTING and self.chance >= SURE


def difference(first: Candidate, second: Candidate, drawn: Floats) -> Difference:
    """What `second` costs against `first`. `drawn`: strokes of both under paired draws (d, 2)."""
    with np.errstate(invalid="ignore"):
        apart = drawn[:, 1] - drawn[:, 0]
    apart = np.nan_to_num(apart, nan=0.0, posinf=FARTHEST, neginf=-FARTHEST)
    low, high = np.quantile(apart, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    chance = float(np.mean(apart > 0) + np.mean(apart == 0) / 2)
    return Difference(second.expected - first.expected, float(low), float(high), chance)


def choice(candidates: Sequence[Candidate], drawn: Floats) -> Choice:
    """Best and second-best option, what the second costs, and a word on the difference. `candidates`: best first;
    `drawn`: their paired draws (d, options)."""
    if not candidates:
        return {"best": None, "second": None, "verdict": "no club can be planned on this hole"}
    first = candidates[0]
    best: BestOption = {"name": first.name, "aim_yd": first.aim_yd}
    if len(candidates) == 1:
        return {"best": best, "second": None, "verdict": "one club alone: nothing to choose between"}
    second = candidates[1]
    found = difference(first, second, drawn[:, :2])
    return {
        "best": best,
        "second": {
            "name": second.name,
            "aim_yd": second.aim_yd,
            "costs": found.costs,
            "low": found.low,
            "high": found.high,
            "chance_best_is_better": found.chance,
        },
        "verdict": f"{first.name} is better" if found.clear else NO_DIFFERENCE,
    }


def shape_rows(candidates: Sequence[Candidate], drawn: Floats) -> list[ShapeRow]:
    """For each club with two planned shapes or more, the best one against the next best. `candidates`: best first;
    `drawn`: their paired draws (d, options)."""
    places: dict[str, list[int]] = {}
    for place, one in enumerate(candidates):
        if one.shape is not None:
            places.setdefault(one.club, []).append(place)
    rows: list[ShapeRow] = []
    for club, of_club in places.items():
        if len(of_club) < 2:
            continue
        first, second = (candidates[place] for place in of_club[:2])
        found = difference(first, second, drawn[:, of_club[:2]])
        rows.append(
            {
                "club": club,
                "shape": str(first.shape),
                "against": str(second.shape),
                "aim_yd": first.aim_yd,
                "line": first.line,
                "miss_left_yd": first.misses[0],
                "miss_right_yd": first.misses[1],
                "costs": found.costs,
                "low": found.low,
                "high": found.high,
                "chance": found.chance,
                "verdict": f"suits {CALLED[str(first.shape)]}" if found.clear else NO_SHAPE,
            }
        )
    return rows
