"""Which clubs to carry: the bag of the permitted size that costs the fewest strokes over all holes (Rules of Golf 2023,
rule 4.1b: fourteen clubs).

With one or two clubs too many every choice is tried. With more, the club that is worth least is left out, again and
again: another choice may then be better by a little.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from server.analysis.course_bag.bags import HoleBags, Solution

MOST_CARRIED: Final = 14
PUTTERS: Final = 1
ROOM: Final = MOST_CARRIED - PUTTERS
"""Clubs beside the putter."""
MOST_OUT: Final = 2
"""So many too many are tried in every combination,"""
MOST_TRIED: Final = 15
"""with so many clubs beside the putter at most."""

Bag = frozenset[int]


@dataclass(frozen=True)
class Chosen:
    """The clubs to carry, and whether every choice was tried."""

    bag: Bag
    every: bool


def strokes(holes: Sequence[HoleBags], bag: Bag) -> float:
    """What a bag costs over all holes."""
    return sum(hole.solve(bag).strokes for hole in holes)


def without(holes: Sequence[HoleBags], bag: Bag, club: int) -> list[Solution]:
    """The best play of every hole when a club is left out."""
    return [hole.without(bag, club) for hole in holes]


def choose(
    holes: Sequence[HoleBags], clubs: int, room: int = ROOM, report: Callable[[float], None] | None = None
) -> Chosen:
    """The bag for these holes out of clubs 0 to `clubs` - 1, the first of equals staying. `report`: given the share."""
    bag = frozenset(range(clubs))
    out = clubs - room
    if out <= 0:
        return Chosen(bag, every=True)
    if out <= MOST_OUT and clubs <= MOST_TRIED:
        return Chosen(
            min((bag - set(some) for some in _sets(holes, bag, out, report)), key=lambda one: _cost(holes, one)),
            every=True,
        )
    for step in range(out):
        cost = {club: _strokes(without(holes, bag, club)) for club in sorted(bag)}
        least = min(cost.values())
        bag -= {max(club for club, value in cost.items() if value <= least + SAME)}
        if report is not None:
            report((step + 1) / out)
    return Chosen(bag, every=False)


SAME: Final = 1e-9
"""Strokes: what costs no more than this more is the same."""


def _cost(holes: Sequence[HoleBags], bag: Bag) -> tuple[float, list[int]]:
    return round(strokes(holes, bag), 9), sorted(bag)


def _sets(
    holes: Sequence[HoleBags], bag: Bag, out: int, report: Callable[[float], None] | None
) -> list[tuple[int, ...]]:
    """Every set that may be left out, each solved on every hole from the bags that have one club more."""
    for place, club in enumerate(sorted(bag)):
        without(holes, bag, club)
        if out > 1:
            for other in sorted(bag):
                if other > club:
                    without(holes, bag - {club}, other)
        if report is not None:
            report((place + 1) / len(bag))
    return list(combinations(sorted(bag), out))


def _strokes(solutions: Sequence[Solution]) -> float:
    return sum(one.strokes for one in solutions)
