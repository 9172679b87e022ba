"""The shared cases of club distances as the shots that a phone keeps, and as the frame that the server values."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pandas as pd

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute

CASES: list[dict[str, Any]] = json.loads(Path(__file__).with_name("distances.json").read_text(encoding="utf-8"))[
    "cases"
]

USUAL: dict[str, Any] = {"ball": 1, "holed": False, "penalty_strokes": 0} | dict.fromkeys(
    ("penalty_reason", "swing", "target_yd", "right_yd", "long_yd", "end_lie", "end_distance_yd")
)


def shots_of(case: dict[str, Any]) -> list[dict[str, Any]]:
    """The shots of a case, all of one round, in order on their holes."""
    return [
        USUAL | {"round_id": "r", "hole": hole, "order": order, "club_id": shot["club"]} | shot
        for hole, shots in enumerate(case["holes"], 1)
        for order, shot in enumerate(shots, 1)
    ]


def frame_of(case: dict[str, Any]) -> pd.DataFrame:
    """The same as valued shots."""
    frame = pd.DataFrame(shots_of(case)).assign(par=4, sort="iron")
    numbers = ["target_yd", "right_yd", "long_yd", "end_distance_yd"]
    return attribute(frame.astype(dict.fromkeys(numbers, "float64")), load_baseline("tour"))
