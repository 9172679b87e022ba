"""How hard each hole of a course is, by category too, adjusted for who played it when.

Strokes gained on hole h in round r, of all of them or of a category, are

    y_rh = round_r + hole_h + e_rh

with both fixed: the round takes out the player, the day and how the course played then, so that a hole that strong
players alone reached is no easier for it. hole_h is given against the mean of the course's holes (they sum to 0); its
errors are clustered by round: V = A+ (sum_r g_r g_r') A+ R / (R - 1), g_r what is left in round r, A the
holes' equations with rounds taken out, with t of the rounds less one. Where every round has every hole, this is the
textbook t interval of the mean of y_rh less its round's mean.

Beside it is the mean strokes gained each time the hole was played, as it was played, with the interval of
`intervals` over rounds. Both are about these players: others may find another hole hard.

Which holes are called hard or easy is looked at over all holes together: each interval at 1 - (1 - level) / holes
(Bonferroni).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from server.analysis.evidence.intervals import (
    DEFAULT_LEVEL,
    Codes,
    Flags,
    Floats,
    checked_level,
    ratio_intervals,
    t_quantile,
)
from server.analysis.evidence.rows import HoleEffect, HolePart
from server.analysis.evidence.tallies import TOTAL, Tally

LEAST_TIMES: Final = 3
"""Times a hole must have been played before anything is reported of it. A stated choice."""
FEW: Final = f"played fewer than {LEAST_TIMES} times"
NO_SHOT: Final = "no such shot"
APART: Final = "some holes were never played in one round with the others"
ALONE: Final = "no other hole to compare with"
HARDER: Final = "harder"
EASIER: Final = "easier"
NOT_SEPARATED: Final = "not separated"
CANNOT_SAY: Final = "not clear"
VERDICTS: Final = (HARDER, EASIER, NOT_SEPARATED, CANNOT_SAY)
NO_WIDTH: Final = 1e-9


class Played(NamedTuple):
    """Holes played on one course. `round_`: code of the round, `hole`, `par`: shape (played,); `shots`, `strokes`: by
    category, shape (played, categories)."""

    round_: Codes
    hole: Codes
    par: Codes
    shots: Codes
    strokes: Floats


def played_in(tally: Tally, taken: Flags) -> Played:
    """The holes that a player played in the rounds that are taken, these numbered from 0."""
    there = taken[tally.round_]
    number = np.cumsum(taken) - 1
    columns = (tally.hole, tally.par, tally.shots, tally.strokes)
    return Played(number[tally.round_[there]].astype(np.int32), *(column[there] for column in columns))


def together(players: Sequence[Played]) -> Played:
    """What several players played, each one's rounds behind those of the one before."""
    before = np.cumsum([0, *(int(one.round_.max(initial=-1)) + 1 for one in players)])
    round_ = [one.round_ + first for one, first in zip(players, before, strict=False)]
    others = zip(*(one[1:] for one in players), strict=True)
    return Played(np.concatenate(round_), *(np.concatenate(column) for column in others))


def hole_effects(played: Played, categories: tuple[str, ...], level: float = DEFAULT_LEVEL) -> list[HoleEffect]:
    """The holes by number, each with all strokes and its categories. ValueError for a level outside its range."""
    checked_level(level)
    if not played.hole.size:
        return []
    numbers = np.unique(played.hole)
    columns = [(TOTAL, played.shots.sum(axis=1), played.strokes.sum(axis=1))]
    columns += [(name, played.shots[:, at], played.strokes[:, at]) for at, name in enumerate(categories)]
    by_part = [_parts(name, played, numbers, shots, strokes, level) for name, shots, strokes in columns]
    return [
        {
            "hole": int(number),
            "par": int(np.bincount(played.par[played.hole == number]).argmax()),
            "times": int((played.hole == number).sum()),
            "parts": [rows[at] for rows in by_part],
        }
        for at, number in enumerate(numbers)
    ]


