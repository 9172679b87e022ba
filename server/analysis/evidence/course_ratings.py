"""How hard a set of tees is for its lengths, by its rating: where the courses of a player lie beside each other.

Strokes gained already allow for length, so what a rating adds is

    hardness = rating - expected strokes of its 18 holes from the tee,

and only its differences between the player's tees count, for a table of expected strokes represents players who score
otherwise than those the rating is made for. One stroke of rating is taken as one stroke of the player's, as it is by
definition for a scratch player; a slope is not used. What ratings miss stays in the course's effect.

Nine holes have no rating of their own here. A rating is set aside that lies more than `ABSURD` strokes from the middle
of the player's others, and where fewer than two sets of tees have one, none is used.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

import numpy as np

from server.analysis.expected_strokes.baseline import Baseline
from server.game.lies import TEE

FULL_ROUND: Final = 18
ABSURD: Final = 6.0
"""Strokes by which a rating may lie from the middle of the player's others. A stated choice."""

Tees = tuple[str, str]
"""A course's name and the name of a set of its tees."""


class Ratings(NamedTuple):
    """`hardness`: strokes a round beside the mean of the rated tees, by course and tees; `absurd`: tees whose rating
    was set aside, in words."""

    hardness: dict[Tees, float]
    absurd: list[str]


NONE: Final = Ratings({}, [])


def ratings_of(courses: Mapping[str, Sequence[Mapping[str, Any]]], baseline: Baseline) -> Ratings:
    """The ratings that can be used. `courses`: for each name its tees, with `name`, `holes` (`length_yd`) and, where
    known, `rating`."""
    found: dict[Tees, float] = {}
    for course, tees in courses.items():
        for one in tees:
            holes, rating = one["holes"], one.get("rating")
            if rating is None or len(holes) != FULL_ROUND:
                continue
            expected = float(baseline.expected(TEE, np.array([hole["length_yd"] for hole in holes])).sum())
            if np.isfinite(expected):
                found[course, one["name"]] = float(rating) - expected
    if len(found) < 2:
        return NONE
    middle = float(np.median(list(found.values())))
    kept = {tees: hardness for tees, hardness in found.items() if abs(hardness - middle) <= ABSURD}
    absurd = [f"{course}, {name}" for course, name in found if (course, name) not in kept]
    if len(kept) < 2:
        return Ratings({}, absurd)
    mean = float(np.mean(list(kept.values())))
    return Ratings({tees: hardness - mean for tees, hardness in kept.items()}, absurd)
