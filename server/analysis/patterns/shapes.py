"""Shapes: is the planned shape the one that comes, does a club miss to both sides, what does each planned shape gain.

Draw, straight and fade are as the player plays them: a draw curves towards the player's own side. Misses are yards
right (+) or left (-) of the target, whatever the hand.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.analysis.patterns.club_patterns import reach_of_clubs
from server.analysis.patterns.finishes import FULL
from server.analysis.patterns.rows import Misses, PlannedShape
from server.analysis.patterns.spread import FEWEST_SHOTS, Figure, mean_figure, share_figure
from server.analysis.patterns.two_groups import two_groups

SHAPES: Final = ("draw", "straight", "fade")
OPPOSITE: Final = {"draw": "fade", "fade": "draw"}

MISS_PCT: Final = 10.0
"""A shot misses to a side when it finishes farther aside than this share of its target: 28 yd at 280, about the width
of a fairway; 15 yd at 150, off nearly every green. At half of it any club that spreads more than 2 degrees would miss
both ways, which shows nothing. A choice of this tool."""

BOTH_SIDES: Final = 0.10
"""A club misses both ways when each side has at least this share of its shots. A choice of this tool."""

TWO_GROUPS: Final = "misses both ways, in two groups"
"""Finishes lie around two middles, see `two_groups`, and few of them between."""
TWO_WAY: Final = "misses both ways"
ONE_WAY: Final = {"left": "misses left", "right": "misses right"}
FEW_MISSES: Final = "misses little"
CANNOT_TELL: Final = "not clear yet"


def shapes(finishes: pd.DataFrame) -> list[PlannedShape]:
    """One entry a club and planned shape, full swings only; the longest club first, shapes in the order of `SHAPES`.

    `finishes`: as `finishes.finishes` returns it. Each entry: counts of the actual shapes, the share
    that came as planned and the share that curved the other way, misses left and right with a word on them, strokes
    gained per shot; all with intervals.
    """
    full = finishes[finishes["swing"].eq(FULL) & finishes["planned_shape"].notna()]
    found = []
    reach = reach_of_clubs(finishes)
    by_club = {str(club): part for club, part in full.groupby("club", observed=True)}
    for club in sorted(by_club, key=lambda club: (-reach.get(club, 0.0), club)):
        part = by_club[club]
        for planned in SHAPES:
            group = part[part["planned_shape"].eq(planned)]
            if len(group):
                found.append(_entry(club, group, planned))
    return found


def _entry(club: str, group: pd.DataFrame, planned: str) -> PlannedShape:
    rounds, actual = group["round_id"], group["actual_shape"]
    known = actual.notna()
    came = actual.eq(planned).astype(float).where(known)
    other = actual.eq(OPPOSITE.get(planned, "")).astype(float).where(known)
    return {
        "club": club,
        "planned": planned,
        "shots": len(group),
        "rounds": int(rounds.nunique()),
        "actual": {shape: int(actual.eq(shape).sum()) for shape in SHAPES} | {"not recorded": int((~known).sum())},
        "came": share_figure(came, rounds).as_dict(),
        "other_way": share_figure(other, rounds).as_dict() if planned in OPPOSITE else None,
        "misses": misses(group),
        "strokes_gained": mean_figure(group["strokes_gained"], rounds).as_dict(),
    }


def misses(group: pd.DataFrame) -> Misses:
    """Shares that miss left and right by more than `MISS_PCT` of the target, a word (both ways, in two groups or not,
    one way, little), and whether it is sure: two groups, or the intervals of both shares lie on their side of the
    limit.

    >>> shots = pd.DataFrame({"right_yd": [-21.0, 21, 0, 0, 1, 2], "target_yd": 200.0, "round_id": list("aabbcc")})
    >>> misses(shots)["word"]
    'misses both ways'
    """
    aside = group["right_yd"] / group["target_yd"] * 100
    known = aside.notna()
    shares = {
        side: share_figure((sign * aside > MISS_PCT).astype(float).where(known), group["round_id"])
        for side, sign in (("left", -1), ("right", 1))
    }
    values = {side: figure.value or 0.0 for side, figure in shares.items()}
    word = _word({side for side, value in values.items() if value >= BOTH_SIDES})
    in_two = word == TWO_WAY and two_groups(aside[known].to_numpy(dtype=np.float64)) is not None
    return {
        "beyond_yd": float(np.nanmedian(group["target_yd"])) * MISS_PCT / 100 if known.any() else None,
        "word": CANNOT_TELL if int(known.sum()) < FEWEST_SHOTS else TWO_GROUPS if in_two else word,
        "sure": in_two or all(map(_settled, shares.values())),
        "left": shares["left"].as_dict(),
        "right": shares["right"].as_dict(),
    }


def _word(many: set[str]) -> str:
    """What is stated of the sides to which a club misses often."""
    if len(many) == len(ONE_WAY):
        return TWO_WAY
    return ONE_WAY[next(iter(many))] if many else FEW_MISSES


def _settled(share: Figure) -> bool:
    """Whether all of the interval lies on one side of the limit: more shots are not likely to change the word."""
    if share.low is None or share.high is None:
        return False
    return share.low >= BOTH_SIDES or share.high < BOTH_SIDES
