"""Ranges that a round's figures must keep, with their units. Each bound is a stated choice of this tool."""

from __future__ import annotations

from typing import Final

FARTHEST_YD: Final = 700.0
"""The farthest a ball can lie from the hole."""

FARTHEST_ON_GREEN_YD: Final = 50.0
"""The farthest a ball on the green can lie from the hole (150 ft)."""

LOWEST_PAR: Final = 3
HIGHEST_PAR: Final = 6
MOST_HOLES: Final = 36
MOST_SHOTS_A_BALL: Final = 99
MOST_BALLS: Final = 30
FARTHEST_OFFLINE_YD: Final = 300.0
"""The farthest a finish can be noted from its target, sideways or in length."""

FARTHEST_CARRY_YD: Final = 400.0
"""The farthest a ball can be recorded to have flown before it first touched the ground."""

CARRY_BEYOND_YD: Final = 15.0
"""A ball may fly so much farther than it finishes: backspin brings it back, and carries are read off a range finder."""

MOST_BALLS_A_SESSION: Final = 2000
"""The most balls that a practice session can have."""

FARTHEST_TOTAL_YD: Final = 500.0
"""The farthest a practice ball can be recorded to have come to rest."""

FARTHEST_LEFT_FT: Final = 900.0
"""The most that a practice ball can have left to the hole (300 yd)."""
