"""What a bag plays on a hole, as a policy that `played_out` plays ball by ball."""

from __future__ import annotations

from functools import partial

import numpy as np

from server.analysis.course_bag.aimed import Aimed
from server.analysis.course_bag.bags import HoleBags, Solution
from server.analysis.course_bag.course import near_yd
from server.analysis.course_bag.swings import Swings
from server.analysis.course_bag.table import Player, table_of
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.flight import USUAL_DAY
from server.analysis.plan.hole_grid import LIES, hole_grid
from server.analysis.plan.hole_to_play import HoleToPlay
from tests.analysis.played_out import Policy


class OneHole:
    """A hole and a bag, ready to be solved and played out."""

    def __init__(self, hole: HoleToPlay, swings: Swings, curves: Baseline) -> None:
        self.hole, self.swings, self.near = hole, swings, near_yd(swings)
        grid = hole_grid(hole.ground, hole.start, hole.pin).coarser()
        tell = partial(min, 1.0)
        self.aimed = Aimed(grid, swings.options(), curves, self.near, USUAL_DAY, tell)
        self.player = Player(self.aimed, swings, (curves, curves, 0.0), hole.start, USUAL_DAY)
        self.table = table_of(self.player, tell, len(swings.clubs))
        self.bags = HoleBags(self.table, len(swings.clubs))

    def policy(self, solution: Solution) -> Policy:
        """What the solution plays from anywhere; where it has no place, what the whole hole's does. The tee's swings
        must be those from the fairway."""
        grid, nodes = self.aimed.grid, self.player.nodes
        place_of = np.full(nodes * len(LIES), -1)
        place_of[self.table.keys[1:]] = np.arange(1, self.table.places)
        best, aims = self.aimed.best()

        def play(x, y, lie):  # type: ignore[no-untyped-def]
            rows, columns = grid.node_shape
            row = np.clip((y - grid.near) / grid.spacing, 0, rows - 1).astype(int)
            column = np.clip((x - grid.left) / grid.spacing, 0, columns - 1).astype(int)
            number = np.array([LIES.index(str(one)) for one in lie])
            place = place_of[number * nodes + row * columns + column]
            place[(x == self.hole.start[0]) & (y == self.hole.start[1])] = 0
            chosen = np.where(place >= 0, solution.row[place], -1)
            swing = np.where(chosen >= 0, self.table.swing[chosen, 1], best[number, row, column])
            aim = np.where(chosen >= 0, grid.aims[self.table.aim[chosen]], aims[number, row, column])
            straight = np.arctan2(grid.pin[0] - x, grid.pin[1] - y)
            return np.maximum(swing, 0).astype(np.intp), np.where(np.isnan(aim), straight, aim).astype(np.float64)

        return play
