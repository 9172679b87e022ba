"""What every place of a prepared hole is worth for a shot from one spot: expected strokes from the lie there, and
for a ball in the water one penalty stroke and the drop (Rules of Golf 2023, rule 17.1d).

The ball crossed last where the straight line of the shot entered the water. Red: dropped two club-lengths back along
the shot, if that is dry and not nearer the hole, else as for yellow. Yellow: back on the line from the hole through
the crossing point to the first dry place, at most 100 yd; else stroke and distance. The Committee's local rules come
first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ground import CELL_YD, OUT, RED, YELLOW, Codes, Ground
from server.game.lies import CODE, GREEN
from server.game.ranges import FARTHEST_ON_GREEN_YD, FARTHEST_YD

TWO_CLUB_LENGTHS_YD: Final = 2.5
"""Two drivers of about 45 in (the usual length of a driver, common practice, no source)."""
FARTHEST_BACK_YD: Final = 100
RAY_DEG: Final = 0.1
"""Half a yard at 290 yd."""
LEAST_YD: Final = 0.05
"""A ball nearer the hole is valued from here: E needs a distance above 0."""


CELLS_AT_ONCE: Final = 100_000
RAYS_AT_ONCE: Final = 50
"""The raster is worked through in parts of about this size, so that a large map needs little more memory than its
values."""
DRY: Final = np.iinfo(np.int16).min


Worth = Callable[[Floats, Floats, Codes], Floats]


@dataclass(frozen=True, eq=False)
class PositionValues:
    """Expected strokes of every cell, flat: 0 where out of bounds; `code` flat as well."""

    ground: Ground
    value: Floats
    code: Codes


def position_values(
    ground: Ground, baseline: Baseline, start: tuple[float, float], start_lie: str, pin: tuple[float, float]
) -> PositionValues:
    """The position value of every cell for a shot from `start` (x, y yards) at the hole `pin` (x, y).

    ValueError when the baseline has no value for a lie of the map.
    """

    def by_baseline(x: Floats, y: Floats, code: Codes) -> Floats:
        distance = np.clip(np.hypot(x - pin[0], y - pin[1]), LEAST_YD, FARTHEST_YD)
        found = baseline.grid.expected(code, distance)
        if np.isnan(found).any():
            raise ValueError(f"baseline {baseline.id}: it has no value for a lie of this hole")
        return found

    again = expected_at(baseline, start_lie, float(np.hypot(start[0] - pin[0], start[1] - pin[1])))
    return values_of(ground, by_baseline, again, start, pin)


def values_of(
    ground: Ground, worth: Worth, again: float, start: tuple[float, float], pin: tuple[float, float]
) -> PositionValues:
    """The position value of every cell by a rule for a ball that lies dry. `worth`: x and y (yards) and code of cells,
    (n,) each -> strokes to hole out, (n,); `again`: those of another ball from `start`."""
    x, y = ground.centres()
    columns = x.size
    flat = ground.code.ravel()
    value = np.empty(flat.size)
    for rows in _rows(ground):
        part = slice(rows.start * columns, rows.stop * columns)
        lie = np.where(flat[part] < RED, flat[part], np.int8(CODE[GREEN])).astype(np.int8)
        value[part] = worth(np.tile(x, rows.stop - rows.start), np.repeat(y[rows], columns), lie)
        value[part][flat[part] == OUT] = 0.0
    _worth_in_water(ground, value, again, start, pin)
    return PositionValues(ground, value, flat)


def _rows(ground: Ground) -> Iterator[slice]:
    """The rows of the raster, some at once."""
    rows, columns = ground.code.shape
    step = max(1, CELLS_AT_ONCE // columns)
    return (slice(first, min(first + step, rows)) for first in range(0, rows, step))


def _worth_in_water(
    ground: Ground, value: Floats, again: float, start: tuple[float, float], pin: tuple[float, float]
) -> None:
    """Fill the cells in the water. All cells behind one crossing point on one ray from `start` are worth the same."""
    turns = _turns(ground, start)
    columns, rows = ground.centres()
    for low, high in _groups_of_rays(turns):
        wet = np.flatnonzero((turns >= low) & (turns <= high))
        row, column = np.divmod(wet, columns.size)
        x, y, crossing = _crossings(ground, columns[column], rows[row], turns[wet], start)
        value[wet] = 1.0 + _dropped(ground, value, x, y, start, pin, again)[crossing]


def _turns(ground: Ground, start: tuple[float, float]) -> npt.NDArray[np.int16]:
    """For every wet cell, flat, the ray from `start` on which it lies; `DRY` for the rest."""
    columns, rows = ground.centres()
    turns = np.full(ground.code.shape, DRY, dtype=np.int16)
    for part in _rows(ground):
        code = ground.code[part]
        row, column = np.nonzero((code == RED) | (code == YELLOW))
        angle = np.arctan2(columns[column] - start[0], rows[part][row] - start[1])
        turns[part][row, column] = np.round(np.degrees(angle) / RAY_DEG)
    return turns.ravel()


def _groups_of_rays(turns: npt.NDArray[np.int16]) -> Iterator[tuple[int, int]]:
    """First and last ray of groups that hold so many rays and cells as are worked out at once."""
    half = round(180 / RAY_DEG)
    counts = np.zeros(2 * half + 1, dtype=np.intp)
    for first in range(0, turns.size, CELLS_AT_ONCE):
        part = turns[first : first + CELLS_AT_ONCE]
        counts += np.bincount(part[part != DRY].astype(np.intp) + half, minlength=counts.size)
    taken: list[int] = []
    for ray in np.flatnonzero(counts):
        if taken and (len(taken) == RAYS_AT_ONCE or counts[taken[0] : ray + 1].sum() > CELLS_AT_ONCE):
            yield taken[0] - half, taken[-1] - half
            taken = []
        taken.append(int(ray))
    if taken:
        yield taken[0] - half, taken[-1] - half


def _dropped(
    ground: Ground,
    value: Floats,
    x: Floats,
    y: Floats,
    start: tuple[float, float],
    pin: tuple[float, float],
    again: float,
) -> Floats:
    """Position value of the drop for a ball that crossed into the water at (x, y); `again`: that of another ball from
    `start`."""
    red = ground.codes(x, y) == RED
    dropped = _back_on_line(ground, value, x, y, pin, again)
    away = np.maximum(np.hypot(start[0] - x, start[1] - y), 1e-9)
    near_x = x + (start[0] - x) / away * TWO_CLUB_LENGTHS_YD
    near_y = y + (start[1] - y) / away * TWO_CLUB_LENGTHS_YD
    place = ground.places(near_x, near_y)
    not_nearer = np.hypot(near_x - pin[0], near_y - pin[1]) >= np.hypot(x - pin[0], y - pin[1])
    aside = red & (ground.code.ravel()[place] < RED) & not_nearer
    dropped[aside] = np.minimum(dropped, value[place])[aside]
    return dropped


def expected_at(baseline: Baseline, lie: str, distance_yd: float) -> float:
    """E of one spot, the distance brought into its range."""
    farthest = FARTHEST_ON_GREEN_YD if lie == GREEN else FARTHEST_YD
    return float(baseline.expected(lie, min(max(distance_yd, LEAST_YD), farthest))[0])


def _crossings(
    ground: Ground, x: Floats, y: Floats, turn: npt.NDArray[np.int16], start: tuple[float, float]
) -> tuple[Floats, Floats, npt.NDArray[np.intp]]:
    """Where shots from `start` that end at wet places (x, y) last crossed into the water: the crossing points, and
    for each wet place the number of its own. Rays a tenth of a degree apart (`turn`: each place's), half a yard along
    each."""
    away = np.hypot(x - start[0], y - start[1])
    turns, ray = np.unique(turn, return_inverse=True)
    angles = np.radians(turns * RAY_DEG)
    steps = np.arange(int(away.max() / CELL_YD) + 2, dtype=np.float64) * CELL_YD
    code = ground.codes(start[0] + np.sin(angles)[:, None] * steps, start[1] + np.cos(angles)[:, None] * steps)
    wet = (code == RED) | (code == YELLOW)
    went_in = wet.copy()
    went_in[:, 1:] &= ~wet[:, :-1]
    last = np.maximum.accumulate(np.where(went_in, np.arange(steps.size, dtype=np.int32), 0), axis=1)
    entry = last[ray, (away / CELL_YD).astype(np.intp)]
    keys, crossing = np.unique(ray * steps.size + entry, return_inverse=True)
    angle, far = angles[keys // steps.size], steps[keys % steps.size]
    return start[0] + np.sin(angle) * far, start[1] + np.cos(angle) * far, crossing


def _back_on_line(
    ground: Ground, value: Floats, x: Floats, y: Floats, pin: tuple[float, float], again: float
) -> Floats:
    """Position value of the first dry place in bounds behind each crossing point, seen from the hole; `again`
    where there is none."""
    away = np.maximum(np.hypot(x - pin[0], y - pin[1]), 1e-9)
    unit_x, unit_y = (x - pin[0]) / away, (y - pin[1]) / away
    found = np.full(x.size, again)
    active = np.arange(x.size)
    for step in range(1, FARTHEST_BACK_YD + 1):
        place = ground.places(x[active] + unit_x[active] * step, y[active] + unit_y[active] * step)
        dry = ground.code.ravel()[place] < RED
        found[active[dry]] = value[place[dry]]
        active = active[~dry]
        if not active.size:
            break
    return found
