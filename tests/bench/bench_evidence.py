"""Speed of the evidence: `python -m tests.bench.bench_evidence [--rounds N] [--resamples N] [--runs N]`.

Beyond reading the frame: the per-club table with its intervals, the same intervals by 2,000 resamples of whole rounds,
and a trial of two clubs as the command makes it. Beside it, for the same resamples of one club after another,
`scipy.stats.bootstrap` of the same ratio. Never run as a test.
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
from scipy import stats

from server.analysis.evidence.intervals import (
    BOOTSTRAP_T,
    RoundSums,
    ratio_intervals,
    resampled,
    resampling_weights,
    round_sums,
)
from server.analysis.evidence.trial_words import verdict
from server.analysis.evidence.trials import run_trial
from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.analysis.strokes_gained.summaries import summarise
from tests.bench.bench_valuation import SHOTS_A_ROUND, season_frame

CLUBS = 14
BAR_TABLE_MS = 50.0
BAR_TRIAL_MS = 100.0


def valued_season(rounds: int, seed: int = 60) -> pd.DataFrame:
    """`rounds` invented rounds of 90 shots with 14 clubs, valued, half of the shots with a finish beside a target."""
    draw = np.random.default_rng(seed)
    frame = season_frame(rounds * SHOTS_A_ROUND, seed)
    count = len(frame)
    tapped = draw.random(count) < 0.5
    club = pd.Categorical.from_codes(draw.integers(0, CLUBS, count), [f"club {number}" for number in range(CLUBS)])
    days = pd.Timestamp("2026-03-01") + pd.to_timedelta(frame["round_id"].cat.codes.to_numpy(), "D")
    columns = {
        "club": club,
        "club_id": club,
        "kind": pd.Categorical(["practice"] * count),
        "sort": pd.Categorical(["iron"] * count),
        "setup": None,
        "swing": pd.Categorical(["full"] * count),
        "planned_shape": None,
        "actual_shape": None,
        "target_yd": np.where(tapped, 180.0, np.nan),
        "right_yd": np.where(tapped, draw.normal(0, 8, count), np.nan),
        "long_yd": np.where(tapped, draw.normal(-2, 9, count), np.nan),
        "played_on": days,
        "strike": None,
    }
    return attribute(frame.assign(**columns), load_baseline("tour"))


def sums_of(valued: pd.DataFrame) -> RoundSums:
    """Sums by club and round."""
    rounds, names = pd.factorize(valued["round_id"])
    gained = valued["strokes_gained"].to_numpy()
    return round_sums(valued["club"].cat.codes.to_numpy(), rounds, gained, CLUBS, len(names))


def ours(sums: RoundSums, resamples: int) -> Any:
    """Bootstrap-t of the mean a shot of every club."""
    return ratio_intervals(sums.strokes, sums.shots, 0.9, method=BOOTSTRAP_T, resamples=resamples)


def our_errors(sums: RoundSums, resamples: int) -> Any:
    """Spread of the resampled means alone: what scipy's bootstrap gives too."""
    weights = resampling_weights(sums.shots.shape[1], resamples, 1)
    return resampled(sums.strokes, sums.shots, weights)[0].std(axis=0, ddof=1)


def theirs(sums: RoundSums, resamples: int) -> Any:
    """Standard error of the mean a shot of every club by scipy, vectorised over resamples, one club after another."""

    def ratio(strokes: Any, counts: Any, axis: int) -> Any:
        return strokes.sum(axis=axis) / counts.sum(axis=axis)

    return [
        stats.bootstrap((sums.strokes[club], sums.shots[club]), ratio, paired=True, vectorized=True, rng=1,
                        n_resamples=resamples, confidence_level=0.9, method="percentile").standard_error
        for club in range(CLUBS)
    ]  # fmt: skip


def trial(valued: pd.DataFrame) -> Any:
    """A trial of the first two clubs, with its verdict."""
    a, b = (valued["club"].eq(f"club {number}").to_numpy() for number in range(2))
    found = run_trial(valued, a, b)
    return verdict(found, "club 0", "club 1")


def measure(rounds: int, resamples: int, runs: int) -> dict[str, float]:
    """Median milliseconds of each way; one run before the first is not counted."""
    valued = valued_season(rounds)
    sums = sums_of(valued)
    ways: dict[str, Callable[[], Any]] = {
        "table": lambda: summarise(valued, "club"),
        "ours": lambda: ours(sums, resamples),
        "our_errors": lambda: our_errors(sums, resamples),
        "theirs": lambda: theirs(sums, resamples),
        "trial": lambda: trial(valued),
    }
    times: dict[str, list[float]] = {name: [] for name in ways}
    for run in range(runs + 1):
        for name, work in ways.items():
            start = time.perf_counter()
            work()
            if run:
                times[name].append(1000 * (time.perf_counter() - start))
    return {name: median(taken) for name, taken in times.items()}


def as_table(taken: dict[str, float], rounds: int, resamples: int) -> str:
    """The measured times and ratios as a markdown table."""
    unit = taken["theirs"]
    both = taken["table"] + taken["ours"]
    rows = [
        ("per-club table with t intervals and shrunk means", taken["table"], f"{BAR_TABLE_MS:g}"),
        (f"bootstrap-t of every club, {resamples:,} resamples", taken["ours"], ""),
        ("the two together", both, f"{BAR_TABLE_MS:g}"),
        ("resampled standard errors of every club", taken["our_errors"], ""),
        ("the same by `scipy.stats.bootstrap`", unit, ""),
        ("trial of two clubs with verdict", taken["trial"], f"{BAR_TRIAL_MS:g}"),
    ]
    lines = ["| work | ms | times scipy | bar, ms |", "|---|---:|---:|---:|"]
    lines += [f"| {words} | {took:.1f} | {took / unit:.2f} | {bar} |" for words, took, bar in rows]
    return "\n".join([f"{rounds} rounds of {SHOTS_A_ROUND} shots, {CLUBS} clubs.\n", *lines])


def main(arguments: list[str] | None = None) -> int:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="speed of intervals and trials")
    parser.add_argument("--rounds", type=int, default=60)
    parser.add_argument("--resamples", type=int, default=2000)
    parser.add_argument("--runs", type=int, default=15)
    given = parser.parse_args(arguments)
    taken = measure(given.rounds, given.resamples, given.runs)
    versions = f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}"
    print(f"Median of {given.runs} runs, {versions}.\n")
    print(as_table(taken, given.rounds, given.resamples))
    return 0


if __name__ == "__main__":
    sys.exit(main())
