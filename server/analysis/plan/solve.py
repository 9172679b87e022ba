"""A hole solved backwards: what every place of it is worth to this player, whose next shots are their own.

    V(place, lie) = min over club, shape and direction of 1 + mean of V where the ball comes to rest

(M. Broadie and S. Ko, "A simulation model to analyze the impact of distance and direction on golf scores", Proceedings
of the 2009 Winter Simulation Conference, for the model.) On the green and nearer the hole than the shortest full swing
V is the player's own curve. Where trees leave no way along the hole a ball is punched out sideways: V is at most a
stroke more than from the rough as far from the hole. Out of bounds and water without a drop repeat the shot, so that
with p their share

    V = (1 + p + mean over all balls of V where they are in play) / (1 - p).

Solved on a grid (`hole_grid`) by value iteration from the curves on. For one club in one direction the mean over all
nodes at once is a correlation of the carries with what becomes of a ball that lands in each cell, done by Fast Fourier
transform. A coarser grid comes first: only the options and directions that come near the best somewhere on it are tried
on the fine one, and after the first sweep there only those that came near it again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import USUAL_DAY, Day
from server.analysis.plan.hole_grid import LIES, HoleGrid, Near, Raster
from server.analysis.plan.sweeps import Sweeps
from server.analysis.plan.swings import BALLS, COARSE_BALLS
from server.analysis.plan.tee_plan import Option
from server.game.lies import FAIRWAY, FRINGE, TEE

PLAYED_AS: Final = {TEE: FAIRWAY, FRINGE: FAIRWAY}
MOST_SWEEPS: Final = 12
PRUNED_AFTER: Final = (1, 3)
"""Sweeps on the coarse grid after which options and directions are dropped."""
PRUNE_WITHIN: Final = (0.15, 0.03)
"""An option in a direction that is then nowhere within so many strokes of the best is not tried any more."""
SETTLED: Final = 0.002
"""Strokes: the sweeps end when no place changes by more."""
COARSE_PART: Final = 0.4
"""Share of the work, for reporting progress."""

Progress = Callable[[float], None]


class StoppedError(Exception):
    """Solving was stopped from outside."""


@dataclass(frozen=True, eq=False)
class Solved:
    """A solved hole. `value`: strokes to hole out of every lie and node (lies, rows, columns); `option`, `aim`: the
    best option's place in the list of its lie and its direction, radians, of the same shape (-1 and NaN where curves
    apply); `cells`: value of every cell as it lies; `sweeps`: how many were made; `settled`: whether they ended by
    themselves."""

    grid: HoleGrid
    near: Near
    value: Raster
    option: npt.NDArray[np.int16]
    aim: Raster
    cells: Raster
    sweeps: int
    settled: bool

    def at(self, x: Floats, y: Floats, lie: str) -> Floats:
        """Value of a lie at points, any shape: linear between nodes, by the nearest edge outside."""
        place = LIES.index(PLAYED_AS.get(lie, lie))
        rows, columns = self.grid.node_shape
        row = np.clip((y - self.grid.near) / self.grid.spacing - 0.5, 0, rows - 1)
        column = np.clip((x - self.grid.left) / self.grid.spacing - 0.5, 0, columns - 1)
        r, c = np.minimum(row.astype(int), max(rows - 2, 0)), np.minimum(column.astype(int), max(columns - 2, 0))
        dr, dc = row - r, column - c
        r1, c1 = np.minimum(r + 1, rows - 1), np.minimum(c + 1, columns - 1)
        of = self.value[place]
        low = (1 - dc) * of[r, c] + dc * of[r, c1]
        high = (1 - dc) * of[r1, c] + dc * of[r1, c1]
        return np.asarray((1 - dr) * low + dr * high, dtype=np.float64)

    def next_at(self, x: Floats, y: Floats, lie: str) -> npt.NDArray[np.int16]:
        """The option that is best from a lie at points, its place in the list of the lie; -1 where curves apply."""
        rows, columns = self.grid.node_shape
        row = np.clip(((y - self.grid.near) / self.grid.spacing).astype(int), 0, rows - 1)
        column = np.clip(((x - self.grid.left) / self.grid.spacing).astype(int), 0, columns - 1)
        return np.asarray(self.option[LIES.index(PLAYED_AS.get(lie, lie)), row, column])


def solve(
    grid: HoleGrid,
    options: Mapping[str, Sequence[Option]],
    curves: Baseline,
    within_yd: float,
    *,
    day: Day = USUAL_DAY,
    progress: Progress | None = None,
) -> Solved:
    """Solve a hole. `options`: of every lie of `hole_grid.LIES`; `curves`: the player's own expected strokes, which
    hold on the green and within `within_yd` yards; `progress`: called with the share done, and may raise
    `StoppedError`.

    ValueError when the curves have no value for a lie, or no lie has an option.
    """
    if not any(options.values()):
        raise ValueError("there is no club to solve the hole with")
    part = _parts(progress)
    coarse = Sweeps(grid.coarser(), options, curves, within_yd, day, balls=COARSE_BALLS)
    for sweep in range(1, max(PRUNED_AFTER) + 1):
        within = PRUNE_WITHIN[PRUNED_AFTER.index(sweep)] if sweep in PRUNED_AFTER else None
        coarse.sweep(
            part(COARSE_PART * (sweep - 1) / max(PRUNED_AFTER), COARSE_PART * sweep / max(PRUNED_AFTER)), within
        )
    begun = coarse.begun()
    del coarse  # it holds as much as the fine one
    fine = Sweeps(grid, options, curves, within_yd, day, balls=BALLS, begun=begun)
    done, changed, sweeps = COARSE_PART, np.inf, 0
    while changed >= SETTLED and sweeps < MOST_SWEEPS:
        sweeps += 1
        after = done + (1 - done) / 2
        changed = fine.sweep(part(done, after), PRUNE_WITHIN[-1] if sweeps == 1 else None)
        done = after
    part(0.0, 1.0)(1.0)
    return Solved(grid, fine.near, fine.value, *fine.best(), fine.cells(), sweeps, bool(changed < SETTLED))


def _parts(progress: Progress | None) -> Callable[[float, float], Progress]:
    """Progress of a part of the work as progress of all of it."""

    def part(before: float, after: float) -> Progress:
        def report(share: float) -> None:
            if progress is not None:
                progress(before + share * (after - before))

        return report

    return part
