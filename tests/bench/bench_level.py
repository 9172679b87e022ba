"""Speed of level and form: `python -m tests.bench.bench_level [--rounds N] [--courses N] [--runs N]`.

Out of the valued frame of a season: the level with every course, the slope a month, two halves side by side by category
adjusted for courses. Beside it, for the same rounds, one REML fit of courses and days here and by statsmodels'
MixedLM. Never run as a test.
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np
import pandas as pd
import scipy
import statsmodels
from statsmodels.regression.mixed_linear_model import MixedLM

from server.analysis.evidence.level import Rates, level_of, round_rates
from server.analysis.evidence.mixed_model import fit
from server.analysis.evidence.month_trend import month_trend
from server.analysis.evidence.two_spans import compare
from tests.bench.bench_evidence import valued_season
from tests.bench.bench_valuation import SHOTS_A_ROUND

BAR_MS = 100.0


def season(rounds: int, courses: int, seed: int = 7) -> pd.DataFrame:
    """`rounds` invented rounds, two a day, on `courses` courses; courses and days differ by 0.05 strokes a shot."""
    draw = np.random.default_rng(seed)
    valued = valued_season(rounds)
    place = valued["round_id"].cat.codes.to_numpy()
    course = np.concatenate([np.arange(courses), draw.integers(0, courses, rounds)])[:rounds][place]
    days = draw.normal(0, 0.05, rounds // 2 + 1)[place // 2]
    return valued.assign(
        course=pd.Categorical.from_codes(course, [f"course {number}" for number in range(courses)]),
        played_on=pd.Timestamp("2026-03-01") + pd.to_timedelta(7 * (place // 2), "D"),
        strokes_gained=valued["strokes_gained"] + draw.normal(0, 0.05, courses)[course] + days,
    )


def halves(valued: pd.DataFrame) -> Any:
    """The later half beside the earlier one."""
    later = valued["played_on"] > valued["played_on"].median()
    return compare(valued[later], valued[~later], "category")


def theirs(rates: Rates) -> Any:
    """The same model by statsmodels."""
    frame = pd.DataFrame({"y": rates.strokes, "one": 1, "course": rates.course, "day": rates.day})
    parts = {"course": "0 + C(course)", "day": "0 + C(day)"}
    return MixedLM.from_formula("y ~ 1", frame, groups="one", vc_formula=parts, re_formula="0").fit(reml=True)


def ours(rates: Rates) -> Any:
    """One fit with its small-sample interval."""
    found = fit(rates.strokes, np.ones((rates.strokes.size, 1)), [rates.course, rates.day])
    return found, found.contrast([1.0])


def measure(rounds: int, courses: int, runs: int) -> dict[str, float]:
    """Median milliseconds of each way; one run before the first is not counted."""
    valued = season(rounds, courses)
    rates = round_rates(valued)[0]
    ways: dict[str, Callable[[], Any]] = {
        "level": lambda: level_of(valued),
        "trend": lambda: month_trend(valued),
        "halves": lambda: halves(valued),
        "ours": lambda: ours(rates),
        "theirs": lambda: theirs(rates),
    }
    times: dict[str, list[float]] = {name: [] for name in ways}
    for run in range(runs + 1):
        for name, work in ways.items():
            start = time.perf_counter()
            work()
            if run:
                times[name].append(1000 * (time.perf_counter() - start))
    return {name: median(taken) for name, taken in times.items()}


def as_table(taken: dict[str, float], rounds: int, courses: int) -> str:
    """The measured times as a markdown table."""
    rows = [
        ("level, this season's and lasting, with every course", taken["level"], f"{BAR_MS:g}"),
        ("slope a month", taken["trend"], f"{BAR_MS:g}"),
        ("two halves by category, adjusted for courses", taken["halves"], ""),
        ("one REML fit of courses and days, with its interval", taken["ours"], ""),
        ("the same fit by statsmodels", taken["theirs"], ""),
    ]
    lines = ["| work | ms | times statsmodels | bar, ms |", "|---|---:|---:|---:|"]
    lines += [f"| {words} | {took:.1f} | {took / taken['theirs']:.3f} | {bar} |" for words, took, bar in rows]
    return "\n".join([f"{rounds} rounds of {SHOTS_A_ROUND} shots, {courses} courses.\n", *lines])


def main(arguments: list[str] | None = None) -> int:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="speed of level and form")
    parser.add_argument("--rounds", type=int, default=60)
    parser.add_argument("--courses", type=int, default=5)
    parser.add_argument("--runs", type=int, default=9)
    given = parser.parse_args(arguments)
    taken = measure(given.rounds, given.courses, given.runs)
    versions = f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}"
    print(f"Median of {given.runs} runs, {versions}, statsmodels {statsmodels.__version__}.\n")
    print(as_table(taken, given.rounds, given.courses))
    return 0


if __name__ == "__main__":
    sys.exit(main())
