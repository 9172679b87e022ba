"""Valued shots of two clubs, A and B, for tests of trials."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from server.analysis.evidence.trials import Trial, run_trial

DEFAULTS: dict[str, Any] = {
    "ball": 1, "lie": "fairway", "distance_yd": 190.0, "holed": False, "penalty_strokes": 0, "end_lie": "green",
    "end_distance_yd": 10.0, "sort": "iron", "setup": None, "swing": "full", "planned_shape": None,
    "actual_shape": None, "target_yd": 190.0, "right_yd": 0.0, "long_yd": 0.0, "played_on": pd.Timestamp("2026-05-01"),
    "hole": 1, "order": 1, "kind": "practice", "strike": None,
}  # fmt: skip


def shots(*rows: tuple[str, str, float], **same: Any) -> pd.DataFrame:
    """Valued shots: (club, round, strokes gained) each."""
    columns = ("club", "round_id", "strokes_gained")
    frame = pd.DataFrame([DEFAULTS | same | dict(zip(columns, row, strict=True)) for row in rows])
    return frame.assign(club_id=frame["club"].str.lower())


def sides(valued: pd.DataFrame) -> tuple[Any, Any]:
    return (valued["club"].eq(name).to_numpy(dtype=bool) for name in ("A", "B"))  # type: ignore[return-value]


def tried(valued: pd.DataFrame, **settings: Any) -> Trial:
    return run_trial(valued, *sides(valued), **settings)


def season(a: float, b: float, rounds: int = 12, each: int = 4, sd: float = 0.3, seed: int = 3) -> pd.DataFrame:
    """Two clubs in every round from the same place, with these true means exactly in their samples."""
    draw = np.random.default_rng(seed)
    parts = []
    for club, mean in (("A", a), ("B", b)):
        values = draw.normal(0, sd, rounds * each)
        values += mean - values.mean()
        parts += [(club, f"r{place // each}", value) for place, value in enumerate(values)]
    return shots(*parts)
