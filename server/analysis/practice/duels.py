"""Duels in practice: balls hit in pairs from one spot, one with each side, and what the pairs show.

A pair is every ball of one `duel_id`; where a side hit more than one, its mean. Differences are A less B, sessions are
the clusters. Strokes are what the baseline expects to be left, on the green, from where a ball stopped, 0 for one that
was holed: less is better. They are strokes a ball, and no part of the strokes gained of a round.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL, Flags
from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.finishes import degrees_offline
from server.analysis.patterns.spread import FEWEST_ROUNDS, FEWEST_SHOTS, Figure, mean_figure
from server.analysis.practice.balls import swings_of
from server.analysis.practice.rows import PracticeDuels
from server.game.numbers import signed

Expected = Callable[[Floats], Floats]
"""Strokes that the baseline expects on the green from lengths in feet, shape (n,)."""

MEASURES: Final = ("length_yd", "offline_deg", "holed", "strokes")


def duels(
    balls: pd.DataFrame,
    of_a: Flags,
    of_b: Flags,
    names: tuple[str, str],
    expected: Expected,
    level: float = DEFAULT_LEVEL,
) -> PracticeDuels:
    """The pairs of two sides. `balls`: as `practice_frame` returns it, shape (n,); `of_a`, `of_b`: which balls are
    whose, shape (n,)."""
    measured = _measured(balls, expected).assign(side=np.select([of_a, of_b], ["a", "b"], ""))
    paired = measured[(measured["side"].ne("") & measured["duel_id"].notna()).to_numpy()]
    means = paired.groupby(["round_id", "duel_id", "side"], observed=True)[list(MEASURES)].mean()
    sides = means.unstack("side")
    both = sides.columns.get_level_values("side").unique() if len(sides) else []
    found = {name: Figure(None, None, None, 0) for name in MEASURES}
    pairs = pd.DataFrame()
    if {"a", "b"} <= set(both):
        apart = pd.DataFrame({name: sides[name]["a"] - sides[name]["b"] for name in MEASURES})
        pairs = apart[apart.notna().any(axis=1)].reset_index()
        found = {name: mean_figure(pairs[name], pairs["round_id"], level) for name in MEASURES}
    sessions = int(pairs["round_id"].nunique()) if len(pairs) else 0
    return {
        "pairs": len(pairs),
        "sessions": sessions,
        "length_yd": found["length_yd"].as_dict(),
        "offline_deg": found["offline_deg"].as_dict(),
        "holed": found["holed"].as_dict(),
        "strokes": found["strokes"].as_dict(),
        "words": _words(found, names, len(pairs), sessions),
    }


def _measured(balls: pd.DataFrame, expected: Expected) -> pd.DataFrame:
    """Of each ball how far it went, how far off the line in degrees (either side), holed, and strokes left."""
    swings = swings_of(balls)
    along = swings["along_yd"].reindex(balls.index)
    flown = along.where(along.notna(), balls["carry_yd"]).to_numpy(dtype=np.float64)
    right, left = balls["right_yd"].to_numpy(dtype=np.float64), balls["left_ft"].to_numpy(dtype=np.float64)
    holed = balls["holed"].to_numpy(dtype=bool)
    strokes = np.full(len(balls), np.nan)
    stopped = np.isfinite(left) & ~holed
    if stopped.any():
        strokes[stopped] = expected(left[stopped])
    ended = holed | stopped | balls["length_ft"].notna().to_numpy()
    return pd.DataFrame(
        {
            "round_id": balls["round_id"],
            "duel_id": balls["duel_id"],
            "length_yd": along,
            "offline_deg": np.where(flown > 0, np.abs(degrees_offline(right, flown)), np.nan),
            "holed": np.where(ended, holed.astype(np.float64), np.nan),
            "strokes": np.where(holed, 0.0, strokes),
        },
        index=balls.index,
    )


def _words(found: dict[str, Figure], names: tuple[str, str], pairs: int, sessions: int) -> list[str]:
    if pairs < FEWEST_SHOTS or sessions < FEWEST_ROUNDS:
        return [
            f"Duels in practice: {pairs} pair{'' if pairs == 1 else 's'} in {sessions} "
            f"session{'' if sessions == 1 else 's'}; at least {FEWEST_SHOTS} in {FEWEST_ROUNDS} are needed."
        ]
    sentences = {
        "length_yd": ("goes {} yd {}", "farther", "shorter", 1, 1.0),
        "offline_deg": ("ends {} degrees {} the line", "farther from", "nearer to", 1, 1.0),
        "holed": ("is holed {} times of 100 {}", "more", "less", 0, 100.0),
        "strokes": ("leaves {} strokes {}", "more", "less", 2, 1.0),
    }
    words = []
    for name, (sentence, above, below, digits, times) in sentences.items():
        figure = found[name]
        if figure.value is None or figure.low is None or figure.high is None or figure.low <= 0 <= figure.high:
            continue
        size = f"{abs(times * figure.value):.{digits}f}"
        between = f"{signed(times * figure.low, digits)} to {signed(times * figure.high, digits)}"
        verdict = sentence.format(size, above if figure.value > 0 else below)
        words.append(f"{names[0]} {verdict} than {names[1]} in practice ({between}).")
    return words or [f"{pairs} duels in practice show no clear difference of {names[0]} and {names[1]}."]
