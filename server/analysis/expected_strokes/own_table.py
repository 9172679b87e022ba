"""A player's own table of expected strokes, and what its rows rest on; `fit.py` learns it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL

WITHIN: Final = 0.1
"""Starts count as near a row up to this share of its distance to either side."""
NEAR_STARTS: Final = 10
"""A row says "data" where at least this many starts of its lie are near. Strokes to hole out spread by about 0.8 from
150 yd, so that 10 starts alone know their mean to 0.25 strokes. A stated choice of this tool."""
DATA: Final = "data"
CARRIED: Final = "carried"
LEVELLED: Final = "levelled"
PUBLISHED: Final = "published"
KNOWN: Final = {
    DATA: f"{NEAR_STARTS} starts or more lie within {100 * WITHIN:g} % of the distance",
    CARRIED: "fewer do: the offset is carried over from other distances or lies",
    LEVELLED: "as published, but raised or lowered so that the table does not fall with distance",
    PUBLISHED: "as published",
}
"""What a row rests on."""


@dataclass(frozen=True, eq=False)
class OwnTable:
    """`rows`: lie, distance_yd, expected, published, known (a key of `KNOWN`), low, high (the interval, strokes),
    near (starts near). `size`: mean of tau; `starts`, `holes`, `rounds`: what it was learnt from; `data_range`: lie ->
    (nearest, farthest) yards with data; `level`: of the intervals."""

    rows: pd.DataFrame
    size: float
    starts: int
    holes: int
    rounds: int
    data_range: dict[str, tuple[float, float]]
    level: float = DEFAULT_LEVEL
