"""How strongly entered lengths heap at multiples of 5 and 10.

    index = 100 * 5 * (lengths that are multiples of 5) / (all lengths, over complete windows of 5)

This is Whipple's index of age heaping (United Nations, Methods of Appraisal of Quality of Basic Data for Population
Estimates, Manual II, 1955). As there with ages from 23 to 62, every multiple of 5 is in the middle of a window of
5 lengths, so that a steady rise or fall of the lengths themselves adds nothing: a smooth distribution gives a share of
1 in 5, an index of 100, and at most 500 are possible. The United Nations call 175 and more "very rough". For multiples
of 10 windows of 10 are looked at.

Why rounded figures are to be modelled and not taken as exact: D. F. Heitjan and D. B. Rubin, "Inference from coarse
data via multiple imputation with application to age heaping", JASA 85, 1990, 304-314.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.evidence.auxiliary import wilson
from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.expected_strokes.curves import Floats
from server.analysis.lengths.rows import Heaping, RoundNumbers, RoundsTaken
from server.game.lengths_taken import LENGTHS_TAKEN
from server.game.lies import GREEN, TEE
from server.game.units import FOOT, METRE, YARD, from_yards

FIRST_WINDOW: Final = 10
"""The first multiple that has a window: below it a length in feet or yards is one of very few."""
LAST_WINDOW: Final = {FOOT: 60, YARD: 250, METRE: 230}
"""The last one. Choices of this tool: putts beyond 60 ft and shots beyond 250 yd are few."""
FIVE: Final = 5
TEN: Final = 10
VERY_ROUGH: Final = 175
"""Index from which the United Nations call reported ages very rough."""
LEAST_LENGTHS: Final = 20
"""Below this many lengths in the windows nothing is called heaped. A stated choice of this tool."""


def lengths_entered(valued: pd.DataFrame, unit: str) -> Floats:
    """The lengths of a player's shots as they were entered: from the green where `unit` is feet, else from everywhere
    but the tee, whose lengths come from the card. In `unit`, shape (n,); missing ones left out."""
    lie = valued["lie"].astype("object")
    mine = lie.eq(GREEN) if unit == FOOT else ~lie.isin([GREEN, TEE])
    yards = valued.loc[mine.to_numpy(dtype=bool), "distance_yd"].to_numpy(dtype=np.float64)
    entered = np.array([from_yards(1.0, unit)]) * yards
    return np.asarray(entered[np.isfinite(entered) & (entered > 0)])


def heaping(lengths: Floats, unit: str, level: float = DEFAULT_LEVEL) -> Heaping:
    """How strongly `lengths`, shape (n,), in `unit` (ft, yd or m), heap at multiples of 5 and 10.

    Lengths are rounded to the nearest integer. Wilson's interval takes lengths as independent: what one putt
    measures shows next to nothing of the next (a stated simplification).
    """
    rounded = np.floor(np.asarray(lengths, dtype=np.float64) + 0.5).astype(np.int64)
    fives = _round_numbers(rounded, FIVE, (FIRST_WINDOW - 2, LAST_WINDOW[unit] + 2), level)
    tens = _round_numbers(rounded, TEN, (FIRST_WINDOW - 4, LAST_WINDOW[unit] + 5), level)
    share, low = fives["share"], fives["low"]
    strong = fives["lengths"] >= LEAST_LENGTHS and low is not None and 100 * FIVE * low >= VERY_ROUGH
    return {
        "unit": unit,
        "fives": fives,
        "tens": tens,
        "whipple": None if share is None else 100 * FIVE * share,
        "strong": strong,
        "words": _words(fives, unit) if strong else None,
    }


def _round_numbers(rounded: Any, multiple: int, window: tuple[int, int], level: float) -> RoundNumbers:
    """Multiples among the integers of a window, both ends included."""
    inside = rounded[(rounded >= window[0]) & (rounded <= window[1])]
    found: RoundNumbers = {"lengths": inside.size, "share": None, "low": None, "high": None, "expected": 1 / multiple}
    if inside.size:
        hits = int((inside % multiple == 0).sum())
        low, high = wilson(hits, inside.size, level)
        found |= {"share": hits / inside.size, "low": low, "high": high}
    return found


def _words(fives: RoundNumbers, unit: str) -> str:
    where = "on the green" if unit == FOOT else "off the green"
    share = 100 * (fives["share"] or 0.0)
    return (
        f"Lengths {where} heap at fives: {share:.0f} of 100 from {FIRST_WINDOW - 2} {unit} on are multiples of 5, "
        f"where lengths that favour no number give {100 * fives['expected']:.0f}."
    )


def taken_of(valued: pd.DataFrame) -> pd.Series:
    """How the lengths of each shot's round were taken; None where that was not recorded. Index of `valued`."""
    if "lengths_taken" not in valued:
        return pd.Series(None, index=valued.index, dtype="object")
    words = valued["lengths_taken"].astype("object")
    return words.where(words.isin(LENGTHS_TAKEN), None)


def rounds_taken(valued: pd.DataFrame) -> list[RoundsTaken]:
    """How many rounds recorded each way of taking lengths, in the order of the words; not recorded last."""
    rounds = taken_of(valued)[~valued["round_id"].duplicated().to_numpy()]
    counts: list[tuple[str | None, int]] = [(word, int(rounds.eq(word).sum())) for word in LENGTHS_TAKEN]
    counts.append((None, int(rounds.isna().sum())))
    return [{"lengths_taken": word, "rounds": count} for word, count in counts if count]
