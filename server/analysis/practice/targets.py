"""Random targets for a practice session, out of the player's own gaps and of the distances that cost strokes.

Every device with the same log draws the same: a seed, sorted candidates and integer arithmetic (a linear
congruence with the constants of W. H. Press et al., Numerical Recipes, 3rd edition, 2007, section 7.1) choose, no
library's generator. Targets change from ball to ball and never come twice in a row: varied practice (common practice,
no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, TypedDict

from server.analysis.patterns.rows import Ladder

MULTIPLIER: Final = 1664525
INCREMENT: Final = 1013904223
MODULUS: Final = 2**32
WARMING: Final = 3
"""Steps before the first draw, so that neighbouring seeds part."""

GAP_WEIGHT: Final = 3
LOSS_WEIGHT: Final = 2
ORDINARY: Final = 1
"""How often a distance in a gap, one that loses strokes, or any other of the bag comes. A choice of this tool."""
ROUNDED_YD: Final = 5
NEAREST_YD: Final = 20
MOST_CANDIDATES: Final = 200

Where = tuple[float, float]


class Target(TypedDict):
    """One target: how far, whichever club is taken."""

    order: int
    target_yd: int
    why: Annotated[str, "gap, loses strokes, or bag"]


@dataclass(frozen=True)
class Candidate:
    """A distance that may be drawn, how heavily, and why."""

    target_yd: int
    weight: int
    why: str


def candidates(ladder: Ladder, losing: Sequence[Where]) -> list[Candidate]:
    """Every distance to draw from, shortest first: multiples of 5 yd from half of the shortest club's up to the
    longest's. `ladder`: of full swings; `losing`: bands of distance in yards, from and to, that lose strokes."""
    middles = [row["median"]["value"] for row in ladder["clubs"] if row["median"]["value"] is not None]
    known = [yards for yards in middles if yards is not None]
    farthest = max([*known, *(far for _, far in losing)], default=0.0)
    nearest = min([*(yards / 2 for yards in known), *(near for near, _ in losing)], default=0.0)
    by_club = {row["club"]: row["median"]["value"] for row in ladder["clubs"]}
    gaps = [
        (float(by_club[step["shorter"]] or 0.0), float(by_club[step["longer"]] or 0.0))
        for step in ladder["steps"]
        if step["flag"] == "gap"
    ]
    first = max(NEAREST_YD, ROUNDED_YD * -(-int(nearest) // ROUNDED_YD))
    found = []
    for yards in range(first, int(farthest) + 1, ROUNDED_YD):
        if any(near < yards < far for near, far in gaps):
            found.append(Candidate(yards, GAP_WEIGHT, "gap"))
        elif any(near <= yards <= far for near, far in losing):
            found.append(Candidate(yards, LOSS_WEIGHT, "loses strokes"))
        else:
            found.append(Candidate(yards, ORDINARY, "bag"))
    return found[:MOST_CANDIDATES]


def targets(among: Sequence[Candidate], seed: int, count: int) -> list[Target]:
    """`count` targets; none twice in a row where there are two. Empty where there is none to draw from."""
    state = seed % MODULUS
    for _ in range(WARMING):
        state = (MULTIPLIER * state + INCREMENT) % MODULUS
    drawn: list[Target] = []
    before: Candidate | None = None
    for order in range(1, count + 1):
        open_ = [one for one in among if len(among) < 2 or one != before]
        if not open_:
            break
        state = (MULTIPLIER * state + INCREMENT) % MODULUS
        # the high bits: the low ones of such a generator repeat soon
        place = state * sum(one.weight for one in open_) // MODULUS
        for one in open_:
            place -= one.weight
            if place < 0:
                before = one
                break
        assert before is not None
        drawn.append({"order": order, "target_yd": before.target_yd, "why": before.why})
    return drawn
