"""The sides of a trial and the parts of a bag by name: a club by its label, or a setup as club@day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import Flags
from server.analysis.strokes_gained.summaries import NO_SETUP


class SideError(ValueError):
    """A side that is not known, or two sides that are the same. `field`: where it was named, such as "a" or "b"."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Side:
    """One side of a trial: a club, or with `setup` (as the summary by setup names it) one setup of it."""

    name: str
    club: str
    setup: str | None = None

    def of(self, valued: pd.DataFrame) -> Flags:
        """Which shots of a valued frame are this side's, shape (rows,)."""
        mine = valued["club"].astype("object").eq(self.club)
        if self.setup is not None:
            mine &= valued["setup"].astype("object").fillna(NO_SETUP).eq(self.setup)
        return np.asarray(mine, dtype=np.bool_)


def known_sides(clubs: dict[str, str], setups: pd.DataFrame) -> dict[str, list[str]]:
    """The clubs, sorted, each with the names of its setups, earliest first.

    `clubs`: label -> id; `setups`: club_id, since (datetime), note.
    """
    names = setups["since"].dt.strftime("%Y-%m-%d") + " " + setups["note"]
    return {label: names[setups["club_id"].eq(club_id)].tolist() for label, club_id in sorted(clubs.items())}


def find_sides(a: str, b: str, known: dict[str, list[str]]) -> tuple[Side, Side]:
    """The two sides that were named. Raises SideError.

    A side is a club's label; a setup is `club@day` with the day on which it began (or `club@as it was` for the time
    before the first), or its name in the summary by setup.
    """
    sides = (find_side("a", a, known), find_side("b", b, known))
    if sides[0].club == sides[1].club and (None in (sides[0].setup, sides[1].setup) or sides[0] == sides[1]):
        both = f"{a!r} and {b!r} hold the same shots"
        raise SideError("b", f"{both}: a trial needs two clubs, or two setups of one club such as driver@2026-06-22")
    return sides


def find_side(field: str, words: str, known: dict[str, list[str]]) -> Side:
    """The club or setup that was named in a field, as in `find_sides`. Raises SideError."""
    words = words.strip()
    if words in known:
        return Side(words, words)
    for club, setups in known.items():
        for setup in [*setups, NO_SETUP]:
            if words in (f"{club}@{setup}", f"{club}, {setup}", f"{club}@{setup[:10]}"):
                since = f"{club} {NO_SETUP}" if setup == NO_SETUP else f"{club} since {setup[:10]}"
                return Side(since, club, setup)
    club, _, day = words.rpartition("@")
    if club in known:
        began = ", ".join(setup[:10] for setup in known[club]) or "no setup"
        raise SideError(field, f"{club} has no setup that began on {day!r}; it has {began}")
    clubs = ", ".join(known) or "no club yet"
    raise SideError(field, f"{words!r} is not one of the player's clubs: {clubs}")
