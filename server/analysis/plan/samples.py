"""A few landings of a planned option, for a drawing: enough to see the spread, few enough to keep on a phone."""

from __future__ import annotations

from typing import Final

import numpy as np

from server.analysis.plan.flight import STOPS_DEAD, USUAL_DAY, Day, Flight, flown
from server.analysis.plan.landings import Landings
from server.analysis.plan.position_value import PositionValues
from server.analysis.plan.rest import at_rest
from server.analysis.plan.rows import LandingSample

SAMPLE: Final = 80
"""Landings of one option that a drawing gets."""


def sampled(landings: Landings, count: int = SAMPLE) -> tuple[list[float], list[float]]:
    """Right and along (yards, to 0.1) of `count` landings in proportion to their shares, evenly through all.

    Systematic: the landings at the middles of `count` equal parts of the shares. The same pattern gives the same
    sample, and a sample's share of a kind is off by little more than 1 / `count`.
    """
    pick = landings.evenly(count)
    return landings.right[pick].round(1).tolist(), landings.along[pick].round(1).tolist()


def sample_at(
    values: PositionValues,
    start: tuple[float, float],
    aim_deg: float,
    landings: Landings,
    names: dict[int, str],
    played: tuple[Flight, Day, bool] = (STOPS_DEAD, USUAL_DAY, False),
) -> LandingSample:
    """A sample of an option's landings aimed at `aim_deg` (clockwise from y), where they come to rest: `right_yd` and
    `along_yd` of the line of aim, and `ends`, what lies there. `names`: code of the raster -> name; `played`: the
    flight, the day, and whether it is a punch."""
    right, along = (np.array(one) for one in sampled(landings))
    flight, day, low = played
    turn = np.radians(aim_deg)
    shots = flown(start, np.array([turn]), right, along, flight, day)
    place = at_rest(values.ground, start, shots, flight, low=low)[0]
    x, y = shots.x[0], shots.y[0]
    stopped = place != values.ground.places(x, y)
    columns, rows = values.ground.centres()
    row, column = np.divmod(place[stopped], columns.size)
    x[stopped], y[stopped] = columns[column], rows[row]
    x, y = x - start[0], y - start[1]
    return {
        "right_yd": (np.cos(turn) * x - np.sin(turn) * y).round(1).tolist(),
        "along_yd": (np.sin(turn) * x + np.cos(turn) * y).round(1).tolist(),
        "ends": [names[int(code)] for code in values.code.take(place)],
    }
