"""The names that a message offers in place of one that is not known."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

MOST_LISTED: Final = 12


def known_names(names: Iterable[str], asked: str | None = None) -> str:
    """The names in order; of very many a few, those like the one that was asked for if there are any.

    >>> known_names(["Wren", "Ash"])
    'Ash, Wren'
    >>> known_names([f"Player {number}" for number in range(1_000)], "player 10")
    'Player 10, Player 100, Player 101, Player 102, Player 103, Player 104, and 994 more'
    """
    every = sorted(set(names))
    if len(every) <= MOST_LISTED:
        return ", ".join(every)
    listed = (_like(asked, every) if asked else []) or every
    listed = listed[: MOST_LISTED // 2]
    return f"{', '.join(listed)}, and {len(every) - len(listed):,} more"


def _like(asked: str, names: list[str]) -> list[str]:
    """Names that have what was asked for in them, then those that are spelled like it."""
    folded = {name: name.casefold() for name in names}
    words = asked.strip().casefold()
    inside = [name for name in names if words in folded[name]]
    near = set(get_close_matches(words, folded.values(), MOST_LISTED))
    return inside + [name for name in names if folded[name] in near and name not in inside]
