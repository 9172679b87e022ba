"""Speed of valuing shots, as ratios in one run: `python -m tests.bench.bench_valuation [--shots N] [--runs N]`.

Beside two bare `numpy.interp` calls over the same distances: `Baseline.expected` for both ends of every shot, then the
whole of `attribute` on an unsorted frame, once with categorical lies and round ids, once with plain text in both (fresh
text in every run, one object a cell, as it comes from a database). And beside what an analyst would write first: a
sort, a shift and a row-wise apply, run on fewer rows and given as a rate. Never run as a test.
"""

from __future__ import annotations

import argparse
import gc
import platform
import sys
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import Any

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.lies import CODE, GREEN, LIES, TEE

SHOTS_A_HOLE = 5
SHOTS_A_ROUND = 18 * SHOTS_A_HOLE
BAR_EXPECTED = 1.0
BAR_ATTRIBUTE = 3.0
BAR_ATTRIBUTE_TEXT = 5.0


def season_frame(shots: int, seed: int = 2012) -> pd.DataFrame:
    """An unsorted frame of `shots` invented shots: holes of five, lies and distances within the printed rows.

    `lie` and `round_id` are categorical; round ids are texts of 36 characters.
    """
    draw = np.random.default_rng(seed)
    place = np.arange(shots)
    order = place % SHOTS_A_HOLE + 1
    lie = draw.choice([CODE[name] for name in LIES if name not in (TEE, GREEN)], shots).astype(np.int8)
    lie[order == 1], lie[order >= 4] = CODE[TEE], CODE[GREEN]
    yards = np.where(lie == CODE[GREEN], draw.uniform(2 / 3, 30, shots), draw.uniform(100, 600, shots))
    rounds = place // SHOTS_A_ROUND
    ids = [str(uuid.UUID(int=int(number))) for number in draw.integers(2**62, 2**63, rounds[-1] + 1)]
    frame = pd.DataFrame(
        {
            "round_id": pd.Categorical.from_codes(rounds, categories=ids),
            "hole": place % SHOTS_A_ROUND // SHOTS_A_HOLE + 1,
            "ball": 1,
            "order": order,
            "par": 4,
            "lie": pd.Categorical.from_codes(lie, categories=list(LIES)),
            "distance_yd": yards,
            "holed": order == SHOTS_A_HOLE,
            "penalty_strokes": (draw.random(shots) < 0.01).astype(np.int64),
        }
    )
    return frame.iloc[draw.permutation(shots)].reset_index(drop=True)


def with_plain_text(frame: pd.DataFrame) -> pd.DataFrame:
    """The same frame with `lie` and `round_id` as text, every cell an object of its own that was never hashed."""
    text = {}
    for name in ("lie", "round_id"):
        cells = np.asarray(frame[name].cat.categories, dtype=np.str_)[frame[name].cat.codes]
        text[name] = pd.Series(cells.astype(object), dtype="str", index=frame.index)
    return frame.assign(**text)


@dataclass(frozen=True)
class BothEnds:
    """Arrays of both ends of every shot: int8 lie codes and yards, shape (n,) each."""

    lie: Any
    yards: Any
    end_lie: Any
    end_yards: Any

    @classmethod
    def of(cls, frame: pd.DataFrame) -> BothEnds:
        """The ends are those of other shots, drawn by lot: as many different distances as there are starts."""
        lie = frame["lie"].cat.codes.to_numpy(dtype=np.int8)
        yards = frame["distance_yd"].to_numpy()
        other = np.random.default_rng(5).permutation(len(frame))
        return cls(lie, yards, lie[other], yards[other])


def two_interps(baseline: Baseline, ends: BothEnds) -> tuple[Any, Any]:
    """The bare minimum: one curve for all lies, no check, no mark."""
    curve = baseline.curves["fairway"]
    return (
        np.interp(ends.yards, curve.distance_yd, curve.expected),
        np.interp(ends.end_yards, curve.distance_yd, curve.expected),
    )


