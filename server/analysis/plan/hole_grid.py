"""A hole as the solver sees it: a coarse raster of what lies where, nodes at which a shot may be played, directions to
play it in, and what becomes of a ball that lands somewhere on its way in one of those directions.

Cells of 2 yd are sampled from the half-yard raster, one of each 4 by 4, which one changing from cell to cell so that
an edge is where it is on average. Nodes are the middles of 2 by 2 cells. A hole that would have more than `MOST_NODES`
nodes gets wider cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ground import OUT, RED, YELLOW, Ground
from server.analysis.plan.position_value import FARTHEST_BACK_YD, LEAST_YD, TWO_CLUB_LENGTHS_YD
from server.game.lies import CODE, FAIRWAY, FRINGE, GREEN, RECOVERY, ROUGH, SAND, TEE
from server.game.ranges import FARTHEST_YD

LIES: Final = (FAIRWAY, ROUGH, SAND, RECOVERY)
"""The lies from which a shot is planned, in the order of all arrays over lies. Tee and fringe are played as fairway."""

CODES: Final = {lie: (CODE[lie],) for lie in (*LIES, GREEN)} | {FAIRWAY: (CODE[TEE], CODE[FAIRWAY], CODE[FRINGE])}
"""Lie -> the codes of the ground that are played, or putted, as it."""

CELL: Final = 2.0
"""Yards; the nodes lie twice as far apart."""
MOST_NODES: Final = 9000
AROUND_PLAY_YD: Final = 60.0
"""The grid reaches so far beyond tee, fairways and green."""
STEP_DEG: Final = 1.5
MOST_AIMS: Final = 61
BESIDE_DEG: Final = 8.0
"""Directions reach so far beyond those that point at the hole or at a fairway."""
FARTHEST_BEARING_YD: Final = 80.0
"""Nodes nearer the hole than this do not widen the directions."""

Raster = npt.NDArray[np.float32]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class HoleGrid:
    """The grid of a hole. Cells: (rows, columns), away from the tee; nodes: half as many each way.

    `code`, `tree_yd`: what lies in a cell and how high its trees are; (`left`, `near`): the grid's corner; `cell`: its
    cells, yards; `aims`: directions, radians clockwise from y, ascending (d,); `away`: cell to hole, yards.
    """

    code: npt.NDArray[np.int8]
    tree_yd: npt.NDArray[np.uint8] | None
    left: float
    near: float
    cell: float
    pin: tuple[float, float]
    aims: Floats
    away: Raster

    @property
    def node_shape(self) -> tuple[int, int]:
        """Rows and columns of the nodes."""
        rows, columns = self.code.shape
        return rows // 2, columns // 2

    @property
    def spacing(self) -> float:
        """Yards between nodes."""
        return 2 * self.cell

    def nodes(self) -> tuple[Floats, Floats]:
        """x of every column of nodes, y of every row."""
        rows, columns = self.node_shape
        x = self.left + (np.arange(columns, dtype=np.float64) + 0.5) * self.spacing
        return x, self.near + (np.arange(rows, dtype=np.float64) + 0.5) * self.spacing

    def node_away(self) -> Floats:
        """Yards from every node to the hole, within the range of distances."""
        x, y = self.nodes()
        away = np.hypot(x[None, :] - self.pin[0], y[:, None] - self.pin[1])
        return np.asarray(np.clip(away, LEAST_YD, FARTHEST_YD))

    def wet(self) -> Bools:
        """Cells in a penalty area."""
        return np.asarray((self.code == RED) | (self.code == YELLOW))

    def steps(self, aims: Floats, yards: float) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
        """`yards` yards in directions (d,) rounded to cells up and to the right."""
        up, right = (np.round(turn(aims) * yards / self.cell) for turn in (np.cos, np.sin))
        return up.astype(np.int32), right.astype(np.int32)

    def moved(self, aim: float, yards: float) -> npt.NDArray[np.int32]:
        """For every cell the flat cell `yards` yards from it in the direction `aim`; at the edge beyond it."""
        rows, columns = self.code.shape
        (up,), (right,) = self.steps(np.array([aim]), yards)
        row = np.clip(np.arange(rows, dtype=np.int32) + up, 0, rows - 1) * columns
        column = np.clip(np.arange(columns, dtype=np.int32) + right, 0, columns - 1)
        return np.asarray(row[:, None] + column[None, :], dtype=np.int32)

    def coarser(self) -> HoleGrid:
        """The same hole with cells twice as wide: one of each 2 by 2, which one changing from cell to cell."""
        row, column = np.indices((self.code.shape[0] // 2, self.code.shape[1] // 2))
        pick = 2 * row + column % 2, 2 * column + row % 2
        tops = None if self.tree_yd is None else self.tree_yd[pick]
        away = self.node_away().astype(np.float32)
        return HoleGrid(self.code[pick], tops, self.left, self.near, 2 * self.cell, self.pin, self.aims, away)

    def on_cells(self, nodes: Raster) -> Raster:
        """Values of nodes at every cell, linear between them: (..., rows, columns) of nodes to the same of cells."""
        up, across = (_between(count) for count in self.node_shape)
        return np.asarray(up @ nodes @ across.T, dtype=np.float32)

    def on_nodes(self, cells: Raster) -> Raster:
        """The mean of the four cells around each node."""
        found: Raster = cells[..., ::2, ::2] + cells[..., 1::2, ::2]
        found += cells[..., ::2, 1::2]
        found += cells[..., 1::2, 1::2]
        found *= np.float32(0.25)
        return found


def _between(count: int) -> Raster:
    """(2 count, count) weights of a linear interpolation from nodes to the two cells of each; flat beyond the ends."""
    place = (np.arange(2 * count) - 0.5) / 2
    low = np.clip(np.floor(place).astype(np.intp), 0, max(count - 2, 0))
    share = np.clip(place - low, 0.0, 1.0) if count > 1 else np.zeros(2 * count)
    found = np.zeros((2 * count, count), dtype=np.float32)
    found[np.arange(2 * count), low] = 1 - share
    found[np.arange(2 * count), np.minimum(low + 1, count - 1)] += share
    return found


def hole_grid(
    ground: Ground,
    start: tuple[float, float],
    pin: tuple[float, float],
    *,
    cell: float = CELL,
    aims: Floats | None = None,
) -> HoleGrid:
    """The grid of a hole for shots from `start` on. `cell`: yards, the least; `aims`: directions, those that lead along
    the hole when None."""
    x, y = ground.centres()
    row, column = np.nonzero(np.isin(ground.code, (CODE[FAIRWAY], CODE[FRINGE], CODE[GREEN])))
    played_x, played_y = np.r_[x[column], start[0], pin[0]], np.r_[y[row], start[1], pin[1]]
    box = [float(played_x.min()), float(played_y.min()), float(played_x.max()), float(played_y.max())]
    left, near = max(box[0] - AROUND_PLAY_YD, ground.left), max(box[1] - AROUND_PLAY_YD, ground.near)
    right, far = min(box[2] + AROUND_PLAY_YD, float(x[-1])), min(box[3] + AROUND_PLAY_YD, float(y[-1]))
    cell = max(cell, float(np.sqrt((right - left) * (far - near) / MOST_NODES) / 2))
    shape = tuple(4 * max(1, int(np.ceil(size / (4 * cell)))) for size in (far - near, right - left))
    code, tops = _sampled(ground, left, near, cell, shape)
    across: npt.NDArray[np.floating] = left + (np.arange(shape[1]) + 0.5) * cell - pin[0]
    up: npt.NDArray[np.floating] = near + (np.arange(shape[0]) + 0.5) * cell - pin[1]
    away = np.clip(np.hypot(across[None, :], up[:, None]), LEAST_YD, FARTHEST_YD).astype(np.float32)
    along = (
        _aims(code, across + pin[0], up + pin[1], start, pin) if aims is None else np.asarray(aims, dtype=np.float64)
    )
    return HoleGrid(code, tops, left, near, cell, pin, along, away)


def _sampled(
    ground: Ground, left: float, near: float, cell: float, shape: tuple[int, ...]
) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.uint8] | None]:
    """Codes and heights of trees of the cells (top of this module)."""
    row, column = np.indices(shape)
    spread = 0.25 * cell * np.arange(4) + 0.125 * cell
    x = left + column * cell + spread[row % 4]
    y = near + row * cell + spread[column % 4]
    place = ground.places(x, y)
    tops = None if ground.tree_yd is None else ground.tree_yd.ravel()[place]
    return ground.code.ravel()[place], tops


def _aims(
    code: npt.NDArray[np.int8],
    x: npt.NDArray[np.floating],
    y: npt.NDArray[np.floating],
    start: tuple[float, float],
    pin: tuple[float, float],
) -> Floats:
    """Directions from the places one plays from to the hole, from the start to fairways, and a little more."""
    row, column = np.nonzero(np.isin(code, (CODE[FAIRWAY], CODE[FRINGE])))
    bearing = [np.arctan2(pin[0] - start[0], pin[1] - start[1])]
    if row.size:
        px, py = x[column], y[row]
        far = np.hypot(px - pin[0], py - pin[1]) > FARTHEST_BEARING_YD
        bearing += [*np.arctan2(pin[0] - px[far], pin[1] - py[far])]
        ahead = np.hypot(px - start[0], py - start[1]) > FARTHEST_BEARING_YD
        bearing += [*np.arctan2(px[ahead] - start[0], py[ahead] - start[1])]
    middle = bearing[0]
    turned = (np.array(bearing) - middle + np.pi) % (2 * np.pi) - np.pi
    low, high = turned.min() - np.radians(BESIDE_DEG), turned.max() + np.radians(BESIDE_DEG)
    count = int(min(MOST_AIMS, np.ceil((high - low) / np.radians(STEP_DEG)) + 1))
    return np.asarray(middle + np.linspace(low, high, count))


@dataclass(frozen=True, eq=False)
class Near:
    """What is not planned but valued by curves: on the green, and nearer the hole than `within_yd`. `value`: of every
    cell as it lies (0 elsewhere); `known`: which cells; `nodes`: of every lie and node, NaN where a shot is planned."""

    within_yd: float
    value: Raster
    known: Bools
    nodes: Raster


def by_curves(grid: HoleGrid, curves: Baseline) -> Raster:
    """What a baseline expects from every node and lie: (lies, rows, columns)."""
    away = grid.node_away()
    return np.stack([curves.expected(lie, away.ravel()).reshape(away.shape) for lie in LIES]).astype(np.float32)


def near_values(grid: HoleGrid, curves: Baseline, within_yd: float) -> Near:
    """Values on the green and within `within_yd` yards of the hole by the baseline `curves`.

    ValueError when it has no value for a lie of the hole.
    """
    known = (grid.away < within_yd) | (grid.code == CODE[GREEN])
    known &= grid.code < RED
    value = np.zeros(grid.code.shape, dtype=np.float32)
    value[known] = curves.grid.expected(grid.code[known], grid.away[known].astype(np.float64))
    if np.isnan(value).any():
        raise ValueError(f"baseline {curves.id}: it has no value for a lie of this hole")
    nodes = by_curves(grid, curves)
    nodes[:, grid.node_away() >= within_yd] = np.nan
    return Near(within_yd, value, known, nodes)


def drops(grid: HoleGrid, aims: Floats) -> list[npt.NDArray[np.int32]]:
    """For each of the directions, for every wet cell in flat order, the flat cell where a ball played that way is
    dropped; -1 where there is none but stroke and distance. Red: two club-lengths before the water, unless that is
    nearer the hole; yellow, and then red too: back on the line from the hole (Rules of Golf 2023, rule 17.1d)."""
    rows, columns = grid.code.shape
    in_water = grid.wet()
    fair_ground = ~in_water & (grid.code != OUT)
    wet = np.flatnonzero(in_water.ravel()).astype(np.int32)
    row, column = (place.astype(np.float64) for place in np.divmod(wet, columns))
    away, red, playable = grid.away.ravel(), grid.code.ravel() == RED, grid.code.ravel() < RED
    # A ball enters water by a wet cell: the line back from the hole is the cell's, whatever the direction of play.
    pin_row, pin_column = (grid.pin[1] - grid.near) / grid.cell - 0.5, (grid.pin[0] - grid.left) / grid.cell - 0.5
    line = np.maximum(np.hypot(row - pin_row, column - pin_column), 1e-9)
    unit = (row - pin_row) / line, (column - pin_column) / line
    behind = np.full(grid.code.size, -1, dtype=np.int32)
    _, behind[wet] = _back(in_water, fair_ground, wet, unit, int(FARTHEST_BACK_YD / grid.cell))
    before = max(0, round(TWO_CLUB_LENGTHS_YD / grid.cell) - 1)
    found = []
    for aim in aims:
        up, right = float(np.cos(aim)), float(np.sin(aim))
        entry, dry = _back(in_water, fair_ground, wet, (-up, -right), grid.code.size)
        dry_row, dry_column = np.divmod(dry, columns)
        aside_row = np.clip(np.round(dry_row - up * before), 0, rows - 1)
        aside_column = np.clip(np.round(dry_column - right * before), 0, columns - 1)
        aside = (aside_row * columns + aside_column).astype(np.int32)
        fair = (dry >= 0) & red[entry] & playable[aside] & (away[aside] >= away[entry] - grid.cell / 2)
        found.append(np.where(fair, aside, behind[entry]).astype(np.int32))
    return found


def _back(
    in_water: Bools,
    fair_ground: Bools,
    cells: npt.NDArray[np.int32],
    unit: tuple[Floats, Floats] | tuple[float, float],
    most: int,
) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Walk from wet flat cells in a direction, one for all or each its own, until it is dry and in bounds: the last wet
    cell before that, and that cell; -1 where none is found within `most` cells or the grid ends. `in_water`,
    `fair_ground`: the cells of the grid, shape (rows, columns), that are wet, and that are dry and in bounds."""
    rows, columns = in_water.shape
    wet, fair = in_water.ravel(), fair_ground.ravel()
    last, found = cells.copy(), np.full(cells.size, -1, dtype=np.int32)
    active = np.arange(cells.size)
    row, column = (place.astype(np.float64) for place in np.divmod(cells, columns))
    up, right = (np.broadcast_to(np.asarray(one, dtype=np.float64), cells.shape) for one in unit)
    for step in range(1, min(most, rows + columns) + 1):
        to_row, to_column = np.round(row + up * step), np.round(column + right * step)
        inside = (to_row >= 0) & (to_row < rows) & (to_column >= 0) & (to_column < columns)
        place = np.where(inside, to_row * columns + to_column, 0).astype(np.int32)
        dry, still_wet = inside & fair[place], inside & wet[place]
        found[active[dry]] = place[dry]
        last[active[still_wet]] = place[still_wet]
        on = inside & ~dry
        active, row, column, up, right = (kept[on] for kept in (active, row, column, up, right))
        if not active.size:
            break
    return last, found
