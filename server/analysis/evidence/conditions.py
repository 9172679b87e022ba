"""Wind, temperature and firmness of rounds, to be taken out of a difference or a trend as courses and days are.

Each condition that is used is one column of the model: the value less the mean of all rounds, in steps of 10 mph,
10 degrees C, or one of soft, medium, firm. Its effect has a normal prior about 0 whose spread is a share of that of
rounds (`PRIOR_SPREAD`), so that a condition that goes with a span (all of one in the wind, none of the other) widens
the interval by what such wind could do and no further.

Used are conditions that

- `LEAST_SHARE` of the rounds of each span have a value of, `LEAST_ROUNDS` rounds in all, and
- that vary: a standard deviation of `Condition.least` or more.

A rule of the columns alone, never of the strokes: to keep what changes a verdict would be a search.

Rounds without a value keep their place in the model, at what the rounds of their span (for a trend: the line over the
months) that have one suggest, and share an effect of their own with the same prior: who records wind may do so on windy
days, and then the others are calmer than these. Refused: leaving them out, which loses rounds; and the mean of all in
their place, which gives the rounds of a windy span the wind of the calm one (nothing changed was called worse in 12 %
of simulated pairs of spans of which 70 % recorded the wind, the windier rounds first). All sizes are choices of this
tool.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from server.analysis.evidence.course_model import Averaged
from server.analysis.evidence.intervals import Codes, Floats
from server.analysis.evidence.rows import ConditionCost
from server.game.numbers import plain, signed


class Condition(NamedTuple):
    """A condition of a round: the column of a frame, the step of its effect in the column's unit, the least standard
    deviation at which it is used, and the step in words."""

    name: str
    step: float
    least: float
    words: str


WIND: Final = Condition("wind_mph", 10.0, 2.0, "10 mph of wind")
TEMPERATURE: Final = Condition("temperature_c", 10.0, 2.0, "10 degrees C more")
FIRMNESS: Final = Condition("firmness", 1.0, 0.3, "one step firmer ground")
CONDITIONS: Final = (WIND, TEMPERATURE, FIRMNESS)
FIRMNESS_STEPS: Final = {"soft": -1.0, "medium": 0.0, "firm": 1.0}
"""Taken as equally far apart."""

PRIOR_SPREAD: Final = 0.9
"""Spread of a step's effect as a share of that of rounds from day to day: 2.7 strokes a round for 10 mph where rounds
vary by 3. With 0.5 and 0.6 intervals of 90 % held 94.7 and 93.8 % where no wind mattered and 70 % recorded it."""
LEAST_SHARE: Final = 0.5
LEAST_ROUNDS: Final = 8


class Columns(NamedTuple):
    """What conditions add to a design. `used`: the conditions; `columns`: (n, k), one for each of them, then one for
    the rounds that lack a value where there are such; `known`: how many rounds have a value of each."""

    used: tuple[Condition, ...]
    columns: Floats
    known: tuple[int, ...]

    @property
    def precision(self) -> Floats:
        """Of the prior of each column, beside that of a round, shape (k,)."""
        return np.full(self.columns.shape[1], PRIOR_SPREAD**-2)


def condition_values(rounds: pd.DataFrame) -> Floats:
    """Values of `CONDITIONS` of rounds, one a row; NaN where there is none. Shape (rounds, 3)."""
    values = np.full((len(rounds), len(CONDITIONS)), np.nan)
    for place, condition in enumerate(CONDITIONS):
        if condition.name not in rounds:
            continue
        column = rounds[condition.name]
        if condition is FIRMNESS:
            codes, words = pd.factorize(column)
            values[:, place] = np.array([*(FIRMNESS_STEPS.get(word, np.nan) for word in words), np.nan])[codes]
            continue
        values[:, place] = pd.to_numeric(column).to_numpy(dtype=np.float64)
    return values


def condition_columns(values: Floats | None, design: Floats, group: Codes) -> Columns:
    """The columns of the conditions that may be used. `values`: (n, 3), as `condition_values` gives them, None where
    nothing is known; `design`: what the difference or the trend is in, shape (n, p); `group`: the span of each round,
    or the half of a trend, from 0, shape (n,)."""
    rounds = group.size
    used: list[Condition] = []
    columns: list[Floats] = []
    lacking = np.zeros(rounds, dtype=np.bool_)
    counts: list[int] = []
    for place, condition in enumerate(CONDITIONS):
        if values is None:
            break
        value = values[:, place]
        known = np.isfinite(value)
        if not _enough(known, group) or np.std(value[known], ddof=1) < condition.least:
            continue
        used.append(condition)
        counts.append(int(known.sum()))
        suggested = design @ np.linalg.lstsq(design[known], value[known], rcond=None)[0]
        filled = np.where(known, value, suggested)
        columns.append((filled - filled.mean()) / condition.step)
        lacking |= ~known
    if used and lacking.any():
        columns.append(lacking - lacking.mean())
    return Columns(tuple(used), np.column_stack(columns) if columns else np.zeros((rounds, 0)), tuple(counts))


def _enough(known: Floats, group: Codes) -> bool:
    """Whether enough rounds of every group have a value."""
    in_group = np.bincount(group)
    shares = np.bincount(group, weights=known, minlength=in_group.size) / np.maximum(in_group, 1)
    return bool(known.sum() >= LEAST_ROUNDS and np.all(shares >= LEAST_SHARE))


def condition_costs(found: Averaged | None, taken: Columns, first: int, level: float) -> list[ConditionCost]:
    """What a step of each condition that is used costs, with its interval. `first`: the place of the first of
    `taken.columns` in the design of `found`."""
    if found is None:
        return []
    rows: list[ConditionCost] = []
    for place, (condition, rounds) in enumerate(zip(taken.used, taken.known, strict=True)):
        weights = np.zeros(found.fixed.shape[1])
        weights[first + place] = -1.0
        cost = found.contrast(weights)
        low, high = cost.interval(level)
        words = (
            f"{condition.words}: {plain(cost.mean, 1)} strokes a round "
            f"({100 * level:g} % interval {signed(low, 1)} to {signed(high, 1)})"
        )
        rows.append(
            {
                "condition": condition.name,
                "step": condition.step,
                "rounds": rounds,
                "cost": cost.mean,
                "low": low,
                "high": high,
                "words": words,
            }
        )
    return rows


def conditions_words(costs: list[ConditionCost]) -> str:
    """Which conditions are taken out and what each costs, as a sentence; empty without any."""
    if not costs:
        return ""
    return f"Taken out as well: {'; '.join(cost['words'] for cost in costs)}."
