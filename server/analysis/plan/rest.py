"""Where a ball comes to rest on the ground of a hole, from where it lands and where it would run to.

What lies under the flight does not count. A ball that lands in water, sand or trees stays there; one that runs into
water or sand stays where it ran in. Everything else lies where it would on open ground: what a fairway or rough does to
the run is in the player's own shots already.

Trees stop what flies below their tops: the ball drops where its flight meets them. The tree that a ball lies beside is
not counted for the first `CLEAR_OF_OWN_TREE_YD` yards.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import Flight, Shots
from server.analysis.plan.ground import CELL_YD, RED, YELLOW, Ground
from server.game.lies import CODE, RECOVERY, SAND

Places = npt.NDArray[np.int32]

STEP_YD: Final = 1.5
"""A run is followed in steps of about this many yards, three cells of the ground: a narrower ditch may be hopped."""
CLEAR_OF_OWN_TREE_YD: Final = 3.0
UNDER_BRANCHES_YD: Final = 25.0
"""A punch passes under so many yards of trees. These two are choices of this tool."""
RAY_RAD: Final = np.radians(0.5)
RAY_STEP_YD: Final = 2.0
CARRY_BIN_YD: Final = 5.0
RAYS_AT_ONCE: Final = 128

STOPS_RUN: Final = (CODE[SAND], RED, YELLOW)
STOPS_LANDING: Final = (CODE[SAND], CODE[RECOVERY], RED, YELLOW)


def at_rest(ground: Ground, start: tuple[float, float], shots: Shots, flight: Flight, *, low: bool = False) -> Places:
    """The flat place in the raster where each ball comes to rest, of the shape of `shots`. `low`: a punch, which trees
    stop only where it passes under more than 25 yd of them."""
    place = ground.places(shots.x, shots.y)
    run_into(ground, shots, place)
    if ground.tree_yd is not None:
        _caught_by_trees(ground, start, shots, flight, place, low=low)
    return place


def run_into(ground: Ground, shots: Shots, place: Places) -> None:
    """Put the balls that land in, or run into, what stops them where they stop."""
    landed = ground.places(shots.carry_x, shots.carry_y)
    code = ground.code.ravel()
    stays = _one_of(STOPS_LANDING)[code[landed]]
    place[stays] = landed[stays]
    longest = float(max(np.abs(shots.x - shots.carry_x).max(), np.abs(shots.y - shots.carry_y).max(), 0.0))
    reach = int(np.ceil(longest / 8)) * 8
    if reach == 0 or (near := _near_stops(ground, reach)) is None:
        return
    running = np.flatnonzero((near.ravel()[landed] & ~stays).ravel())
    x, y = shots.carry_x.ravel()[running], shots.carry_y.ravel()[running]
    step_x, step_y = shots.x.ravel()[running] - x, shots.y.ravel()[running] - y
    steps = int(np.ceil(np.hypot(step_x, step_y).max(initial=0.0) / STEP_YD))
    flat, stops = place.reshape(-1), _one_of(STOPS_RUN)
    for step in range(1, steps):
        here = ground.places(x + step_x * (step / steps), y + step_y * (step / steps))
        caught = stops[code[here]]
        flat[running[caught]] = here[caught]
        goes_on = ~caught
        running, x, y, step_x, step_y = running[goes_on], x[goes_on], y[goes_on], step_x[goes_on], step_y[goes_on]


def _one_of(codes: tuple[int, ...]) -> npt.NDArray[np.bool_]:
    """Code of the raster -> whether it is one of `codes`."""
    found = np.zeros(16, dtype=np.bool_)
    found[list(codes)] = True
    return found


@lru_cache(maxsize=12)
def _near_stops(ground: Ground, reach_yd: int) -> npt.NDArray[np.bool_] | None:
    """Cells from which water or sand is no farther than `reach_yd` yards along either axis; None where the hole has
    neither."""
    stops = _one_of(STOPS_RUN)[ground.code]
    if not stops.any():
        return None
    width = 2 * int(reach_yd / CELL_YD) + 1
    return np.asarray(ndimage.maximum_filter(stops, size=width, mode="constant"))


def _caught_by_trees(
    ground: Ground, start: tuple[float, float], shots: Shots, flight: Flight, place: Places, *, low: bool
) -> None:
    """Put the balls that meet a tree in their flight where they meet it."""
    dx, dy = (shots.carry_x - start[0]).ravel(), (shots.carry_y - start[1]).ravel()
    carry = np.hypot(dx, dy)
    ray = np.round(np.arctan2(dx, dy) / RAY_RAD).astype(np.int32)
    size = np.maximum(np.round(carry / CARRY_BIN_YD), 1).astype(np.int32)
    rays, sizes = np.arange(ray.min(), ray.max() + 1), np.arange(size.min(), size.max() + 1)
    away = np.arange(CLEAR_OF_OWN_TREE_YD, float(carry.max()) + RAY_STEP_YD, RAY_STEP_YD)
    met = np.zeros((rays.size, sizes.size), dtype=np.float32)
    for first in range(0, rays.size, RAYS_AT_ONCE):
        part = slice(first, first + RAYS_AT_ONCE)
        tops = _tops(ground, start, rays[part] * RAY_RAD, away)
        lined = np.flatnonzero(tops.any(axis=1))
        if lined.size:
            met[lined + first] = _met(tops[lined], away, sizes * CARRY_BIN_YD, flight, low=low)
    if not met.any():
        return
    stop = met[ray - rays[0], size - sizes[0]]
    caught = np.flatnonzero((stop > 0) & (stop < carry))
    share = stop[caught] / carry[caught]
    place.reshape(-1)[caught] = ground.places(start[0] + dx[caught] * share, start[1] + dy[caught] * share)


def _tops(ground: Ground, start: tuple[float, float], angle: Floats, away: Floats) -> npt.NDArray[np.uint8]:
    """Height of the trees along rays, yards, (rays, steps); 0 where there are none."""
    assert ground.tree_yd is not None
    place = ground.places(start[0] + np.sin(angle)[:, None] * away, start[1] + np.cos(angle)[:, None] * away)
    return ground.tree_yd.ravel()[place]


def _met(tops: npt.NDArray[np.uint8], away: Floats, carry: Floats, flight: Flight, *, low: bool) -> Floats:
    """How far from the start each flight of a carry (sizes,) meets a tree on each ray: (rays, sizes), 0 for never."""
    if low:
        under = np.cumsum(tops > 0, axis=1) * RAY_STEP_YD > UNDER_BRANCHES_YD
        first = np.where(under.any(axis=1), away[under.argmax(axis=1)], 0.0)
        return np.repeat(first[:, None], carry.size, axis=1)
    found = np.zeros((len(tops), carry.size))
    for number, far in enumerate(carry):
        inside = away < far
        below = (tops[:, inside] > flight.height(away[inside], far)) & (tops[:, inside] > 0)
        if below.size:
            found[:, number] = np.where(below.any(axis=1), away[inside][below.argmax(axis=1)], 0.0)
    return found
