"""Bags compared on one hole: its table of choices solved for some of the clubs.

    V(place) = min over the swings of the clubs carried of strokes + sum of shares * V(next place)

by value iteration until nothing changes. Fewer clubs are fewer choices, so that a bag with one more club never costs
more.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.course_bag.swings import EVER
from server.analysis.course_bag.table import Ints, Table
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.sweeps import NOWHERE

SETTLED: Final = 1e-9
MOST_SWEEPS: Final = 200
MOST_SHOTS: Final = 40
NEVER: Final = 1e-9


@dataclass(frozen=True, eq=False)
class Solution:
    """A bag's best play. `value`: of every place; `row`: the row chosen there; `visits`: how often each place is
    played from, a round."""

    value: Floats
    row: Ints
    visits: Floats
    clubs: Ints
    """The club of each row chosen."""

    @property
    def strokes(self) -> float:
        """From the tee."""
        return float(self.value[0])

    def used(self) -> frozenset[int]:
        """The clubs that are played."""
        return frozenset(int(club) for club in np.unique(self.clubs[self.visits > NEVER])) - {EVER}

    def shots(self, clubs: int) -> Floats:
        """Shots with each of so many clubs."""
        mine = (self.clubs >= 0) & (self.clubs < clubs)
        return np.bincount(self.clubs[mine], self.visits[mine], clubs).astype(np.float64)


class HoleBags:
    """One hole's table, solved for one bag after another; each is kept by the clubs that matter."""

    def __init__(self, table: Table, clubs: int) -> None:
        """`clubs`: how many numbers there are."""
        self.table, self.clubs = table, clubs
        self.solved: dict[tuple[frozenset[int], bool], Solution] = {}
        self.start: Floats | None = None

    def solve(self, bag: Collection[int], *, other: bool = False) -> Solution:
        """The best play with the clubs of a bag. `other`: by the other curves."""
        key = frozenset(bag), other
        if key not in self.solved:
            self.solved[key] = self._solve(key[0], other=other)
        return self.solved[key]

    def without(self, bag: frozenset[int], club: int) -> Solution:
        """The best play when one club is left out: the same when it is not used."""
        full = self.solve(bag)
        if club not in full.used():
            self.solved.setdefault((bag - {club}, False), full)
        return self.solve(bag - {club})

    def with_instead(self, bag: frozenset[int], club: int | None, new: int) -> Solution:
        """The best play with a new club, in place of another one when it is given."""
        changed = (bag if club is None else bag - {club}) | {new}
        full = self.solve(bag)
        if club is None or club not in full.used():
            worth = self._worth(full.value, other=False)
            mine = self.table.club == new
            if not (worth[mine] < full.value[self.table.place[mine]] - SETTLED).any():
                self.solved.setdefault((changed, False), full)
        return self.solve(changed)

    def _worth(self, value: Floats, *, other: bool) -> Floats:
        table = self.table
        return np.asarray((table.other if other else table.strokes) + table.after @ value)

    def _solve(self, bag: frozenset[int], *, other: bool) -> Solution:
        table = self.table
        allowed = np.zeros(self.clubs + 1, dtype=np.bool_)
        allowed[[*bag, EVER]] = True
        rows = np.flatnonzero(allowed[table.club])
        place = table.place[rows]
        first = np.flatnonzero(np.r_[True, place[1:] != place[:-1]])
        here = place[first]
        after, strokes = table.after[rows], (table.other if other else table.strokes)[rows]
        value = np.full(table.places, NOWHERE) if self.start is None else self.start.copy()
        missing = np.ones(table.places, dtype=np.bool_)
        missing[here] = False
        value[missing] = NOWHERE
        worth = strokes
        for _ in range(MOST_SWEEPS):
            worth = strokes + after @ value
            found = np.minimum.reduceat(worth, first)
            changed = float(np.abs(found - value[here]).max())
            value[here] = found
            if changed < SETTLED:
                break
        if self.start is None:
            self.start = value
        row = np.full(table.places, -1, dtype=np.int32)
        ends = np.r_[first[1:], rows.size]
        best = np.flatnonzero(worth <= np.repeat(np.minimum.reduceat(worth, first), ends - first))
        row[place[best[::-1]]] = rows[best[::-1]]
        clubs = np.where(row >= 0, table.club[row], EVER)
        return Solution(value, row, self._visits(row), clubs)

    def _visits(self, row: Ints) -> Floats:
        """How often each place is played from."""
        table = self.table
        known = np.flatnonzero(row >= 0)
        onward = table.after[row[known]].T.tocsr()
        now = np.zeros(table.places)
        now[0] = 1.0
        found = now.copy()
        for _ in range(MOST_SHOTS):
            now = onward @ now[known]
            found += now
            if now.sum() < NEVER:
                break
        return found


def chosen_rows(solutions: Collection[Solution], least: float) -> npt.NDArray[np.int64]:
    """The rows that any of these plays with from a place visited at least so often."""
    found = [one.row[(one.visits > least) & (one.row >= 0)] for one in solutions]
    return np.unique(np.concatenate(found)).astype(np.int64)
