"""How long rounds are, and which of them count: what "a round" means in every figure a round.

A round is 18 holes. A hole counts as played once a shot of the ball of record on it has strokes gained. With S_r the
strokes gained of the ball of record in round r and H_r the holes played in it, strokes gained a round are the ratio

    18 * sum_r S_r / sum_r H_r

over the rounds of at least `LEAST_HOLES` such holes: nine holes weigh as half a round. Shorter rounds are left out of
every figure, trend and list by the round, and counted beside it: one hole with a good drive is no round.

Why one shot with a value is enough: a hole that was picked up keeps the strokes that were lost on it before. Left out
entirely, the worst holes would go and the figure would flatter. What is missing still is the value of the shots without
one; they are counted as `unvalued`. Extra balls are no part of a round.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import Codes, Flags, distinct
from server.analysis.expected_strokes.curves import Floats

FULL_ROUND: Final = 18.0
LEAST_HOLES: Final = 9
"""Holes with a value below which a round counts in no figure a round. A stated choice."""


class RoundLengths(NamedTuple):
    """`holes`: holes with a value of each round that counts, indexed by its id, in the order in which they come;
    `short`: how many rounds have a shot but fewer such holes than `LEAST_HOLES`."""

    holes: pd.Series
    short: int

    @property
    def rounds(self) -> int:
        """The number of rounds, wherever one is given."""
        return len(self.holes)

    @property
    def parts(self) -> Floats:
        """Each round as a part of 18 holes, shape (rounds,)."""
        return np.asarray(self.holes.to_numpy(dtype=np.float64) / FULL_ROUND)

    def places(self, round_id: pd.Series) -> Codes:
        """The place in `holes` of the round of each shot, -1 for a round that does not count. Shape (shots,)."""
        return np.asarray(self.holes.index.get_indexer(pd.Index(round_id.astype("object"))))


def round_lengths(valued: pd.DataFrame) -> RoundLengths:
    """The lengths of the rounds of a frame that `attribute` returned, all their shots in it.

    >>> nine = pd.DataFrame({"round_id": "a", "hole": range(9), "ball": 1, "strokes_gained": 0.1})
    >>> one = pd.DataFrame({"round_id": ["b"], "hole": 1, "ball": 1, "strokes_gained": 0.5})
    >>> found = round_lengths(pd.concat([nine, one]))
    >>> found.rounds, found.short, found.parts.tolist()
    (1, 1, [0.5])
    """
    codes, ids = pd.factorize(valued["round_id"])
    holes = played_holes(codes, valued["hole"].to_numpy(dtype=np.int64), has_hole(valued), len(ids))
    counting = holes >= LEAST_HOLES
    index = pd.Index(np.asarray(ids, dtype="object")[counting])
    return RoundLengths(pd.Series(holes[counting], index), int((~counting).sum()))


def has_hole(valued: pd.DataFrame) -> Flags:
    """True for the shots that make a hole count: of the ball of record, with a value. Shape (shots,)."""
    record = valued["ball"].to_numpy() == 1
    return np.asarray(record & ~np.isnan(valued["strokes_gained"].to_numpy(dtype=np.float64)), dtype=np.bool_)


def played_holes(round_: Codes, hole: Codes, played: Flags, rounds: int) -> Codes:
    """How many holes of each round have a shot that is `played`, shape (rounds,). `round_`: codes from 0, `hole`:
    numbers, both shape (shots,)."""
    number = hole[played]
    low, high = (int(number.min()), int(number.max())) if number.size else (0, 0)
    found, _ = distinct(round_[played].astype(np.int64) * (high - low + 1) + number - low)
    return np.bincount(found // (high - low + 1), minlength=rounds)


class RoundsOfMany(NamedTuple):
    """The rounds of several players beside each other, those of each numbered from 0 in the order in which they come.
    `round_`: of each shot the number of its round, `counting`: its number among those that count, -1 where it does not,
    both shape (shots,). `holes`: holes with a value of the rounds that count, 0 behind the last, shape (players, most).
    `short`: as in `RoundLengths`, shape (players,)."""

    round_: Codes
    counting: Codes
    holes: Codes
    short: Codes

    @property
    def parts(self) -> Floats:
        """Each round that counts as a part of 18 holes, shape (players, most)."""
        return np.asarray(self.holes / FULL_ROUND)


def rounds_of_many(owner: Codes, round_: Codes, hole: Codes, played: Flags, players: int) -> RoundsOfMany:
    """The lengths of the rounds of several players, a player's shots one behind the other. `owner`: places of the
    players, ascending; `round_`: codes of rounds, no two players' the same; `played`: as `has_hole` gives it; all shape
    (shots,)."""
    codes, found = pd.factorize(round_)
    first = np.zeros(len(found), dtype=np.intp)
    first[codes[::-1]] = np.arange(owner.size)[::-1]
    of = owner[first]
    holes = played_holes(codes, hole, played, len(found))
    counts = holes >= LEAST_HOLES
    number = _numbered(of, np.ones(of.size, dtype=np.bool_))
    among = _numbered(of, counts)
    lengths = np.zeros((players, int(among[counts].max(initial=-1)) + 1), dtype=np.int64)
    lengths[of[counts], among[counts]] = holes[counts]
    short = np.bincount(of[~counts], minlength=players)
    return RoundsOfMany(number[codes], np.where(counts, among, -1)[codes], lengths, short)


def _numbered(of: Codes, taken: Flags) -> Codes:
    """Of each round its number among those of its player that are taken. `of`: players, ascending."""
    before: Codes = np.cumsum(taken, dtype=np.int64) - taken
    return np.asarray(before - before[np.searchsorted(of, of)])
