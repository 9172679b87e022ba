"""Priorities: at most three parts of the game that cost strokes, each with how many, how sure, and what comes next.

The ball of record's shots fall into cells, category by distance. A cell's loss is its strokes a round against the
baseline, rounds as clusters. A cell is named only when

- it is among the losses that the Benjamini-Hochberg rule keeps at 10 % (one-sided t over rounds), so that of the
  cells ever named about one in ten at most is chance, and a player like the baseline seldom gets any;
- its loss, shrunk towards what the player's cells have in common, is worth a tenth of a stroke a round.

A hard course takes strokes in every cell. The loss is therefore judged on an average course: less the cell's share of
what the courses played add, and with the spread of that in its error (`course_allowance`).

The rule of Benjamini and Hochberg is held to statsmodels in tests; shrinkage as in `shrinkage`.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from scipy.special import stdtr

from server.analysis.evidence.course_allowance import Allowance, allowance
from server.analysis.evidence.intervals import (
    DEFAULT_LEVEL,
    Codes,
    Floats,
    RoundSums,
    checked_level,
    effective_rounds,
    per_round,
    round_sums,
    t_quantile,
)
from server.analysis.evidence.priority_words import next_step
from server.analysis.evidence.round_lengths import LEAST_HOLES, round_lengths
from server.analysis.evidence.rows import Cell, PrioritiesFound, Priority
from server.analysis.evidence.shrinkage import sampling_variances, shrink
from server.game.categories import OFF_THE_TEE, PUTTING
from server.game.lies import TEE
from server.game.numbers import plain

FALSE_SHARE: Final = 0.10
"""Share of named cells that may be chance."""
WORTH_A_ROUND: Final = 0.10
"""Strokes a round that are worth naming. Both are stated choices of this tool."""
MOST: Final = 3
LEAST_ROUNDS: Final = 5
LEAST_SHOTS: Final = 10

EDGES_YD: Final = (0, 20, 50, 100, 150, 200, 700)
EDGES_FT: Final = (0, 3, 8, 15, 30, 150)


def priorities(valued: pd.DataFrame, against: str, level: float = DEFAULT_LEVEL) -> PrioritiesFound:
    """At most three priorities, greatest loss first, out of the rounds that count (`round_lengths`).

    `valued`: as `valued_shots` returns it; `against`: the baseline's name in words. ValueError for a level outside
    its range.
    """
    checked_level(level)
    lengths = round_lengths(valued)
    rounds = lengths.rounds
    known = valued["ball"].eq(1) & valued["strokes_gained"].notna() & valued["category"].notna()
    shots = valued[known.to_numpy(dtype=bool) & (lengths.places(valued["round_id"]) >= 0)]
    found: PrioritiesFound = {
        "rounds": rounds,
        "short_rounds": lengths.short,
        "cells": [],
        "priorities": [],
        "courses": None,
        "words": "",
    }
    if rounds < LEAST_ROUNDS:
        few = {0: "No round", 1: "One round"}.get(rounds, f"{rounds} rounds")
        what = f"with strokes gained on {LEAST_HOLES} holes or more"
        return {**found, "words": f"{few} {what}: too few for priorities, at least {LEAST_ROUNDS} are needed."}
    group, names = pd.factorize(_cell(shots), sort=True)
    codes = lengths.places(shots["round_id"])
    gained = shots["strokes_gained"].to_numpy(dtype=np.float64)
    sums = round_sums(group, codes, gained, len(names), rounds)
    scale = _shot_spread(group, gained, len(names))
    courses = allowance(valued, lengths, sums.strokes.sum(axis=0))
    cells = _cells(sums, lengths.parts, scale, courses, ([str(name) for name in names], level))
    named = sorted((cell for cell in cells if cell["named"]), key=lambda cell: -_size(cell))[:MOST]
    places = {cell["cell"]: group == place for place, cell in enumerate(cells)}
    return {
        **found,
        "cells": sorted(cells, key=lambda cell: cell["per_round"]),
        "priorities": [_priority(cell, shots[places[cell["cell"]]], against, level) for cell in named],
        "courses": courses.words,
        "words": _words(len(named), rounds, against),
    }


def _cell(shots: pd.DataFrame) -> pd.Series:
    """The cell of each shot: "category|distance"."""
    category = shots["category"].astype("object")
    yards = shots["distance_yd"].to_numpy(dtype=np.float64)
    off = pd.cut(yards, list(EDGES_YD), labels=[f"{EDGES_YD[k]} to {EDGES_YD[k + 1]} yd" for k in range(6)])
    on = pd.cut(yards * 3, list(EDGES_FT), labels=[f"{EDGES_FT[k]} to {EDGES_FT[k + 1]} ft" for k in range(5)])
    putts = category.eq(PUTTING).to_numpy(dtype=bool)
    band = np.where(putts, np.asarray(on.astype("object")), np.asarray(off.astype("object")))
    # A drive's distance is the hole's length, which shows nothing about the drive.
    long_hole = shots["lie"].eq(TEE).to_numpy() & shots["par"].ge(4).to_numpy()
    return category + "|" + pd.Series(np.where(long_hole, "par 4 and 5", band), index=shots.index)


def _shot_spread(group: Codes, gained: Floats, groups: int) -> Floats:
    """Standard deviation of strokes gained a shot of every cell, shape (groups,)."""
    counts = np.maximum(np.bincount(group, minlength=groups), 1)
    mean = np.bincount(group, weights=gained, minlength=groups) / counts
    return np.sqrt(np.bincount(group, weights=(gained - mean[group]) ** 2, minlength=groups) / counts)


def _cells(
    sums: RoundSums, parts: Floats, scale: Floats, courses: Allowance, named_at: tuple[list[str], float]
) -> list[Cell]:
    """The figures of every cell, with `named`: whether it is a loss beyond chance that is worth naming. `parts`: each
    round as a part of 18 holes, shape (rounds,); `named_at`: the names of the cells and the level."""
    names, level = named_at
    every = np.tile(parts, (len(names), 1))
    freedom = effective_rounds(every) - 1
    interval = per_round(sums, level, counted=every)
    counts = sums.shots.sum(axis=1)
    judged = (counts >= LEAST_SHOTS) & np.isfinite(interval.standard_error) & (scale > 0)
    share = counts / counts.sum()
    adjusted = interval.mean - courses.mean * share
    error = np.where(judged, np.hypot(interval.standard_error, courses.sd * share), 1.0)
    reach = t_quantile(1 - (1 - level) / 2, freedom) * error
    p = np.where(judged, stdtr(freedom, adjusted / error), 1.0)
    kept = discoveries(p[judged], FALSE_SHARE)
    named = np.zeros(len(names), dtype=np.bool_)
    named[judged] = kept
    shrunk = _shrunk_a_round(sums, parts, scale, judged) - courses.mean * share
    cells: list[Cell] = []
    for place, name in enumerate(names):
        category, distance = name.split("|")
        sure = bool(judged[place])
        cells.append(
            {
                "cell": name,
                "category": category,
                "distance": distance,
                "shots": int(counts[place]),
                "rounds": int((sums.shots[place] > 0).sum()),
                "per_round": float(interval.mean[place]),
                "low": float(interval.low[place]) if sure else None,
                "high": float(interval.high[place]) if sure else None,
                "adjusted": float(adjusted[place]) if sure else None,
                "adjusted_low": float(adjusted[place] - reach[place]) if sure else None,
                "adjusted_high": float(adjusted[place] + reach[place]) if sure else None,
                "shrunk_per_round": float(shrunk[place]) if sure else None,
                "chance_of_loss": float(1 - p[place]) if sure else None,
                "named": bool(named[place] and max(shrunk[place], adjusted[place]) <= -WORTH_A_ROUND),
            }
        )
    return cells


def _shrunk_a_round(sums: RoundSums, parts: Floats, scale: Floats, judged: Any) -> Floats:
    """Strokes a round after shrinking, shape (cells,); NaN where not judged.

    What is shrunk to a common mean is the mean per shot in units of the cell's spread of shots (`scale`): a tap-in
    and a drive do not lose alike in strokes, but about alike in those units.
    """
    shrunk = np.full(judged.size, np.nan)
    if not judged.any():
        return shrunk
    unit = scale[judged]
    part = RoundSums(sums.shots[judged], sums.strokes[judged] / unit[:, None])
    shots = part.shots.sum(axis=1)
    variances = np.maximum(sampling_variances(part), 1e-12)
    means = shrink(part.strokes.sum(axis=1) / shots, variances).shrunk * unit
    shrunk[judged] = means * shots / parts.sum()
    return shrunk


def discoveries(p: Floats, false_share: float) -> Any:
    """Which hypotheses the Benjamini-Hochberg rule rejects: the k smallest p, k the greatest with p(k) <= k q / m.

    `p`: shape (m,). Returns bool, shape (m,).
    """
    order: Codes = np.argsort(p, kind="stable")
    passed = np.flatnonzero(p[order] <= false_share * np.arange(1, p.size + 1) / max(p.size, 1))
    kept = np.zeros(p.size, dtype=np.bool_)
    if passed.size:
        kept[order[: passed[-1] + 1]] = True
    return kept


def _size(cell: Cell) -> float:
    """Strokes a round that a named cell costs on an average course: shrunk, but never more than was measured there."""
    shrunk, adjusted = cell["shrunk_per_round"], cell["adjusted"]
    return -cell["per_round"] if shrunk is None or adjusted is None else -max(shrunk, adjusted)


def _priority(cell: Cell, shots: pd.DataFrame, against: str, level: float) -> Priority:
    """A named cell in words: one that was judged."""
    what = cell_words(cell["category"], cell["distance"])
    strokes = _size(cell)
    chance = cell["chance_of_loss"]
    assert chance is not None
    assert cell["low"] is not None
    assert cell["high"] is not None
    assert cell["adjusted_low"] is not None
    assert cell["adjusted_high"] is not None
    sure = "more than 99 in 100" if chance > 0.99 else f"{100 * chance:.0f} in 100"
    low, high = -cell["high"], -cell["low"]
    loss = f"{what} cost about {strokes:.1f} strokes a round against {against}"
    interval = (
        f"as measured {plain(-cell['per_round'], 1)}, {100 * level:g} % interval {plain(low, 1)} to {plain(high, 1)}"
    )
    ends = f"{plain(-cell['adjusted_high'], 1)} to {plain(-cell['adjusted_low'], 1)}"
    interval += f", {ends} with courses allowed for"
    rest = f"{cell['shots']} shots in {cell['rounds']} rounds; chance that they cost strokes at all {sure}"
    step = next_step(cell["category"], cell["distance"], shots)
    words = f"{loss} ({interval}; {rest}). {step}"
    return {**cell, "what": what, "strokes_a_round": strokes, "sure": sure, "next": step, "words": words}


def cell_words(category: str, distance: str) -> str:
    """A cell in plain words."""
    if category == OFF_THE_TEE or distance.startswith("par"):
        return "Tee shots on par 4 and 5"
    low, _, high = distance.partition(" to ")
    unit = high.split()[-1]
    reach = f"up to {high}" if low == "0" else f"from over {low} {unit}" if high.split()[0] in ("700", "150") else ""
    if category == PUTTING:
        return f"Putts {reach or f'from over {distance}'}"
    start = {"approach": "Approach shots", "around_the_green": "Shots around the green"}
    return f"{start.get(category, 'Shots of the ' + category.replace('_', ' '))} {reach or f'from over {distance}'}"


def _words(named: int, rounds: int, against: str) -> str:
    if not named:
        return (
            f"Nothing stands out in {rounds} rounds: no part of the game loses clearly more against {against} than "
            "chance would show. Keep logging."
        )
    count = {1: "One part", 2: "Two parts", 3: "Three parts"}[named]
    verb = "loses" if named == 1 else "lose"
    return (
        f"{count} of the game {verb} strokes against {against} beyond chance, in {rounds} rounds. Of parts "
        "named here at most about one in ten is chance; talk it over before changing anything."
    )
