"""Which pairs of par and length are usual, so that a slip of the finger is asked about once and never refused.

Rules of Handicapping, Appendix F, Establishing Par, recommends these lengths, women's lower end to men's upper end:
par 3 up to 260 yd, par 4 from 200 to 490, par 5 from 370 to 710, par 6 from 570. The bounds here are our own: a tenth
wider, so that forward tees, championship tees and slopes are not asked about, and 40 yd as the shortest par 3.
"""

from __future__ import annotations

from typing import Final

from server.game.ranges import FARTHEST_YD

DEFAULT_YD: Final[dict[int, tuple[float, float]]] = {
    3: (40.0, 285.0),
    4: (180.0, 540.0),
    5: (335.0, FARTHEST_YD),
    6: (515.0, FARTHEST_YD),
}
"""Par -> the shortest and the longest usual hole, both included."""


def is_unusual(par: int, length_yd: float) -> bool:
    """Whether a hole of this par is seldom that long, or that short."""
    shortest, longest = DEFAULT_YD[par]
    return not shortest <= length_yd <= longest