def _parts(part: str, played: Played, numbers: Codes, shots: Codes, strokes: Floats, level: float) -> list[HolePart]:
    """The rows of one part of the game, hole by hole."""
    place = np.searchsorted(numbers, played.hole)
    times = np.bincount(place, minlength=numbers.size)
    hit = np.bincount(place, weights=shots, minlength=numbers.size)
    judged = (hit > 0) & (times >= LEAST_TIMES)
    mine = judged[place]
    codes = np.cumsum(judged) - 1
    effects = _beside(played.round_[mine], codes[place[mine]], strokes[mine], int(judged.sum()), level)
    rows: list[HolePart] = []
    for at in range(numbers.size):
        here = place == at
        lacking = NO_SHOT if not hit[at] else FEW if not judged[at] else effects.lacking
        row: HolePart = {
            "part": part,
            "shots": int(hit[at]),
            "mean": float(strokes[here].mean()) if hit[at] else None,
            "mean_low": None,
            "mean_high": None,
            "beside": None,
            "low": None,
            "high": None,
            "together_low": None,
            "together_high": None,
            "verdict": CANNOT_SAY,
            "lacking": lacking,
        }
        if judged[at]:
            mean = ratio_intervals(strokes[here][None], np.ones((1, int(here.sum()))), level)
            ends = [float(end[0]) for end in (mean.low, mean.high)]
            row = {**row, "mean_low": _or_none(ends[0]), "mean_high": _or_none(ends[1])}
        if lacking is None:
            found = [float(one[codes[at]]) for one in (effects.middle, effects.reach, effects.wide)]
            clear = abs(found[0]) > max(found[2], found[1], NO_WIDTH)
            verdict = (EASIER if found[0] > 0 else HARDER) if clear else NOT_SEPARATED
            row = {**row, "beside": found[0], "low": found[0] - found[1], "high": found[0] + found[1]}
            row |= {"together_low": found[0] - found[2], "together_high": found[0] + found[2], "verdict": verdict}
        rows.append(row)
    return rows


class _Effects(NamedTuple):
    """Holes beside their mean, half of the interval of one and of all together, shape (holes,); why there are none."""

    middle: Floats
    reach: Floats
    wide: Floats
    lacking: str | None


def _beside(round_: Codes, hole: Codes, strokes: Floats, holes: int, level: float) -> _Effects:
    """The effects of holes with rounds taken out; every code of `hole` used."""
    nothing = np.full(holes, np.nan)
    if holes < 2:
        return _Effects(nothing, nothing, nothing, ALONE)
    at = np.unique(round_, return_inverse=True)[1]
    rounds = int(at.max()) + 1
    table, there = np.zeros((rounds, holes)), np.zeros((rounds, holes))
    table[at, hole], there[at, hole] = strokes, 1.0
    size = there.sum(axis=1, keepdims=True)
    apart = there * (table - table.sum(axis=1, keepdims=True) / size)
    equations = np.diag(there.sum(axis=0)) - (there / size).T @ there
    if np.linalg.matrix_rank(equations, tol=1e-8) < holes - 1:
        return _Effects(nothing, nothing, nothing, APART)
    inverse = np.linalg.pinv(equations, rcond=1e-10, hermitian=True)
    effect = inverse @ apart.sum(axis=0)
    left = apart - there * (effect - (there @ effect)[:, None] / size)
    useful = int((size > 1).sum())
    if useful < 2:
        return _Effects(nothing, nothing, nothing, FEW)
    scores = left @ inverse
    error = np.sqrt((scores**2).sum(axis=0) * useful / (useful - 1))
    freedom = np.minimum(there[size[:, 0] > 1].sum(axis=0), useful) - 1
    if np.any(freedom < 1):
        return _Effects(nothing, nothing, nothing, FEW)
    one, wide = (
        t_quantile(1 - (1 - chance) / 2, freedom.astype(np.float64)) for chance in (level, 1 - (1 - level) / holes)
    )
    return _Effects(effect, one * error, wide * error, None)


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else value
