"""What a player's rounds add up to, hole by hole and category by category: all that squads, pairs and holes are judged
by, a few kilobytes a season in place of its shots.

Of the ball of record alone. What a round and a played hole are: `round_lengths`, whose counts these are.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from server.analysis.evidence.intervals import Codes, Flags, Floats, distinct
from server.analysis.evidence.level import Rates, RoundPlaces, rates_of
from server.analysis.evidence.round_lengths import FULL_ROUND, LEAST_HOLES

TOTAL: Final = "total"


@dataclass(frozen=True, eq=False)
class Tally:
    """The rounds of a player with a shot of the ball of record, and the holes played in them (with a value).

    `ids`: of the rounds, by day and id; `day`: days since 1970, `kind`, `course` (None without one), each shape
    (rounds,). `round_`: the round of each played hole, `hole`: its number, `par`, each shape (holes,); `shots`,
    `strokes`: shots with a value and strokes gained by category, shape (holes, categories). `categories`: their names.
    """

    categories: tuple[str, ...]
    ids: npt.NDArray[np.object_]
    day: npt.NDArray[np.int64]
    kind: npt.NDArray[np.object_]
    course: npt.NDArray[np.object_]
    round_: npt.NDArray[np.integer]
    hole: npt.NDArray[np.integer]
    par: npt.NDArray[np.integer]
    shots: npt.NDArray[np.integer]
    strokes: Floats

    @cached_property
    def holes(self) -> Codes:
        """Holes played in each round, shape (rounds,)."""
        return np.bincount(self.round_, minlength=self.day.size)

    @property
    def lengths(self) -> Floats:
        """Each round as a part of 18 holes, shape (rounds,)."""
        return np.asarray(self.holes / FULL_ROUND)

    def chosen(self, first: date | None = None, last: date | None = None, kinds: Collection[str] = ()) -> Flags:
        """Which rounds count (`LEAST_HOLES`) and lie between two days, both included, and are of these kinds; shape
        (rounds,)."""
        found = np.asarray(self.holes >= LEAST_HOLES)
        if first is not None:
            found &= self.day >= np.datetime64(first, "D").astype(np.int64)
        if last is not None:
            found &= self.day <= np.datetime64(last, "D").astype(np.int64)
        if kinds:
            found &= np.isin(self.kind.astype(str), sorted(kinds))
        return found

    def by_round(self, part: str = TOTAL) -> Floats:
        """Strokes gained in each round, by all strokes or those of a category; shape (rounds,). ValueError for a
        category that is not one of the tally's."""
        if part != TOTAL and part not in self.categories:
            raise ValueError(f"category: {part!r} is not one of {', '.join(self.categories)}")
        gained = self.strokes.sum(axis=1) if part == TOTAL else self.strokes[:, self.categories.index(part)]
        return np.bincount(self.round_, weights=gained, minlength=self.day.size).astype(np.float64)

    def has_shots(self, chosen: Flags, part: str = TOTAL) -> bool:
        """Whether a shot with a value, of that category, is in the chosen rounds."""
        shots = self.shots if part == TOTAL else self.shots[:, [self.categories.index(part)]]
        return bool(shots[chosen[self.round_]].any())

    def mean(self, chosen: Flags, part: str = TOTAL) -> float:
        """Strokes gained for 18 holes over the chosen rounds, as played. At least one must be chosen."""
        return float(self.by_round(part)[chosen].sum() * FULL_ROUND / self.holes[chosen].sum())

    def places(self, chosen: Flags) -> RoundPlaces:
        """Where and when each of the chosen rounds was played."""
        return self._places.taken(chosen)

    def rates(self, chosen: Flags, part: str = TOTAL) -> tuple[Rates, int]:
        """The rates of the chosen rounds that have a course, and how many have none, as `round_rates` makes them from
        shots. `chosen`: shape (rounds,)."""
        return rates_of(self.by_round(part), np.where(chosen, self.lengths, 0.0), self._places)

    def of_rounds(self, chosen: Flags, parts: Sequence[str]) -> Floats:
        """Strokes gained for 18 holes by each of some parts in the chosen rounds, shape (rounds, parts)."""
        lengths = self.lengths[chosen]
        return np.column_stack([self.by_round(part)[chosen] / lengths for part in parts])

    def courses(self) -> list[str]:
        """The courses of the rounds, in the order in which they come."""
        return list(dict.fromkeys(name for name in self.course if name is not None))

    @cached_property
    def has_course(self) -> Flags:
        """Which rounds have a course, shape (rounds,)."""
        return np.array([name is not None for name in self.course], dtype=np.bool_)

    @property
    def _places(self) -> RoundPlaces:
        return RoundPlaces(self.course, np.full(self.day.size, None, dtype=object), self.day)


