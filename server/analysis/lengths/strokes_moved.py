"""What errors of length of 10 % would move in strokes gained by category.

All lengths too long or too short by the same share (systematic): every length that the player entered is divided by
1.1 or 0.9 and the shots are valued again. Lengths from the tee come from the card and stay, so that a round's total
stays as well: strokes gained telescope to E(tee) - score, and what one category gains another loses.

At random, errors are taken as Berkson's: the true length scatters about the entered one, X = W (1 + 0.1 Z) with Z
standard normal, independent from length to length (J. Berkson, "Are there two regressions?", JASA 45, 1950, 164-180).
Then the mean change of each shot needs no guess of the mix of true lengths: it is the mean of the baseline over X less
its value at W, by Gauss and Hermite's rule. How much such errors scatter a category's strokes from round to round is
not shown: rounds differ by it already, so that the interval holds it. Shots stay in the category of their entered
length.
"""

from __future__ import annotations

from typing import Any, Final, cast

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.lengths.heaping import heaping, lengths_entered, rounds_taken
from server.analysis.lengths.rows import CategoryMoved, ShotLengths
from server.analysis.strokes_gained.summaries import summarise
from server.game.lies import GREEN, TEE, lie_codes
from server.game.numbers import signed
from server.game.ranges import FARTHEST_ON_GREEN_YD, FARTHEST_YD
from server.game.units import FOOT

LENGTH_ERROR: Final = 0.1
"""The error of length whose effect is shown. A stated choice."""
HERMITE: Final = 5
"""Points of Gauss and Hermite's rule; true lengths of 0.71 to 1.29 times the entered one."""
WORTH_SAYING: Final = 0.005
"""A change a round below this shows as 0.00."""


def shot_lengths(valued: pd.DataFrame, baseline: Baseline, unit: str, level: float = DEFAULT_LEVEL) -> ShotLengths:
    """How the lengths of valued shots were taken, and what an error of 10 % would move by category.

    `unit`: yd or m, in which the player enters lengths off the green.
    """
    heaped = [heaping(lengths_entered(valued, each), each, level) for each in (FOOT, unit)]
    categories = _moved(valued, baseline)
    words = [one["words"] for one in heaped if one["words"] is not None]
    return {
        "taken": rounds_taken(valued),
        "heaping": heaped,
        "error": LENGTH_ERROR,
        "categories": categories,
        "words": [*words, *_words(categories)],
    }


def _moved(valued: pd.DataFrame, baseline: Baseline) -> list[CategoryMoved]:
    if not valued["strokes_gained"].notna().any():
        return []
    names = ("too_long", "too_short", "at_random")
    changes = [
        _gained(valued, baseline, np.array([1 / (1 + LENGTH_ERROR)]), np.ones(1)),
        _gained(valued, baseline, np.array([1 / (1 - LENGTH_ERROR)]), np.ones(1)),
        _gained(valued, baseline, *_scatter(LENGTH_ERROR)),
    ]
    before = _by_category(valued, valued["strokes_gained"])
    after = {name: _by_category(valued, gained) for name, gained in zip(names, changes, strict=True)}
    rows = []
    for category, figure in before.items():
        change = {name: None if figure is None else (after[name][category] or 0.0) - figure for name in names}
        rows.append({"category": category, "per_round": figure, **change})
    return cast(list[CategoryMoved], rows)


def _scatter(error: float) -> tuple[Floats, Floats]:
    """Factors of length and their weights: the mean over a normal error of that standard deviation."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(HERMITE)
    return 1 + error * nodes, weights / weights.sum()


def _gained(valued: pd.DataFrame, baseline: Baseline, times: Floats, weight: Floats) -> pd.Series:
    """Strokes gained of every shot, the mean over entered lengths multiplied by `times` with `weight`, shape (k,); NaN
    where the shot has no value."""
    moved = np.zeros(len(valued))
    for lie, yards, sign in (("lie", "distance_yd", 1.0), ("end_lie", "end_distance_yd", -1.0)):
        entered = _expected(baseline, valued[lie], valued[yards], np.ones(1), np.ones(1))
        # the hole itself has no length, and no change
        moved += sign * np.nan_to_num(_expected(baseline, valued[lie], valued[yards], times, weight) - entered)
    return valued["strokes_gained"] + moved


def _expected(baseline: Baseline, lie: Any, yards: pd.Series, times: Floats, weight: Floats) -> Floats:
    """The mean of the baseline over the lengths multiplied by `times`; lengths from the tee stay, and none leaves the
    range that a length may have. Shape (shots,)."""
    codes, from_tee = lie_codes(lie), lie.astype("object").eq(TEE).to_numpy(dtype=bool)
    farthest = np.where(lie.astype("object").eq(GREEN).to_numpy(dtype=bool), FARTHEST_ON_GREEN_YD, FARTHEST_YD)
    entered = yards.to_numpy(dtype=np.float64)
    found = np.zeros(entered.size)
    for factor, part in zip(times, weight, strict=True):
        length = np.where(from_tee, entered, np.minimum(entered * factor, farthest))
        found += part * baseline.grid.expected(codes, length)
    return found


def _by_category(valued: pd.DataFrame, gained: pd.Series) -> dict[str, float | None]:
    rows = summarise(valued.assign(strokes_gained=gained), "category").rows
    figures = rows[["category", "per_round"]].itertuples(index=False)
    return {str(row.category): None if pd.isna(row.per_round) else float(row.per_round) for row in figures}


def _words(categories: list[CategoryMoved]) -> list[str]:
    """One sentence: what lengths too long would move most."""
    known = [(row["category"], row["too_long"], row["too_short"]) for row in categories]
    moved = [(name, long, short) for name, long, short in known if long is not None and short is not None]
    most = max(moved, key=lambda row: abs(row[1]), default=None)
    if most is None or abs(most[1]) < WORTH_SAYING:
        return []
    name, long, short = most
    return [
        f"If every length but those from the tee had been entered 10 % too long, {name.replace('_', ' ')} would move "
        f"by {signed(long, 2)} a round, if 10 % too short by {signed(short, 2)}; the total would stay."
    ]