def two_expected(baseline: Baseline, ends: BothEnds) -> tuple[Any, Any]:
    """Expected strokes of both ends, every lie by its own curve."""
    return baseline.expected(ends.lie, ends.yards), baseline.expected(ends.end_lie, ends.end_yards)


def row_by_row(frame: pd.DataFrame, baseline: Baseline) -> pd.Series:
    """What an analyst would write first. Strokes gained on the frame's index."""
    curves = {lie: baseline.curves["fairway" if lie == "fringe" else lie] for lie in LIES}

    def expected(lie: str, yards: float) -> float:
        return float(np.interp(yards, curves[lie].distance_yd, curves[lie].expected))

    played = frame.sort_values(["round_id", "hole", "ball", "order"])
    following = played.groupby(["round_id", "hole", "ball"], observed=True)[["lie", "distance_yd"]].shift(-1)
    played = played.assign(next_lie=following["lie"], next_yd=following["distance_yd"])

    def gained(row: pd.Series) -> float:
        after = 0.0
        if not row["holed"]:
            if pd.isna(row["next_yd"]):
                return float("nan")
            after = expected(row["next_lie"], row["next_yd"])
        return expected(row["lie"], row["distance_yd"]) - after - 1 - row["penalty_strokes"]

    return played.apply(gained, axis=1).reindex(frame.index)


def seconds(work: Callable[[], Any]) -> float:
    """How long one call takes; rubbish is collected before, not during."""
    gc.collect()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def measure(shots: int, few: int, runs: int) -> dict[str, float]:
    """Median seconds of each way over `runs` runs; `row_by_row` runs once a run on the first `few` rows' rounds."""
    baseline = load_baseline("tour")
    frame = season_frame(shots)
    ends = BothEnds.of(frame)
    small = season_frame(few)
    times: dict[str, list[float]] = {}
    for run in range(runs):
        print(f"run {run + 1} of {runs}", file=sys.stderr)
        text = with_plain_text(frame)
        ways: dict[str, Callable[[], Any]] = {
            "two_interps": lambda: two_interps(baseline, ends),
            "two_expected": lambda: two_expected(baseline, ends),
            "attribute": lambda: attribute(frame, baseline),
            "attribute_text": lambda text=text: attribute(text, baseline),
            "row_by_row": lambda: row_by_row(small, baseline),
        }
        for name, work in ways.items():
            times.setdefault(name, []).append(seconds(work))
    return {name: median(taken) for name, taken in times.items()}


def as_table(taken: dict[str, float], shots: int, few: int) -> str:
    """The measured ratios as a markdown table."""
    unit = taken["two_interps"]
    rows = [
        ("two bare `numpy.interp` calls", "two_interps", shots, ""),
        ("`Baseline.expected`, both ends, arrays in and out", "two_expected", shots, f"{BAR_EXPECTED:g}"),
        ("`attribute`, categorical columns, unsorted", "attribute", shots, f"{BAR_ATTRIBUTE:g}"),
        ("`attribute`, plain text columns, unsorted", "attribute_text", shots, f"{BAR_ATTRIBUTE_TEXT:g}"),
        (f"row-wise pandas `apply`, on {few:,} rows", "row_by_row", few, ""),
    ]
    lines = [
        "| work | seconds | shots a second | times two `numpy.interp` | bar |",
        "|---|---:|---:|---:|---:|",
    ]
    for words, name, count, bar in rows:
        ratio = taken[name] / count * shots / unit
        lines.append(f"| {words} | {taken[name]:.3f} | {count / taken[name]:,.0f} | {ratio:,.2f} | {bar} |")
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="speed of valuing shots, as ratios in one run")
    parser.add_argument("--shots", type=int, default=1_000_000)
    parser.add_argument("--few", type=int, default=20_000, help="rows for the row-wise apply")
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args(arguments)
    taken = measure(given.shots, given.few, given.runs)
    versions = f"Python {platform.python_version()}, numpy {np.__version__}, pandas {pd.__version__}"
    print(f"Median of {given.runs} runs, {given.shots:,} shots, {versions}.\n")
    print(as_table(taken, given.shots, given.few))
    return 0


if __name__ == "__main__":
    sys.exit(main())
