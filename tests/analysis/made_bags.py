"""Bags made for tests of the solver: patterns known beforehand, from every lie."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from scipy import special

from server.analysis.plan.flight import Flight, flight_of
from server.analysis.plan.hole_grid import LIES
from server.analysis.plan.landings import of_pattern, stated
from server.analysis.plan.priors import Skill
from server.analysis.plan.tee_plan import Option
from server.game.lies import RECOVERY, ROUGH, SAND

HARDER = {ROUGH: (0.95, 1.5), SAND: (0.94, 1.5), RECOVERY: (0.90, 1.6)}


def known_club(reach: float, flight: Flight, skill: Skill | None = None, name: str = "", **spread: float) -> Option:
    """A club of a stated skill, or with a normal spread of `side` and `depth` yards, at its quantiles."""
    if skill is not None:
        right, along = stated(skill, reach)
    else:
        even = special.ndtri((np.arange(2000) + 0.5) / 2000)
        order = np.random.default_rng(0).permutation(2000)
        right, along = spread.get("side", 0.0) * even[order], reach + spread.get("depth", 0.0) * even
    name = name or f"{reach:.0f}"
    return Option(name, of_pattern(right, along), reach, about(name), flight)


def about(name: str) -> Any:
    return {"club": name, "swing": "full", "planned_shape": None, "shots": 100, "prior_weight": 0.0, "notes": []}


def from_every_lie(clubs: list[Option], *, harder: bool = True) -> dict[str, list[Option]]:
    """The same clubs from every lie: shorter and wider from the bad ones unless they are all the same."""
    found = {lie: list(clubs) for lie in LIES}
    for lie, (shorter, wider) in HARDER.items():
        if harder:
            found[lie] = [widened(club, shorter, wider) for club in clubs]
    return found


def widened(club: Option, shorter: float, wider: float) -> Option:
    landings = club.landings
    along = (landings.along.mean() + (landings.along - landings.along.mean()) * wider) * shorter
    return replace(
        club, landings=replace(landings, right=landings.right * wider, along=along), reach_yd=club.reach_yd * shorter
    )


def full_bag(skill: Skill | None = None) -> list[Option]:
    """Fourteen clubs from 80 to 276 yd of one skill."""
    made = []
    for reach in np.linspace(80, 276, 14):
        sort = "driver" if reach > 260 else "wood" if reach > 225 else "iron" if reach > 130 else "wedge"
        made.append(known_club(float(reach), flight_of(sort), skill or Skill()))
    return made
