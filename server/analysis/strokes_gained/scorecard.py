"""Scores of holes and rounds from valued shots of the ball of record."""

from __future__ import annotations

from typing import Final

import pandas as pd

COLUMNS: Final = ("strokes", "penalty_strokes", "putts", "strokes_gained", "unvalued", "complete")


def hole_scores(valued: pd.DataFrame) -> pd.DataFrame:
    """One row a hole that has shots of the ball of record, indexed by (round_id, hole).

    `strokes`: shots and penalty strokes so far; the hole's score only where `complete` (numbers run 1, 2, 3 ...
    and the last shot was holed). `putts`: shots from the green. `strokes_gained`: the sum over valued shots; for a
    complete hole whose shots all have values it is E(first shot) - score. `unvalued`: shots without a value.
    """
    ball = valued[valued["ball"].eq(1)]
    parts = pd.DataFrame(
        {
            "round_id": ball["round_id"].astype("object"),
            "hole": ball["hole"],
            "order": ball["order"],
            "strokes": 1 + ball["penalty_strokes"],
            "penalty_strokes": ball["penalty_strokes"],
            "putts": ball["lie"].eq("green").astype("int64"),
            "strokes_gained": ball["strokes_gained"],
            "unvalued": ball["strokes_gained"].isna().astype("int64"),
            "holed_at": ball["order"].where(ball["holed"]),
        }
    )
    grouped = parts.groupby(["round_id", "hole"], sort=True, observed=True)
    table = grouped[["strokes", "penalty_strokes", "putts", "strokes_gained", "unvalued"]].sum()
    orders = grouped["order"].agg(["size", "max", "nunique"])
    holed_at = grouped["holed_at"].min()
    in_order = orders["size"].eq(orders["max"]) & orders["size"].eq(orders["nunique"])
    table["complete"] = in_order & holed_at.eq(orders["max"])
    return table
