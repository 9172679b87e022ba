"""Shot categories, in two schemes of the trade.

`four_part` is the tour's: off the tee (tee shots on par 4 and 5), approach, around the green, putting.
The tour draws the line to "around the green" 30 yd from the edge of the green; with only the distance to
the hole known, 50 yd to the hole replaces it (a setting).

`three_part` is that of M. Broadie, Interfaces 42(2), 2012: long game, short game, putting, with the line
at 100 yd to the hole (the same setting).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from server.game.lies import CODE, GREEN, TEE, LieCodes

OFF_THE_TEE: Final = "off_the_tee"
APPROACH: Final = "approach"
AROUND_THE_GREEN: Final = "around_the_green"
LONG_GAME: Final = "long_game"
SHORT_GAME: Final = "short_game"
PUTTING: Final = "putting"

FOUR_PART: Final = "four_part"
THREE_PART: Final = "three_part"
SCHEMES: Final[dict[str, tuple[str, ...]]] = {
    FOUR_PART: (OFF_THE_TEE, APPROACH, AROUND_THE_GREEN, PUTTING),
    THREE_PART: (LONG_GAME, SHORT_GAME, PUTTING),
}
DEFAULT_SHORT_GAME_YD: Final[dict[str, float]] = {FOUR_PART: 50.0, THREE_PART: 100.0}


@dataclass(frozen=True)
class CategoryScheme:
    """How shots fall into categories: a scheme and its short-game distance in yards to the hole."""

    name: str = FOUR_PART
    short_game_yd: float | None = None

    def __post_init__(self) -> None:
        if self.name not in SCHEMES:
            raise ValueError(f"category_scheme: {self.name!r} is not one of {', '.join(SCHEMES)}")
        if self.short_game_yd is None:
            object.__setattr__(self, "short_game_yd", DEFAULT_SHORT_GAME_YD[self.name])
        elif not 0 < self.short_game_yd <= 700:
            raise ValueError(f"short_game_yd: {self.short_game_yd} yd is outside 0 to 700 yd")

    @property
    def categories(self) -> tuple[str, ...]:
        """The category names, in the order in which a hole is played."""
        return SCHEMES[self.name]

    def codes(self, lie: LieCodes, distance_yd: npt.NDArray[np.float64], par: Any) -> npt.NDArray[np.int8]:
        """Category codes (places in `categories`) of shots.

        `lie`, `distance_yd`, `par`: shape (n,). -1 where the lie is unknown.
        A ball at the short-game distance exactly belongs to the short game. A tee shot never does.
        """
        tee = lie == CODE[TEE]
        near = (distance_yd <= float(self.short_game_yd or 0)) & ~tee
        if self.name == FOUR_PART:
            code = np.where(near, 2, 1).astype(np.int8)
            code[tee & (np.asarray(par) >= 4)] = 0
            code[lie == CODE[GREEN]] = 3
        else:
            code = near.astype(np.int8)
            code[lie == CODE[GREEN]] = 2
        code[lie < 0] = -1
        return code
