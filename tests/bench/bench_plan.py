"""Speed of a tee plan: `python -m tests.bench.bench_plan [--points N] [--runs N]`, and --clubs, --aims, --landings.

14 clubs by 41 aims by 2,000 landings on a hole of 18 polygons, the value of every place and 200 drawn patterns of each
club included, beside point in polygon by shapely's prepared geometries on the same landings; the same with many more
points in every polygon; and what preparing a hole takes once. Medians of runs in one process, by the clock and by the
processor: on a busy machine the second is the better measure. Never run as a test.
"""

from __future__ import annotations

import argparse
import os
import platform
import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

import numpy as np
import shapely

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.plan.flight import flight_of
from server.analysis.plan.ground import Ground, prepare
from server.analysis.plan.landings import own_landings, stated
from server.analysis.plan.position_value import position_values
from server.analysis.plan.priors import Skill, prior_of
from server.analysis.plan.tee_plan import Option, plan
from server.game.hole_maps import Feature, feature, oval, polygon

BAR_S = 0.5
LENGTH_YD = 430.0
OWN_SHOTS = 100


def hole(points: int) -> list[Feature]:
    """A hole of 18 polygons with about `points` points each: fairway, green, trees, water, out of bounds, bunkers."""

    def strip(golf: str, left: float, right: float, near: float, far: float) -> Feature:
        ring = shapely.LinearRing([(left, near), (right, near), (right, far), (left, far)])
        dense = shapely.segmentize(ring, ring.length / max(points, 4))
        return feature(golf, list(dense.coords))

    far = LENGTH_YD + 60
    found = [
        strip("tee", -3, 3, -5, 5),
        strip("fairway", -16, 16, 150, LENGTH_YD - 16),
        feature("green", oval(0, LENGTH_YD, 13, 15, points)),
        strip("out_of_bounds", 45, 160, -20, far),
        strip("lateral_water_hazard", -90, -34, 180, 320),
        strip("water_hazard", -20, 20, LENGTH_YD - 45, LENGTH_YD - 25),
        strip("trees", 32, 45, -20, far),
        strip("trees", -120, -32, -20, 170),
    ]
    places = [(-22, 260), (21, 250), (24, 285), (-20, 300), (19, 330), (-17, LENGTH_YD - 8), (17, LENGTH_YD - 3)]
    places += [(0, LENGTH_YD + 22), (-14, LENGTH_YD + 14), (22, 210)]
    return found + [feature("bunker", oval(x, y, 5, 6, points)) for x, y in places]


def clubs(count: int, landings: int) -> list[Option]:
    """Options of `count` clubs, own shots smoothed and mixed with the prior."""
    made = []
    for place, reach in enumerate(np.linspace(80, 276, count)):
        own = np.column_stack(stated(Skill(), float(reach), OWN_SHOTS, seed=place + 9))
        flight = flight_of("driver" if reach > 260 else "wood" if reach > 225 else "iron" if reach > 130 else "wedge")
        known = own_landings(own, prior_of(Skill()), landings)
        made.append(Option(f"club {place}", known, float(reach), {"shots": OWN_SHOTS}, flight))
    return made


def planned(ground: Ground, baseline: Baseline, options: list[Option], aims: int) -> dict[str, object]:
    """The whole plan of a tee shot on a prepared hole."""
    pin = (0.0, LENGTH_YD)
    return plan(position_values(ground, baseline, (0.0, 0.0), "tee", pin), (0.0, 0.0), pin, options, aims=aims)


def inside_by_shapely(features: list[Feature], options: list[Option], aims: int) -> int:
    """Point in polygon for the same landings: which of the polygons holds each. Returns how many lie in any."""
    shapes = [polygon(found) for found in features]
    for shape in shapes:
        shapely.prepare(shape)
    held = 0
    for option in options:
        turns = np.arctan2((np.arange(aims) - (aims - 1) / 2) * 2.0, option.reach_yd)[:, None]
        x = (np.sin(turns) * option.landings.along + np.cos(turns) * option.landings.right).ravel()
        y = (np.cos(turns) * option.landings.along - np.sin(turns) * option.landings.right).ravel()
        inside = np.zeros(x.size, dtype=bool)
        for shape in shapes:
            inside |= shapely.contains_xy(shape, x, y)
        held += int(inside.sum())
    return held


class Seconds(NamedTuple):
    """Median seconds of a piece of work, by the clock and by the processor (all threads)."""

    clock: float
    processor: float

    def __str__(self) -> str:
        return f"{self.clock * 1000:8.1f} ms by the clock {self.processor * 1000:8.1f} ms by the processor"


@dataclass(frozen=True)
class Times:
    """The plan with few and with many points, shapely on the same landings, preparing with both."""

    plan: Seconds
    plan_many_points: Seconds
    shapely: Seconds
    prepare: Seconds
    prepare_many_points: Seconds


def timed(work: Callable[[], object], runs: int) -> Seconds:
    """Medians of some runs."""
    taken = []
    for _ in range(runs):
        start = time.perf_counter(), time.process_time()
        work()
        taken.append((time.perf_counter() - start[0], time.process_time() - start[1]))
    return Seconds(*(median(column) for column in zip(*taken, strict=True)))


def measure(count: int, aims: int, landings: int, points: int, runs: int) -> Times:
    """Everything in one run."""
    baseline = load_baseline()
    few, many = hole(16), hole(points)
    ground, dense = prepare(few), prepare(many)
    options = clubs(count, landings)
    return Times(
        timed(lambda: planned(ground, baseline, options, aims), runs),
        timed(lambda: planned(dense, baseline, options, aims), runs),
        timed(lambda: inside_by_shapely(few, options, aims), max(1, runs // 5)),
        timed(lambda: prepare(few), runs),
        timed(lambda: prepare(many), runs),
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_plan", description="Speed of a tee plan.")
    for name, usual in (("clubs", 14), ("aims", 41), ("landings", 2000), ("points", 270), ("runs", 15)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    given = parser.parse_args()
    found = measure(given.clubs, given.aims, given.landings, given.points, given.runs)
    total = sum(len(entry["geometry"]["coordinates"][0]) for entry in hole(given.points))
    print(f"{given.clubs} clubs by {given.aims} aims by {given.landings} landings, 18 polygons; {platform.machine()}")
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores, numpy {np.__version__}, {given.runs} runs")
    print(f"plan on a prepared hole         {found.plan}   (bar {BAR_S * 1000:.0f} ms)")
    print(f"the same, {total:5d} points in all   {found.plan_many_points}")
    print(f"shapely on the same landings    {found.shapely}")
    print(f"preparing the hole once         {found.prepare}")
    print(f"the same, {total:5d} points in all   {found.prepare_many_points}")
    ratio = found.shapely.processor / found.plan.processor
    print(f"point in polygon by shapely takes {ratio:.1f} times as much of the processor as the whole plan")


if __name__ == "__main__":
    main()
