"""Frames of shots for tests, written the way a scorer would say them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline, load_baseline

COLUMNS = [
    "round_id",
    "hole",
    "ball",
    "order",
    "par",
    "lie",
    "distance_yd",
    "holed",
    "penalty_strokes",
    "penalty_reason",
    "end_lie",
    "end_distance_yd",
    "provisional",
]


def feet(length: float) -> float:
    """`length` feet in yards."""
    return length / 3


def shot(lie: str, distance_yd: float, **others: Any) -> dict[str, Any]:
    """One shot; what is not said takes the default of a plain shot of ball 1."""
    return {"lie": lie, "distance_yd": distance_yd, **others}


def frame(shots: list[dict[str, Any]], **same: Any) -> pd.DataFrame:
    """The shots of one hole in playing order, numbered per ball where they carry no number of their own.

    `same`: columns that every shot shares, such as `hole` or `par`.
    """
    numbers: dict[Any, int] = {}
    rows = []
    for given in shots:
        ball = given.get("ball", 1)
        numbers[ball] = given.get("order", numbers.get(ball, 0) + 1)
        plain = {
            "round_id": "r1",
            "hole": 1,
            "ball": 1,
            "par": 4,
            "holed": False,
            "penalty_strokes": 0,
            "penalty_reason": None,
            "provisional": False,
            "end_lie": None,
            "end_distance_yd": float("nan"),
        }
        rows.append({**plain, **same, **given, "order": numbers[ball]})
    return pd.DataFrame(rows, columns=[*COLUMNS, *sorted({key for row in rows for key in row} - set(COLUMNS))])


def baseline_of(folder: Path, rows: list[tuple[str, str, str, str]], name: str = "own") -> Baseline:
    """A baseline from rows of text (lie, distance, unit, expected strokes), through a CSV in `folder`."""
    path = folder / f"{name}.csv"
    lines = ["lie,distance,unit,expected_strokes", *(",".join(row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return load_baseline(path)


def records(shots: pd.DataFrame) -> list[dict[str, Any]]:
    """The shots as records, None where the frame has no value."""
    rows = shots.astype(object).where(shots.notna(), None).to_dict("records")
    return [{str(key): value for key, value in row.items()} for row in rows]
