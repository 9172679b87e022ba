"""Invented rounds on courses of known difficulty: rates a round, or a valued frame of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from server.analysis.evidence.level import MONTH_DAYS, Rates

ROUND_SD = 3.0
"""Strokes a round from one day to the next."""


def rates(draw: np.random.Generator, played: Sequence[int], effects: np.ndarray, level: float = 0.0) -> Rates:
    """A round on each course of `played`, one a week: `level` plus the course's effect plus chance."""
    used, course = np.unique(np.asarray(played), return_inverse=True)
    made = level + effects[np.asarray(played)] + draw.normal(0, ROUND_SD, len(played))
    names = [f"course {code}" for code in used]
    days = np.arange(len(played))
    return Rates(made, np.ones(len(played)), course, days, days * 7 / MONTH_DAYS, names, [None] * len(played))


def rounds_frame(
    strokes: Sequence[float], courses: Sequence[str | None], days: Sequence[str] | None = None, holes: int = 18
) -> pd.DataFrame:
    """A valued frame: each round's strokes gained spread over its holes, one approach a hole."""
    count = len(strokes)
    first = pd.Timestamp("2026-04-01")
    played = [first + pd.Timedelta(day, "D") for day in range(count)] if days is None else pd.to_datetime(list(days))
    each = {
        "round_id": [f"round {number:03d}" for number in range(count)],
        "played_on": pd.Series(played).astype("datetime64[s]"),
        "course": pd.Categorical(list(courses)),
        "strokes_gained": np.asarray(strokes, dtype=np.float64) / holes,
    }
    frame = pd.DataFrame(each).loc[np.repeat(np.arange(count), holes)].reset_index(drop=True)
    return frame.assign(
        hole=np.tile(np.arange(1, holes + 1), count),
        ball=1,
        club="iron",
        category="approach",
        basis="printed",
        lie=pd.Categorical(["fairway"] * len(frame)),
        distance_yd=150.0,
        setup=None,
        kind="practice",
    )
