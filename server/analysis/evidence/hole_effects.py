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
from math import isnan
from typing import Final, NamedTuple

import numpy as np

from server.analysis.evidence.intervals import (
    ALIKE,
    DEFAULT_LEVEL,
    NO_SPREAD,
    Codes,
    Flags,
    Floats,
    checked_level,
    distinct,
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
CONNECTED: Final = 1e-8
"""Singular values of the holes' equations up to which holes were never compared."""


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
    numbers, place = distinct(played.hole.astype(np.int64))
    parts = (TOTAL, *categories)
    shots = np.stack([played.shots.sum(axis=1), *played.shots.T])
    strokes = np.stack([played.strokes.sum(axis=1), *played.strokes.T])
    times = np.bincount(place)
    hit = np.vstack([np.bincount(place, weights=one, minlength=numbers.size) for one in shots])
    judged = (hit > 0) & (times >= LEAST_TIMES)
    kinds = int(played.par.max()) + 1
    pars = np.bincount(place * kinds + played.par, minlength=numbers.size * kinds).reshape(-1, kinds).argmax(axis=1)
    means = _means(place, times, strokes, level)
    effects = _effects(played.round_, place, strokes, judged, level)
    rows = [_parts_row(part, *of_part) for part, *of_part in zip(parts, hit, judged, means, effects, strict=True)]
    return [
        {
            "hole": int(number),
            "par": int(pars[at]),
            "times": int(times[at]),
            "parts": [of_part[at] for of_part in rows],
        }
        for at, number in enumerate(numbers)
    ]


class _Means(NamedTuple):
    """Strokes gained each time a hole was played, with an interval, each shape (holes,)."""

    mean: Floats
    low: Floats
    high: Floats


def _means(place: Codes, times: Codes, strokes: Floats, level: float) -> list[_Means]:
    """The means of each part of the game. `place`: of the hole of each column of `strokes`, (parts, played); `times`:
    how often each was played."""
    order = np.argsort(place, kind="stable")
    ends = np.cumsum([0, *times])
    # a row for each part and hole, nothing behind the last time
    rows = np.zeros((len(strokes), times.size, int(times.max())))
    rows[:, place[order], np.arange(order.size) - ends[place[order]]] = strokes.take(order, axis=1)
    counts = np.broadcast_to(np.arange(rows.shape[2]) < times[:, None], rows.shape).astype(np.float64)
    found = ratio_intervals(rows.reshape(-1, rows.shape[2]), counts.reshape(-1, rows.shape[2]), level)
    figures = (one.reshape(len(strokes), -1) for one in (found.mean, found.low, found.high))
    return [_Means(*one) for one in zip(*figures, strict=True)]


def _parts_row(part: str, hit: Floats, judged: Flags, means: _Means, effects: _Effects) -> list[HolePart]:
    """The rows of one part of the game, hole by hole."""
    rows: list[HolePart] = []
    of_means = zip(*(column.tolist() for column in means), strict=True)
    of_effects = zip(*(column.tolist() for column in effects[:3]), strict=True)
    for shots, stated, mean, effect in zip(hit.tolist(), judged.tolist(), of_means, of_effects, strict=True):
        beside, reach, wide = effect
        lacking = NO_SHOT if not shots else FEW if not stated else effects.lacking or (ALIKE if isnan(reach) else None)
        row: HolePart = {
            "part": part,
            "shots": int(shots),
            "mean": mean[0] if shots else None,
            "mean_low": _or_none(mean[1]) if stated else None,
            "mean_high": _or_none(mean[2]) if stated else None,
            "beside": None,
            "low": None,
            "high": None,
            "together_low": None,
            "together_high": None,
            "verdict": CANNOT_SAY,
            "lacking": lacking,
        }
        if lacking is None:
            clear = abs(beside) > max(wide, reach)
            row["beside"], row["low"], row["high"] = beside, beside - reach, beside + reach
            row["together_low"], row["together_high"] = beside - wide, beside + wide
            row["verdict"] = (EASIER if beside > 0 else HARDER) if clear else NOT_SEPARATED
        rows.append(row)
    return rows


class _Effects(NamedTuple):
    """Holes beside their mean, half of the interval of one and of all together, shape (holes,), NaN for those that are
    not judged, the halves too where all rounds say the same; why there are none."""

    middle: Floats
    reach: Floats
    wide: Floats
    lacking: str | None


def _effects(round_: Codes, place: Codes, strokes: Floats, judged: Flags, level: float) -> list[_Effects]:
    """The effects of each part of the game, of the holes that are judged. `strokes`: (parts, played); `judged`: (parts,
    holes)."""
    # most parts are judged on the same holes
    made: dict[bytes, _Equations] = {}
    found: list[_Effects] = []
    for of_part, holes in zip(strokes, judged, strict=True):
        key = holes.tobytes()
        mine = holes[place]
        if key not in made:
            made[key] = _equations(round_[mine], (np.cumsum(holes) - 1)[place[mine]], int(holes.sum()), level)
        spread = np.full((3, holes.size), np.nan)
        if made[key].lacking is None:
            spread[:, holes] = _beside(made[key], of_part[mine])
        found.append(_Effects(spread[0], spread[1], spread[2], made[key].lacking))
    return found


class _Equations(NamedTuple):
    """What the rounds in which holes were played say whatever was gained there. `at`: the row of the round of each hole
    played, `hole`: its number; `there`: 1 for a hole that a round has, (rounds, holes); `inverse`: of the holes'
    equations with rounds taken out; `useful`: how many rounds compare holes; `reaches`: standard errors in half of the
    interval of one hole and of all together, (2, holes); `lacking`: why there are no effects."""

    at: Codes
    hole: Codes
    there: Floats
    inverse: Floats
    useful: int
    reaches: Floats
    lacking: str | None


def _equations(round_: Codes, hole: Codes, holes: int, level: float) -> _Equations:
    """The equations; every code of `hole` used."""
    rounds, at = distinct(round_)
    there = np.zeros((rounds.size, holes))
    there[at, hole] = 1.0
    found = _Equations(at, hole, there, np.zeros((holes, holes)), 0, np.full((2, holes), np.nan), ALONE)
    if holes < 2:
        return found
    size = there.sum(axis=1, keepdims=True)
    equations = np.diag(there.sum(axis=0)) - (there / size).T @ there
    left, values, right = np.linalg.svd(equations, hermitian=True)
    if (values > CONNECTED).sum() < holes - 1:
        return found._replace(lacking=APART)
    useful = int((size > 1).sum())
    freedom = np.minimum(there[size[:, 0] > 1].sum(axis=0), useful) - 1
    if useful < 2 or np.any(freedom < 1):
        return found._replace(lacking=FEW)
    inverse = right.T @ (np.where(values > CONNECTED, 1 / np.maximum(values, CONNECTED), 0.0)[:, None] * left.T)
    reaches = np.stack(
        [t_quantile(1 - (1 - chance) / 2, freedom.astype(np.float64)) for chance in (level, 1 - (1 - level) / holes)]
    )
    return found._replace(inverse=inverse, useful=useful, reaches=reaches, lacking=None)


def _beside(known: _Equations, strokes: Floats) -> Floats:
    """The effects of holes with rounds taken out, and half of their intervals, of one and of all together, shape (3,
    holes)."""
    there = known.there
    table = np.zeros(there.shape)
    table[known.at, known.hole] = strokes
    size = there.sum(axis=1, keepdims=True)
    apart = there * (table - table.sum(axis=1, keepdims=True) / size)
    effect = known.inverse @ apart.sum(axis=0)
    left = apart - there * (effect - (there @ effect)[:, None] / size)
    scores = left @ known.inverse
    error = np.sqrt((scores**2).sum(axis=0) * known.useful / (known.useful - 1))
    # what is left is rounding: an interval of no width would claim more than is known
    error = np.where(error > NO_SPREAD, error, np.nan)
    return np.vstack([effect, known.reaches * error])


def _or_none(value: float) -> float | None:
    return None if isnan(value) else value
