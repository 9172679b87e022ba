"""Holes played out ball by ball, for checks of the solver: exact polygons and drops, straight lines between them, none
of the solver's rasters, transforms or recursions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.tee_plan import Option
from server.game.hole_maps import Feature, kind_of, polygon

Floats = npt.NDArray[np.float64]
Policy = Callable[[Floats, Floats, npt.NDArray[np.str_]], tuple[npt.NDArray[np.intp], Floats]]
"""x, y and lie of balls -> the place of the option in the list of its lie, and the direction, radians clockwise from
y."""

PAINTED = (
    "rough",
    "trees",
    "tee",
    "fairway",
    "bunker",
    "green",
    "water_hazard",
    "lateral_water_hazard",
    "out_of_bounds",
)
LIE = {
    "rough": "rough",
    "trees": "recovery",
    "tee": "fairway",
    "fairway": "fairway",
    "bunker": "sand",
    "green": "green",
}
RUN_STEP = 0.5
MOST_SHOTS = 40


@dataclass(frozen=True)
class Hole:
    """A hole's polygons, the hole, and the curves that end play: on the green or within `within_yd` yards."""

    features: Sequence[Feature]
    pin: tuple[float, float]
    curves: Baseline
    within_yd: float

    def kinds(self, x: Floats, y: Floats) -> npt.NDArray[np.str_]:
        """What lies at points."""
        found = np.full(x.shape, "rough", dtype="<U20")
        for kind in PAINTED:
            shapes = [polygon(feature) for feature in self.features if kind_of(feature) == kind]
            if shapes:
                area = shapely.union_all(shapes)
                shapely.prepare(area)
                found[shapely.contains_xy(area, x, y)] = kind
        return found

    def away(self, x: Floats, y: Floats) -> Floats:
        """Yards to the hole."""
        return np.asarray(np.maximum(np.hypot(x - self.pin[0], y - self.pin[1]), 0.05))


def played_out(
    hole: Hole,
    options: Mapping[str, Sequence[Option]],
    start: tuple[float, float],
    policy: Policy,
    balls: int,
    seed: int = 0,
) -> Floats:
    """Strokes to hole out of `balls` balls from a tee at `start`, (balls,), the last of them by the curves.

    Water: the ball is dropped where the straight line of the shot last entered it, half a yard before, for a stroke;
    out of bounds: from the same place again, for two.
    """
    rng = np.random.default_rng(seed)
    x, y = np.full(balls, float(start[0])), np.full(balls, float(start[1]))
    lie = np.full(balls, "fairway", dtype="<U20")
    strokes = np.zeros(balls)
    active = np.arange(balls)
    for _ in range(MOST_SHOTS):
        if not active.size:
            return strokes
        option, aim = policy(x[active], y[active], lie[active])
        carry, rest = _struck(options, lie[active], option, aim, rng)
        from_x, from_y = x[active], y[active]
        end_x, end_y, kind = _at_rest(hole, from_x, from_y, carry, rest)
        strokes[active] += 1
        lost = kind == "out_of_bounds"
        strokes[active[lost]] += 1
        end_x[lost], end_y[lost] = from_x[lost], from_y[lost]
        wet = np.isin(kind, ("water_hazard", "lateral_water_hazard"))
        strokes[active[wet]] += 1
        if wet.any():
            end_x[wet], end_y[wet] = _before_water(hole, from_x[wet], from_y[wet], end_x[wet], end_y[wet])
            kind[wet] = hole.kinds(end_x[wet], end_y[wet])
        x[active], y[active] = end_x, end_y
        lie[active[~lost]] = np.array([LIE[one] for one in kind[~lost]], dtype="<U20")
        away = hole.away(x[active], y[active])
        done = ~lost & ((lie[active] == "green") | (away < hole.within_yd))
        for name in np.unique(lie[active[done]]):
            here = active[done & (lie[active] == name)]
            strokes[here] += hole.curves.expected(str(name), hole.away(x[here], y[here]))
        active = active[~done]
    raise AssertionError(f"{active.size} balls were not holed in {MOST_SHOTS} shots")


def _struck(
    options: Mapping[str, Sequence[Option]],
    lie: npt.NDArray[np.str_],
    option: npt.NDArray[np.intp],
    aim: Floats,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Carry and rest of balls seen from where they lay, (n, 2)."""
    carry, rest = np.zeros((lie.size, 2)), np.zeros((lie.size, 2))
    for name in np.unique(lie):
        for number in np.unique(option[lie == name]):
            here = np.flatnonzero((lie == name) & (option == number))
            of = options[str(name)][int(number)]
            pick = rng.choice(of.landings.right.size, here.size, p=of.landings.share)
            right, along = of.landings.right[pick], of.landings.along[pick]
            sine, cosine = np.sin(aim[here]), np.cos(aim[here])
            rest[here] = np.column_stack([sine * along + cosine * right, cosine * along - sine * right])
            carry[here] = rest[here] * of.flight.carry_share
    return carry, rest


def _at_rest(
    hole: Hole, from_x: Floats, from_y: Floats, carry: Floats, rest: Floats
) -> tuple[Floats, Floats, npt.NDArray[np.str_]]:
    """Where balls come to rest: the first water or sand from the landing on, else the end of the run."""
    x, y = from_x + carry[:, 0], from_y + carry[:, 1]
    kind = hole.kinds(x, y)
    stops = ("bunker", "water_hazard", "lateral_water_hazard")
    running = np.flatnonzero(~np.isin(kind, (*stops, "trees")))
    run = rest - carry
    steps = int(np.ceil(np.hypot(*run.T).max(initial=0.0) / RUN_STEP)) + 1
    for step in range(1, steps + 1):
        here_x = from_x[running] + carry[running, 0] + run[running, 0] * step / steps
        here_y = from_y[running] + carry[running, 1] + run[running, 1] * step / steps
        found = hole.kinds(here_x, here_y)
        x[running], y[running], kind[running] = here_x, here_y, found
        running = running[~np.isin(found, stops)]
    return x, y, kind


def _before_water(hole: Hole, from_x: Floats, from_y: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """The dry place next to where the line of each shot last entered the water that it ended in."""
    length = np.hypot(x - from_x, y - from_y)
    found_x, found_y = from_x.copy(), from_y.copy()
    active = np.arange(x.size)
    for back in np.arange(0.5, float(length.max()) + 0.5, 0.5):
        share = np.maximum(1 - back / length[active], 0.0)
        here_x = from_x[active] + share * (x[active] - from_x[active])
        here_y = from_y[active] + share * (y[active] - from_y[active])
        dry = ~np.isin(hole.kinds(here_x, here_y), ("water_hazard", "lateral_water_hazard"))
        found_x[active[dry]], found_y[active[dry]] = here_x[dry], here_y[dry]
        active = active[~dry]
        if not active.size:
            break
    return found_x, found_y
