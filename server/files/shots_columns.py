"""The columns of a shots table: what import reads and export writes."""

from __future__ import annotations

from typing import Final

from server.records.shot_fields import CELLS, INTEGER, NUMBER, POSITION, REQUIRED_CELLS, SHOT_FIELDS

_OF_THE_ROUND: Final = ("player", "played_on", "kind", "course", "tees", "ball_label", "lengths_taken")
_OF_THE_HOLE: Final = ("par", "length_yd")

IMPORT_COLUMNS: Final[tuple[str, ...]] = (*_OF_THE_ROUND, CELLS[0], *_OF_THE_HOLE, *CELLS[1:])
"""Read by import, in the order in which export writes them: the round, the hole, the fields of the shot."""

READ_COLUMNS: Final = frozenset({*IMPORT_COLUMNS, "round", "length", "length_unit"})
"""Everything that import reads. `round` tells apart two rounds of one day, `length` with `length_unit` may stand for
`length_yd`; export, which knows both otherwise, does not write them."""

KNOWN_COLUMNS: Final = READ_COLUMNS | {"round_id", "shot_id"}
"""Those, and what tells the rows of an export apart."""

NUMBER_COLUMNS: Final = frozenset(
    {
        *(field.cells[0] for field in SHOT_FIELDS if field.cells and field.type in (INTEGER, NUMBER)),
        *(cell for field in SHOT_FIELDS if field.type == POSITION for cell in field.cells),
        *_OF_THE_HOLE,
        "length",
    }
)
"""Those that hold numbers."""

REQUIRED_COLUMNS: Final[tuple[str, ...]] = (
    "player",
    "played_on",
    REQUIRED_CELLS[0],
    *_OF_THE_HOLE,
    *REQUIRED_CELLS[1:],
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
