"""The columns of a shots table: what import reads and export writes."""

from __future__ import annotations

from typing import Final

IMPORT_COLUMNS: Final[tuple[str, ...]] = (
    "player",
    "played_on",
    "kind",
    "course",
    "tees",
    "hole",
    "par",
    "length_yd",
    "ball",
    "shot",
    "lie",
    "distance",
    "unit",
    "club",
    "holed",
    "penalty_strokes",
    "penalty_reason",
    "end_lie",
    "end_distance",
    "end_unit",
    "swing",
    "planned_shape",
    "actual_shape",
    "target_yd",
    "right_yd",
    "long_yd",
    "strike",
    "note",
    "provisional",
)
"""Read by import, in the order in which export writes them."""

REQUIRED_COLUMNS: Final[tuple[str, ...]] = (
    "player",
    "played_on",
    "hole",
    "par",
    "length_yd",
    "shot",
    "lie",
    "distance",
    "club",
)

COMPUTED_COLUMNS: Final[tuple[str, ...]] = (
    "player_id",
    "round_id",
    "shot_id",
    "club_id",
    "setup",
    "distance_yd",
    "finish_lie",
    "finish_distance_yd",
    "category",
    "expected_before",
    "expected_after",
    "strokes_gained",
    "basis",
    "baseline",
)
"""Written by export behind the others; import passes over them, but for `round_id`, which tells apart two rounds of one
day on one course."""
