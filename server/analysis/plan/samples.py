"""A few landings of a planned option, for a drawing: enough to see the spread, few enough to keep on a phone."""

from __future__ import annotations

from typing import Final

import numpy as np

from server.analysis.plan.landings import Landings
from server.analysis.plan.position_value import PositionValues
from server.analysis.plan.rows import LandingSample

SAMPLE: Final = 80
"""Landings of one option that a drawing gets."""


def sampled(landings: Landings, count: int = SAMPLE) -> tuple[list[float], list[float]]:
    """Right and along (yards, to 0.1) of `count` landings in proportion to their weights, evenly through all atoms.

    Systematic: the landings at the middles of `count` equal parts of the weight. The same pattern gives the same
    sample, and a sample's share of a kind is off by little more than 1 / `count`.
    """
    starts = landings.starts
    counts = np.diff(np.r_[starts, landings.atom.size])
    weight = np.repeat(landings.weight / landings.weight.sum() / counts, counts)
    pick = np.searchsorted(np.cumsum(weight), (np.arange(count) + 0.5) / count)
    pick = np.minimum(pick, landings.atom.size - 1)
    return landings.right[pick].round(1).tolist(), landings.along[pick].round(1).tolist()


def sample_at(
    values: PositionValues, start: tuple[float, float], aim_deg: float, landings: Landings, names: dict[int, str]
) -> LandingSample:
    """A sample of an option's landings aimed at `aim_deg` (clockwise from y): `right_yd` and `along_yd` of the line of
    aim, and `ends`, what lies there. `names`: code of the raster -> name."""
    right, along = sampled(landings)
    turn = np.radians(aim_deg)
    x = start[0] + np.sin(turn) * np.array(along) + np.cos(turn) * np.array(right)
    y = start[1] + np.cos(turn) * np.array(along) - np.sin(turn) * np.array(right)
    codes = values.code.take(values.ground.places(x, y))
    return {"right_yd": right, "along_yd": along, "ends": [names[int(code)] for code in codes]}
