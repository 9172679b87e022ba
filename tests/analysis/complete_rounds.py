"""Rounds made long enough to count: what tests of a few shots need before they can tell strokes a round."""

from __future__ import annotations

from typing import Any

import pandas as pd

FILLER = "filler"


def filled(valued: pd.DataFrame, holes: int = 18, **more: Any) -> pd.DataFrame:
    """The same shots, and on holes 101, 102, ... of every round shots of the ball of record with a club of its own that
    gained nothing, until `holes` holes of it have a value. `more`: what those shots have else."""
    played = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna()]
    parts = [valued]
    for round_id, part in valued.groupby("round_id", sort=False):
        missing = holes - played.loc[played["round_id"].eq(round_id), "hole"].nunique()
        one = part.iloc[[0]].assign(ball=1, order=1, club=FILLER, strokes_gained=0.0, basis="printed", **more)
        parts += [one.assign(hole=101 + place) for place in range(missing)]
    return pd.concat(parts, ignore_index=True).astype({"lie": valued["lie"].dtype})
