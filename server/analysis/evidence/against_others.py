"""A player beside the mean of the others, adjusted for courses, the spread of players and of courses averaged over.

Rounds of all players together are

    strokes gained for 18 holes = squad + player + course + round,     player ~ N(0, (a s)^2), course ~ N(0, (q s)^2)

with s the spread of rounds of 18 holes. The figure is player i less the mean of the other players, so that none of the
player's own shots are in what the player is held against; the player's rounds do help to show how hard courses are
and how far players differ. A player of few rounds is drawn towards the squad (partial pooling), as in `ranking`.

From a handful of players a is hardly known, and a best guess of it is often 0, which would leave every player at the
squad's mean with too much certainty. So, as q in `course_model`, it is averaged over: both ratios are on a grid of
equal prior chance of a half-Cauchy each (scales `PLAYER_SCALE`, `course_model.PRIOR_SCALE`) and are weighed by how well
they explain the rounds, mean and s integrated out. For given ratios the figure has a t distribution with n - 1 degrees
of freedom about C. R. Henderson's prediction (Biometrics 31, 1975, 423-447); the interval is that of the mixture. Of
players and courses the more are taken out of the equations first, then a spectral decomposition of the others serves
all their spreads, so that 300 players on 40 courses cost no more than the courses.

Rounds of one player on one day and course count as one, of their mean length: a day's form and weather are common to
them. A stated choice, on the safe side.

Sources: A. Gelman, Bayesian Analysis 1(3), 2006, 515-534 (half-Cauchy for the spread of few groups). Rates measured by
simulation: DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from server.analysis.evidence.adjusted_spans import is_sure
from server.analysis.evidence.course_model import NO_SPREAD, PRIOR_SCALE, Figure
from server.analysis.evidence.intervals import ALIKE, DEFAULT_LEVEL, Codes, Flags, Floats, checked_level
from server.analysis.evidence.level import ONE_DAY
from server.analysis.evidence.ranking import LEAST_ROUNDS, by_day
from server.analysis.evidence.rows import AgainstPart
from server.analysis.evidence.tallies import TOTAL, Tally

PLAYER_SCALE: Final = 2.0
"""Half-Cauchy scale of the spread of players as a multiple of that of rounds. A stated choice, made by simulation: with
6 players who differ by 1 stroke, 12 rounds each, 90 % intervals of scale 1 held the truth in 87.5 % and of scale 2 in
88.5 % of 3,000 squads."""
POINTS: Final = 24
"""Values of each ratio, of equal prior chance each."""

FEW: Final = f"fewer than {LEAST_ROUNDS} rounds of nine holes or more with a course"
NONE_SHARED: Final = (
    "no course was played by the player and by another, and there is a single course on one of the two sides: a harder "
    "course cannot be separated from worse play"
)
NO_SHOT: Final = "no such shot"
FEW_WITH_CATEGORIES: Final = "too few of the others count in four categories"
BETTER: Final = "better"
WORSE: Final = "worse"
PERHAPS_BETTER: Final = "perhaps better"
PERHAPS_WORSE: Final = "perhaps worse"
NOT_SEPARATED: Final = "not separated"
CANNOT_SAY: Final = "not clear"
VERDICTS: Final = (BETTER, WORSE, PERHAPS_BETTER, PERHAPS_WORSE, NOT_SEPARATED, CANNOT_SAY)


@dataclass(frozen=True, eq=False)
class Entered:
    """A player's rounds. `chosen`: which of the tally's are looked at, shape (rounds,)."""

    tally: Tally
    chosen: Flags

    @property
    def rounds(self) -> int:
        """How many rounds have a course."""
        return int((self.chosen & self.tally.has_course).sum())

    @property
    def enough(self) -> bool:
        """Whether there are rounds enough to be held against others, or be one of them."""
        return self.rounds >= LEAST_ROUNDS


def against_parts(player: Entered, others: Sequence[Entered], least: int, level: float = DEFAULT_LEVEL) -> Against:
    """The player beside the mean of the others, by all strokes and by category, or why not. `others`: those who have
    rounds `enough`; `least`: how many of them are needed at least. ValueError for a level outside its range.

    Intervals are of one row at a time; better and worse are called where the row's interval leaves out 0, and at
    `adjusted_spans.SURE_LEVEL` at least; between the two it is perhaps.
    """
    checked_level(level)
    mine, _ = player.tally.rates(player.chosen)
    courses = {name for one in others for name in one.tally.course[one.chosen] if name is not None}
    lacking = None
    if not player.enough:
        lacking = FEW
    elif int(mine.day.max()) == 0:
        lacking = ONE_DAY
    elif len(others) < least:
        lacking = few_others(len(others), least)
    elif not courses & set(mine.names) and min(len(courses), len(mine.names)) < 2:
        lacking = NONE_SHARED
    parts = (TOTAL, *player.tally.categories)
    alike = [one for one in others if one.tally.categories == player.tally.categories]
    figures: list[Figure | None] = [None] * len(parts)
    why: list[str | None] = [lacking] * len(parts)
    if lacking is None and len(alike) == len(others):
        figures = _figures(player, others, parts)
    elif lacking is None:
        figures[:1] = _figures(player, others, parts[:1])
        why[1:] = [FEW_WITH_CATEGORIES if len(alike) < least else None] * (len(parts) - 1)
        if len(alike) >= least:
            figures[1:] = _figures(player, alike, parts[1:])
    shown = [reason or _lacking(player, others, part) for reason, part in zip(why, parts, strict=True)]
    rows = [_row(player, part, one, reason, level) for part, one, reason in zip(parts, figures, shown, strict=True)]
    return Against(rows, lacking, len(courses | set(mine.names)))


@dataclass(frozen=True, eq=False)
class Against:
    """`parts`: all strokes, then the categories; `lacking`: why there is no figure at all; `courses`: taken out."""

    parts: list[AgainstPart]
    lacking: str | None
    courses: int


def few_others(there: int, least: int) -> str:
    """Why a player cannot be held against so few."""
    verb = "is" if there == 1 else "are"
    return (
        f"there {verb} {there or 'none'} besides the player with {LEAST_ROUNDS} rounds of nine holes or more with a "
        f"course; at least {least} are needed"
    )


def _lacking(player: Entered, others: Sequence[Entered], part: str) -> str | None:
    alike = [one for one in others if part == TOTAL or part in one.tally.categories]
    there = player.tally.has_shots(player.chosen, part) and any(one.tally.has_shots(one.chosen, part) for one in alike)
    return None if there else NO_SHOT


def _figures(player: Entered, others: Sequence[Entered], parts: Sequence[str]) -> list[Figure | None]:
    """The figures of these parts; code 0 is the player."""
    everybody = [player, *others]
    rates = [one.tally.rates(one.chosen)[0] for one in everybody]
    strokes = np.concatenate([one.tally.of_rounds(one.chosen & one.tally.has_course, parts) for one in everybody])
    names: dict[str, int] = {}
    course = np.concatenate(
        [np.array([names.setdefault(name, len(names)) for name in one.names], dtype=int)[one.course] for one in rates]
    )
    code = np.repeat(np.arange(len(rates)), [one.strokes.size for one in rates])
    lengths, day = np.concatenate([one.parts for one in rates]), np.concatenate([one.day for one in rates])
    return against_others(together(strokes, lengths, code, course, day), 0)


def _row(player: Entered, part: str, found: Figure | None, lacking: str | None, level: float) -> AgainstPart:
    there = player.tally.has_shots(player.chosen, part)
    row: AgainstPart = {
        "part": part,
        "mean": player.tally.mean(player.chosen, part) if there else None,
        "difference": None,
        "low": None,
        "high": None,
        "chance_better": None,
        "verdict": CANNOT_SAY,
        "lacking": lacking or (ALIKE if found is None else None),
    }
    if lacking or found is None:
        return row
    low, high = found.interval(level)
    chance = 1 - found.chance_below(0.0)
    verdict = NOT_SEPARATED
    if low > 0 or high < 0:
        sure, perhaps = (BETTER, PERHAPS_BETTER) if low > 0 else (WORSE, PERHAPS_WORSE)
        verdict = sure if is_sure(chance) else perhaps
    return {**row, "difference": found.mean, "low": low, "high": high, "chance_better": chance, "verdict": verdict}


@dataclass(frozen=True, eq=False)
class Together:
    """Rounds of several players that count as one a day and course. `strokes`: strokes gained for 18 holes, shape
    (rounds, parts of the game); `parts`: length as a part of 18 holes, `player`, `course`: codes, every one used,
    shape (rounds,)."""

    strokes: Floats
    parts: Floats
    player: Codes
    course: Codes


def together(strokes: Floats, parts: Floats, player: Codes, course: Codes, day: Codes) -> Together:
    """Rounds, those of one player on one day and course as one. Shapes as in `Together`; `day`: shape (rounds,)."""
    return Together(*by_day(strokes, parts, player, course, day))


def against_others(rounds: Together, player: int) -> list[Figure | None]:
    """For each part of the game the player less the mean of the others, in strokes for 18 holes; None where the rounds
    are all alike. `player`: its code. ValueError for fewer than two players or a code that is none."""
    players, courses = int(rounds.player.max(initial=-1)) + 1, int(rounds.course.max(initial=-1)) + 1
    if players < 2 or not 0 <= player < players:
        raise ValueError(f"player: {player} is not one of {players} players, two at least")
    apart = np.full(players, -1 / (players - 1))
    apart[player] = 1.0
    at = np.tan(np.pi / 2 * (np.arange(POINTS) + 0.5) / POINTS)
    # whichever are more are taken out first: what is left costs the cube of the others
    if players >= courses:
        sums = _Sums.of(rounds, rounds.player, rounds.course)
        found = [sums.at(ratio, PRIOR_SCALE * at, apart, np.zeros(courses)) for ratio in PLAYER_SCALE * at]
    else:
        sums = _Sums.of(rounds, rounds.course, rounds.player)
        found = [sums.at(ratio, PLAYER_SCALE * at, np.zeros(courses), apart) for ratio in PRIOR_SCALE * at]
    middles, errors, logs, rests = (np.stack(one) for one in zip(*found, strict=True))
    freedom = rounds.parts.size - 1
    figures: list[Figure | None] = []
    for place in range(rounds.strokes.shape[1]):
        rest = rests[:, :, place].ravel()
        if not np.all(rest > rounds.parts.size * NO_SPREAD**2):
            figures.append(None)
            continue
        weight = logs.ravel() - 0.5 * freedom * np.log(rest)
        chances = np.exp(weight - weight.max())
        scale = np.sqrt(errors.ravel() * rest / freedom)
        figures.append(Figure(chances / chances.sum(), middles[:, :, place].ravel(), scale, freedom))
    return figures


@dataclass(frozen=True, eq=False)
class _Sums:
    """Weighted sums of the rounds by two groupings, players and courses either way round: the first is taken out
    first. `length`: of each level of the first; `cross`: of those with (1, levels of the second); `rest`: of (1,
    levels of the second) with each other; `by_first`, `by_rest`: with the responses; `squares`: of the responses."""

    length: Floats
    cross: Floats
    rest: Floats
    by_first: Floats
    by_rest: Floats
    squares: Floats

    @classmethod
    def of(cls, rounds: Together, first: Codes, second: Codes) -> _Sums:
        """The sums of some rounds. The responses are centred first: their mean is a fixed effect, and squares of large
        numbers lose digits."""
        w = rounds.parts
        y = rounds.strokes - np.average(rounds.strokes, axis=0, weights=w)
        levels, others = int(first.max()) + 1, int(second.max()) + 1
        length = np.bincount(first, weights=w).astype(np.float64)
        table = np.bincount(first * others + second, weights=w, minlength=levels * others)
        cross = np.column_stack([length, table.reshape(levels, others)])
        played = np.bincount(second, weights=w)
        rest = np.zeros((1 + others, 1 + others))
        rest[0, 0], rest[0, 1:], rest[1:, 0] = w.sum(), played, played
        rest[1:, 1:] = np.diag(played)
        by_first = _summed(first, w, y, levels)
        by_rest = np.vstack([(y * w[:, None]).sum(axis=0), _summed(second, w, y, others)])
        return cls(length, cross, rest, by_first, by_rest, (y**2 * w[:, None]).sum(axis=0))

    def at(
        self, ratio: float, ratios: Floats, of_first: Floats, of_second: Floats
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """At one spread of the first grouping and all spreads of the second (points,), as multiples of s: the figure
        that weighs the effects by `of_first` and `of_second` (points, parts), its variance as a multiple of s^2
        (points,), the log chance without its last factor (points,), and what is left of the sum of squares (points,
        parts)."""
        own = 1 / (self.length + 1 / ratio**2)
        shrunk = own[:, None] * self.cross
        left = self.rest - self.cross.T @ shrunk
        right = self.by_rest - shrunk.T @ self.by_first
        # the mean is taken out of the second's equations, and what is left of them diagonal for every spread
        lead = left[1:, 0] / left[0, 0]
        values, axes = np.linalg.eigh(left[1:, 1:] - np.outer(lead, left[0, 1:]))
        values = np.maximum(values, 0.0)
        ahead = axes.T @ (right[1:] - np.outer(lead, right[0]))
        weight = 1 / (values + 1 / ratios[:, None] ** 2)
        held = shrunk.T @ of_first
        held[1:] -= of_second
        turned = axes.T @ (held[1:] - lead * held[0])
        figures = (own * of_first) @ self.by_first - held[0] * right[0] / left[0, 0]
        middles = figures - np.einsum("gc,c,ck->gk", weight, turned, ahead)
        errors = (own * of_first) @ of_first + held[0] ** 2 / left[0, 0] + weight @ turned**2
        logs = -0.5 * (np.log1p(ratio**2 * self.length).sum() + np.log(left[0, 0]))
        logs = logs - 0.5 * np.log1p(ratios[:, None] ** 2 * values).sum(axis=1)
        taken = (own[:, None] * self.by_first**2).sum(axis=0) + right[0] ** 2 / left[0, 0]
        return middles, errors, logs, np.maximum(self.squares - taken - weight @ ahead**2, 0.0)


def _summed(code: Codes, weights: Floats, values: Floats, size: int) -> Floats:
    return np.column_stack([np.bincount(code, weights=weights * column, minlength=size) for column in values.T])
