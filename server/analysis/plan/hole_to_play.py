"""A mapped hole as it is to be played."""

from __future__ import annotations

from dataclasses import dataclass

from server.analysis.plan.ground import Ground


@dataclass(frozen=True, eq=False)
class HoleToPlay:
    """Where a hole begins and ends on its map, yards; its par and its length as the card has them."""

    number: int
    par: int
    length_yd: float
    ground: Ground
    start: tuple[float, float]
    pin: tuple[float, float]
