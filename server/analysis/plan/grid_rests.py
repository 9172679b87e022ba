"""What becomes of balls on a hole's grid, direction by direction: where they run to, which tree catches them, where
they are dropped out of the water, and which trees stand in their way. The same in every sweep of the solver, so each is
worked out once."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.plan.flight import Flight
from server.analysis.plan.ground import OUT
from server.analysis.plan.hole_grid import HoleGrid, Raster, drops
from server.analysis.plan.rest import UNDER_BRANCHES_YD
from server.game.lies import CODE, RECOVERY, SAND

LOOKED_YD: Final = 80.0
"""Trees farther on than this are flown."""

Cells = npt.NDArray[np.int32]


class GridRests:
    """Where balls rest on one grid. `any_lost`: whether a shot is anywhere repeated; `trees`: whether there are any."""

    def __init__(self, grid: HoleGrid) -> None:
        self.grid = grid
        self.out = np.where(grid.code.ravel() == OUT, 1.0, 0.0).astype(np.float32)
        self.wet = np.flatnonzero(grid.wet().ravel())
        self.drops = drops(grid, grid.aims) if self.wet.size else []
        self.any_lost = bool((self.out > 0).any()) or any(bool((place < 0).any()) for place in self.drops)
        self.trees = grid.tree_yd is not None
        self.stops = np.asarray((grid.code == CODE[SAND]) | grid.wet())
        self.first = [_first_tree(grid, float(aim)) for aim in grid.aims] if self.trees else []
        self.rests: dict[tuple[int, int, float], Cells] = {}
        self.runs: dict[tuple[int, int], Cells] = {}
        self.catches: dict[tuple[int, float], Cells] = {}

    def forget(self) -> None:
        """Let go of what was worked out."""
        for kept in (self.rests, self.runs, self.catches):
            kept.clear()

    def value(self, cells: Raster, aim: int) -> Raster:
        """What a ball at rest in each cell is worth that came in a direction, water played: 0 where the shot is
        repeated. Flat."""
        if not self.wet.size:
            return cells.ravel()
        place, value = self.drops[aim], cells.flatten()
        value[self.wet] = np.where(place >= 0, 1 + value[place], 0.0)
        return value

    def lost(self, aim: int) -> Raster:
        """1 where the shot is repeated, by cell; flat."""
        if not self.wet.size:
            return self.out
        found = self.out.copy()
        found[self.wet] = self.drops[aim] < 0
        return found

    def of(self, aim: int, run_yd: int, fall: float) -> Cells:
        """The flat cell in which a ball comes to rest that lands in each cell."""
        key = aim, run_yd, fall
        if key not in self.rests:
            found = self._run(aim, run_yd)
            if self.grid.tree_yd is not None and fall > 0:
                caught = self._caught(aim, fall)
                found = np.where(caught >= 0, caught, found)
            self.rests[key] = found
        return self.rests[key]

    def _run(self, aim: int, run_yd: int) -> Cells:
        """Where a ball runs to from each cell when no tree caught it."""
        if (aim, run_yd) not in self.runs:
            grid, along = self.grid, float(self.grid.aims[aim])
            found = grid.moved(along, run_yd)
            for yards in np.arange(run_yd - grid.cell, 0, -grid.cell) if self.stops.any() else ():
                here = grid.moved(along, yards)
                found = np.where(self.stops.ravel()[here], here, found)
            stays = self.stops | (grid.code == CODE[RECOVERY])
            self.runs[aim, run_yd] = np.where(stays, grid.moved(along, 0.0), found)
        return self.runs[aim, run_yd]

    def _caught(self, aim: int, fall: float) -> Cells:
        """The cell of the tree that catches a ball on its way down to each cell; -1 for none."""
        grid = self.grid
        assert grid.tree_yd is not None
        if (aim, fall) not in self.catches:
            found = np.full(grid.code.shape, -1, dtype=np.int32)
            for yards in np.arange(grid.cell, float(grid.tree_yd.max()) / fall, grid.cell):
                here = grid.moved(float(grid.aims[aim]), -yards)
                found = np.where(grid.tree_yd.ravel()[here] > yards * fall, here, found)
            self.catches[aim, fall] = found
        return self.catches[aim, fall]

    def blocked(
        self, aims: npt.NDArray[np.intp], flight: Flight, carry_yd: float, *, low: bool
    ) -> npt.NDArray[np.bool_]:
        """Where the first tree in a direction is higher than the ball flies there: (d, rows, columns)."""
        found = []
        for aim in aims:
            away, top, wood = self.first[int(aim)]
            height = flight.height(away.astype(np.float64), np.array(carry_yd))
            found.append((wood > UNDER_BRANCHES_YD) if low else (away < carry_yd) & (height < top))
        return np.stack(found)


def _first_tree(grid: HoleGrid, aim: float) -> tuple[Raster, Raster, Raster]:
    """How far from every node the first tree lies in a direction, yards (infinite for none), how high it is, and how
    many of the next `LOOKED_YD` yards are under trees."""
    assert grid.tree_yd is not None
    tops = grid.tree_yd[::2, ::2]
    rows, columns = grid.node_shape
    away = np.full((rows, columns), np.inf, dtype=np.float32)
    high, wood = np.zeros((rows, columns), dtype=np.float32), np.zeros((rows, columns), dtype=np.float32)
    for yards in np.arange(grid.spacing, LOOKED_YD, grid.spacing):
        up, right = round(np.cos(aim) * yards / grid.spacing), round(np.sin(aim) * yards / grid.spacing)
        row = np.clip(np.arange(rows) + up, 0, rows - 1)[:, None]
        column = np.clip(np.arange(columns) + right, 0, columns - 1)[None, :]
        here = tops[row, column]
        first = (here > 0) & np.isinf(away)
        away[first], high[first] = yards, here[first]
        wood += (here > 0) * np.float32(grid.spacing)
    return away, high, wood
