"""The sides of a trial and the parts of a bag by name: a club by its label, a setup as club@day, or, of a trial alone,
all shots of the rounds with one ball as ball:NAME."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import Flags
from server.analysis.strokes_gained.summaries import NO_SETUP

BALL: Final = "ball:"
"""The prefix of a ball's label where a side is named."""


class SideError(ValueError):
    """A side that is not known, or two sides that are the same. `field`: where it was named, such as "a" or "b"."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Side:
    """One side of a trial: a club, or with `setup` (as the summary by setup names it) one setup of it; or with `ball`
    all clubs in the rounds with the ball of that label, `club` then being empty.

    A ball is tried within lie, distance, category and course (`trials`), not within the club: a ball that flies farther
    is hit with another club from the same place, which is part of what it does, and with a full bag that changed no
    club would meet itself.
    """

    name: str
    club: str
    setup: str | None = None
    ball: str | None = None

    @property
    def by_rounds(self) -> bool:
        """Whether the side is all shots of its rounds."""
        return self.ball is not None

    def of(self, valued: pd.DataFrame) -> Flags:
        """Which shots of a valued frame are this side's, shape (rows,)."""
        if self.ball is not None:
            return np.asarray(valued["ball_label"].astype("object").eq(self.ball), dtype=np.bool_)
        mine = valued["club"].astype("object").eq(self.club)
        if self.setup is not None:
            mine &= valued["setup"].astype("object").fillna(NO_SETUP).eq(self.setup)
        return np.asarray(mine, dtype=np.bool_)


def known_sides(clubs: dict[str, str], setups: pd.DataFrame) -> dict[str, list[str]]:
    """The clubs, sorted, each with the names of its setups, earliest first.

    `clubs`: label -> id; `setups`: club_id, since (datetime), note.
    """
    names = setups["since"].dt.strftime("%Y-%m-%d") + " " + setups["note"]
    of_club: dict[str, list[str]] = {}
    for club_id, name in zip(setups["club_id"].tolist(), names.tolist(), strict=True):
        of_club.setdefault(club_id, []).append(name)
    return {label: of_club.get(club_id, []) for label, club_id in sorted(clubs.items())}


def find_sides(a: str, b: str, known: dict[str, list[str]], balls: Sequence[str] = ()) -> tuple[Side, Side]:
    """The two sides that were named. Raises SideError.

    A side is a club's label; a setup is `club@day` with the day on which it began (or `club@as it was` for the time
    before the first), or its name in the summary by setup; a ball is `ball:NAME`, one of `balls`, the labels that the
    player's rounds have. A ball is tried against another ball alone.
    """
    one, other = (_find_any(field, words, known, balls) for field, words in (("a", a), ("b", b)))
    if (one.ball is None) != (other.ball is None):
        raise SideError("b", f"{a!r} and {b!r}: a ball is tried against another ball, not against a club or a setup")
    same_club = one.ball is None and one.club == other.club and None in (one.setup, other.setup)
    if same_club or one == other:
        both = f"{a!r} and {b!r} have the same shots"
        raise SideError(
            "b",
            f"{both}: a trial needs two clubs, two setups of one club such as driver@2026-06-22, or two balls such as "
            f"{BALL}NAME",
        )
    return one, other


def _find_any(field: str, words: str, known: dict[str, list[str]], balls: Sequence[str]) -> Side:
    """The club, setup or ball that was named in a field. A club that is called so goes before a ball."""
    words = words.strip()
    if words in known or not words.startswith(BALL):
        return find_side(field, words, known)
    label = words.removeprefix(BALL).strip()
    if label not in balls:
        there = ", ".join(balls) or "no round with a ball yet"
        raise SideError(field, f"{label!r} is not one of the balls that the rounds name: {there}")
    return Side(f"ball {label}", "", ball=label)


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
