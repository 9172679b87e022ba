"""Speed of solving a hole: `python -m tests.bench.bench_solve [--runs N]`.

14 clubs and three shapes of three of them in every direction of the grid on a hole of 430 yd with trees, water and out
of bounds, beside a plain value iteration in numpy over the same grid, options and directions, which plays every ball of
every option from every node in turn; and the same hole with cells half as wide, for how the cost grows. Medians of runs
in one process, by the processor. Never run as a test.
"""

from __future__ import annotations

import argparse
import os
import resource
from dataclasses import replace
from typing import Final

import numpy as np

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.plan.flight import flown
from server.analysis.plan.ground import prepare
from server.analysis.plan.hole_grid import LIES, HoleGrid, hole_grid
from server.analysis.plan.landings import Landings
from server.analysis.plan.solve import Solved, solve
from server.analysis.plan.swings import BALLS
from server.analysis.plan.tee_plan import Option
from tests.analysis.made_bags import from_every_lie
from tests.bench.bench_plan import LENGTH_YD, clubs, hole, timed

BAR_S: Final = 2.0
WITHIN_YD: Final = 80.0


def bag() -> dict[str, list[Option]]:
    """14 clubs, and the three longest as draw and fade too."""
    made = clubs(14, 2000)
    for club in made[-3:]:
        for shape, yards in (("draw", -6.0), ("fade", 6.0)):
            turned = replace(club.landings, right=club.landings.right + yards)
            made.append(replace(club, name=f"{club.name}, {shape}", landings=turned))
    return from_every_lie(made)


def plain_sweep(grid: HoleGrid, options: list[Option], cells: np.ndarray, stride: int) -> np.ndarray:
    """One sweep from the fairway as one would write it first: every ball of every option from every `stride`-th node,
    no trees and no run. Returns the best value of those nodes."""
    x, y = grid.nodes()
    x, y = np.meshgrid(x, y)
    x, y = x.ravel()[::stride], y.ravel()[::stride]
    best = np.full(x.size, np.inf)
    rows, columns = grid.code.shape
    for option in options:
        landings: Landings = option.landings
        shots = flown((0.0, 0.0), grid.aims, landings.right[:BALLS], landings.along[:BALLS], option.flight)
        for number in range(grid.aims.size):
            row = ((y[:, None] + shots.y[number] - grid.near) / grid.cell).astype(np.int32).clip(0, rows - 1)
            column = ((x[:, None] + shots.x[number] - grid.left) / grid.cell).astype(np.int32).clip(0, columns - 1)
            np.minimum(best, 1 + cells[row, column].mean(axis=1), out=best)
    return best


def solved(grid: HoleGrid, options: dict[str, list[Option]], curves: Baseline) -> Solved:
    """The whole solution."""
    return solve(grid, options, curves, WITHIN_YD)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_solve", description="Speed of solving a hole.")
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--stride", type=int, default=40, help="every so-manieth node of the plain sweep")
    given = parser.parse_args()
    curves, options = load_baseline(), bag()
    ground, start, pin = prepare(hole(16)), (0.0, 0.0), (0.0, LENGTH_YD)
    grid, fine = (hole_grid(ground, start, pin, cell=cell) for cell in (2.0, 1.6))
    found = solved(grid, options, curves)
    took = timed(lambda: solved(grid, options, curves), given.runs)
    finer = timed(lambda: solved(fine, options, curves), max(1, given.runs // 2))
    plain = timed(lambda: plain_sweep(grid, options["fairway"], found.cells, given.stride), 1)
    nodes = grid.node_shape[0] * grid.node_shape[1]
    whole = plain.processor * given.stride * len([lie for lie in LIES if lie != "recovery"]) * found.sweeps
    print(f"{len(options['fairway'])} options by {grid.aims.size} directions, {nodes} nodes, {found.sweeps} sweeps")
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores, numpy {np.__version__}, {given.runs} runs")
    print(f"hole solved           {took}   (bar {BAR_S * 1000:.0f} ms)")
    fine_nodes = fine.node_shape[0] * fine.node_shape[1]
    print(f"{fine_nodes / nodes:.2f} times the nodes  {finer}   {finer.processor / took.processor:.2f} times as long")
    print(
        f"plain value iteration would take {whole:.0f} s of the processor: {whole / took.processor:.0f} times as long"
    )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory of the process at its peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
