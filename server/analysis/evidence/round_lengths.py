"""How long rounds are, and which of them count: what "a round" means in every figure a round.

A round is 18 holes. A hole counts as played once a shot of the ball of record on it has strokes gained. With S_r the
strokes gained of the ball of record in round r and H_r the holes played in it, strokes gained a round are the ratio

    18 * sum_r S_r / sum_r H_r

over the rounds of at least `LEAST_HOLES` such holes: nine holes weigh as half a round. Shorter rounds are left out of
every figure, trend and list by the round, and counted beside it: one hole with a good drive is no round.

Why one shot with a value is enough: a hole that was picked up keeps the strokes that were lost on it before. Left out
whole, the worst holes would go and the figure would flatter. What is missing still is the value of the shots without
one; they are counted as `unvalued`. Extra balls are no part of a round.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import Codes
from server.analysis.expected_strokes.curves import Floats

WHOLE_ROUND: Final = 18.0
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
        return np.asarray(self.holes.to_numpy(dtype=np.float64) / WHOLE_ROUND)

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
    ids = valued["round_id"].astype("object")
    every = pd.unique(ids)
    played = valued["ball"].eq(1).to_numpy(dtype=bool) & valued["strokes_gained"].notna().to_numpy(dtype=bool)
    holes = pd.DataFrame({"round_id": ids[played], "hole": valued["hole"][played]}).drop_duplicates()
    counts = holes["round_id"].value_counts(sort=False).reindex(every, fill_value=0)
    return RoundLengths(counts[counts >= LEAST_HOLES], int((counts < LEAST_HOLES).sum()))
