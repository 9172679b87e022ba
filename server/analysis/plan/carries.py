"""The carries of a planned shot: what lies across its line, how far the ball must fly to be over it, and how often it
does."""

from __future__ import annotations

from typing import Final

import numpy as np

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import USUAL_DAY, Day, Flight, flown
from server.analysis.plan.ground import CELL_YD, OUT, RED, YELLOW, Ground
from server.analysis.plan.landings import Landings
from server.analysis.plan.rows import CarryRow
from server.game.lies import CODE, SAND

ACROSS: Final[dict[str, tuple[int, ...]]] = {"water": (RED, YELLOW), "sand": (CODE[SAND],), "out_of_bounds": (OUT,)}
GAP_YD: Final = 2.0
"""Two stretches of a kind that lie no farther apart than this are one."""


def carries(
    ground: Ground,
    start: tuple[float, float],
    aim_deg: float,
    landings: Landings,
    flight: Flight,
    day: Day = USUAL_DAY,
) -> list[CarryRow]:
    """What lies on the line of aim (clockwise from y) as far as the longest ball runs, nearest first.

    `from_yd`, `to_yd`: its near and far edge along the line; `over`: share of balls that land beyond the far edge;
    `short`: share that come to rest before the near edge. The others end in it or pass beside it.
    """
    aim = np.radians([aim_deg])
    shots = flown(start, aim, landings.right, landings.along, flight, day)
    carry, rest = (
        np.sin(aim[0]) * (x[0] - start[0]) + np.cos(aim[0]) * (y[0] - start[1])
        for x, y in ((shots.carry_x, shots.carry_y), (shots.x, shots.y))
    )
    weight = landings.share
    away: Floats = np.arange(CELL_YD, float(rest.max(initial=0.0)) + CELL_YD, CELL_YD)
    code = ground.codes(start[0] + np.sin(aim[0]) * away, start[1] + np.cos(aim[0]) * away)
    found: list[CarryRow] = []
    for kind, codes in ACROSS.items():
        for near, far in _stretches(np.isin(code, codes), away):
            over, short = (float(weight[these].sum()) for these in (carry > far, rest < near))
            found.append({"kind": kind, "from_yd": near, "to_yd": far, "over": over, "short": short})
    return sorted(found, key=lambda row: row["from_yd"])


def _stretches(inside: np.ndarray, away: Floats) -> list[tuple[float, float]]:
    """First and last yard of every stretch along a line that lies inside, small gaps closed."""
    edge = np.diff(np.r_[0, inside.astype(np.int8), 0])
    first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1
    found: list[tuple[float, float]] = []
    for one, other in zip(first, last, strict=True):
        near, far = float(away[one]) - CELL_YD / 2, float(away[other]) + CELL_YD / 2
        if found and near - found[-1][1] <= GAP_YD:
            near = found.pop()[0]
        found.append((near, far))
    return found
