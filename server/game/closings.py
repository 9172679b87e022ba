"""Closing a round: when it is complete, and when it was reopened.

A round's record holds `closings`, each with `closed_at` and `reopened_at` (client times, None where nobody noted one),
and `closed`, which alone says whether it is closed now. What closed or opened a round without a note of it shows as an
unknown time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final, TypedDict

MOST_CLOSINGS: Final = 200
"""How often a round can be closed."""

Between = TypedDict(
    "Between",
    {"from": Annotated[str | None, "when it was closed"], "to": Annotated[str | None, "when it was reopened"]},
)
"""From a closing to the opening after it; client times."""

NINE: Final = 9
"""Holes of a round that was meant as nine."""


def is_complete(defined: int, begun: int, holed: int, meant: int | None) -> bool:
    """Whether a round has a score: all holes that were meant are holed, and none that was begun is not.

    `defined`: holes of the round; `begun`: those with a shot of the ball of record; `holed`: those holed out; `meant`:
    how many were to be played, None for all.
    """
    wanted = defined if meant is None else min(meant, defined)
    return 0 < wanted <= holed == begun


def opened_again(closed: bool, closings: Sequence[Mapping[str, Any]]) -> list[Between]:
    """The times between a closing and the opening after it, earliest first.

    Evidence of a competition round could be read in between (rule 4.3a).
    """
    last = len(closings) - 1
    return [
        {"from": one["closed_at"], "to": one["reopened_at"]}
        for place, one in enumerate(closings)
        if one["reopened_at"] is not None or place < last or not closed
    ]
