"""Shots made for tests of patterns: valued frames with a column for everything, a row a shot."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

USUAL: dict[str, Any] = {
    "round_id": "r1",
    "played_on": "2026-05-01",
    "club": "7 iron",
    "sort": "iron",
    "setup": None,
    "lie": "fairway",
    "distance_yd": 300.0,
    "swing": "full",
    "planned_shape": None,
    "actual_shape": None,
    "target_yd": 160.0,
    "right_yd": 0.0,
    "long_yd": 0.0,
    "end_lie": "fairway",
    "end_distance_yd": 140.0,
    "holed": False,
    "penalty_strokes": 0,
    "strokes_gained": 0.0,
}


def valued(rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    """A valued frame of these shots, each given by what differs from the usual one; the index is not 0, 1, 2."""
    frame = pd.DataFrame([USUAL | row for row in rows], columns=list(USUAL))
    frame["played_on"] = pd.to_datetime(frame["played_on"])
    for name in ("target_yd", "right_yd", "long_yd", "end_distance_yd", "strokes_gained"):
        frame[name] = frame[name].astype("float64")
    return frame.set_index(pd.Index(range(100, 100 + len(frame))))


def tapped(right: Sequence[float], long: Sequence[float], **more: Any) -> list[dict[str, Any]]:
    """Rows of tapped finishes, two a round."""
    return [
        {"right_yd": one, "long_yd": other, "round_id": f"r{place // 2}", **more}
        for place, (one, other) in enumerate(zip(right, long, strict=True))
    ]
