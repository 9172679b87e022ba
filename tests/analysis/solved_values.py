"""The half-yard values of a solved hole, without a player's bag and curves from the store."""

from __future__ import annotations

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.ahead import Ahead
from server.analysis.plan.ground import Ground
from server.analysis.plan.position_value import PositionValues
from server.analysis.plan.solve import Solved


def solved_values(
    found: Solved, ground: Ground, curves: Baseline, start: tuple[float, float], pin: tuple[float, float]
) -> PositionValues:
    """What every place is worth for a tee shot."""
    return Ahead(found, {}, curves).values(ground, start, "tee", pin)