def tallies(rounds: pd.DataFrame, valued: pd.DataFrame, players: int, categories: tuple[str, ...]) -> list[Tally]:
    """The tally of each player, by place, its integers short: a season's players are held together.

    `rounds`: id, player (its place, ascending), played_on, kind, course; `valued`: the shots of the ball of record as
    `attribute` returns them, `round_id` being the row of `rounds`, with `par`.
    """
    gained = valued["strokes_gained"].to_numpy(dtype=np.float64)
    known = ~np.isnan(gained)
    round_, hole = (valued[name].to_numpy(dtype=np.int64) for name in ("round_id", "hole"))
    width = int(hole.max(initial=0)) + 1
    played, group = distinct((round_ * width + hole)[known])
    many = len(categories)
    cell = group * many + valued["category"].cat.codes.to_numpy(dtype=np.int64)[known]
    shots = np.bincount(cell, minlength=played.size * many).reshape(-1, many)
    added = np.bincount(cell, weights=gained[known], minlength=played.size * many)
    strokes = added.astype(np.float64, copy=False).reshape(-1, many)
    par = np.zeros(played.size, dtype=np.int64)
    par[group] = valued["par"].to_numpy(dtype=np.int64)[known]
    played_round, played_hole = np.divmod(played, width)
    begun = np.bincount(round_, minlength=len(rounds)) > 0
    owner = rounds["player"].to_numpy(dtype=np.int64)[begun]
    day = rounds["played_on"].to_numpy(dtype="datetime64[D]").astype(np.int64)[begun]
    ids, kind, course = (rounds[name].to_numpy(dtype=object)[begun] for name in ("id", "kind", "course"))
    course = np.array([None if gap else str(name) for name, gap in zip(course, pd.isna(course), strict=True)], object)
    place = (np.cumsum(begun) - 1)[played_round]
    # rounds stand by player, holes by round
    ends = np.searchsorted(owner, np.arange(players + 1))
    hole_ends = np.searchsorted(place, ends)
    number, pars, counts = (column.astype(np.int16) for column in (played_hole, par, shots))
    found = []
    for player in range(players):
        mine, here = slice(*ends[player : player + 2]), slice(*hole_ends[player : player + 2])
        found.append(
            Tally(
                categories,
                ids[mine].copy(),
                day[mine].copy(),
                kind[mine].copy(),
                course[mine].copy(),
                (place[here] - ends[player]).astype(np.int32),
                number[here].copy(),
                pars[here].copy(),
                counts[here].copy(),
                strokes[here].copy(),
            )
        )
    return found


def joined(parts: Sequence[Tally]) -> Tally:
    """The tally of a player whose days were taken in parts, in order; of the same categories. At least one."""
    before = np.cumsum([0, *(part.day.size for part in parts)])
    round_ = np.concatenate([part.round_ + first for part, first in zip(parts, before, strict=False)])

    def column(name: str) -> Any:
        return np.concatenate([getattr(part, name) for part in parts])

    return Tally(
        parts[0].categories,
        column("ids"),
        column("day"),
        column("kind"),
        column("course"),
        round_.astype(np.int32),
        column("hole"),
        column("par"),
        column("shots"),
        column("strokes"),
    )
