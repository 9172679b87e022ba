"""How a round's lengths were taken: the words, and how far such lengths are off."""

from __future__ import annotations

from typing import Final

PACED: Final = "paced"
LASER: Final = "laser"
GUESSED: Final = "guessed"
POSITION: Final = "position"
MAP: Final = "map"
LENGTHS_TAKEN: Final[tuple[str, ...]] = (PACED, LASER, GUESSED, POSITION, MAP)
"""Counted in steps, a laser's reading, guessed by eye, worked out from the phone's position, read off a map. The word
speaks of the entire round."""

LENGTH_ERRORS: Final[dict[str, float]] = {PACED: 0.05, LASER: 0.01, GUESSED: 0.15, POSITION: 0.03, MAP: 0.03}
"""Standard deviation of a length off the green as a share of the length. Choices of this tool, no source."""
GREEN_ERRORS: Final[dict[str, float]] = {**dict.fromkeys(LENGTHS_TAKEN, LENGTH_ERRORS[PACED]), GUESSED: 0.15}
"""The same on the green, where a length is nearly always paced, whatever measured the others. Choices of this tool."""
