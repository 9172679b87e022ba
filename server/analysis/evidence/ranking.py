"""A squad in order: strokes gained a round adjusted for courses, and the chance of each rank.

Rounds of all players together are

    strokes gained for 18 holes = squad + player + course + round,

players, courses and rounds as random (`mixed_model`). A player with few rounds is drawn towards the squad, the more the
less is known (partial pooling); a course that only strong players played is separated from the players by those who
played others too. Ranks come from draws of all players at once, by C. R. Henderson's equations (Biometrics 31, 1975,
423-447): of every draw the order is counted. Whom the draws do not separate is not called better: ranks of players who
differ by nothing are spread over all places.

Rounds of one player on one day and course count as one, of their mean length: a day's form and weather are common to
them. A stated choice, on the safe side.

Source: H. Goldstein and D. J. Spiegelhalter, Journal of the Royal Statistical Society A 159, 1996, 385-443 (league
tables want intervals of ranks). Tests hold the chances to simulated squads.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtr, ndtri

from server.analysis.evidence.intervals import (
    ALIKE,
    DEFAULT_LEVEL,
    DEFAULT_SEED,
    NO_SPREAD,
    Codes,
    Floats,
    checked_level,
)
from server.analysis.evidence.mixed_model import crossed, fit
from server.analysis.evidence.rows import Standing
from server.game.numbers import plain

DRAWS: Final = 4000
LEAST_SPREAD: Final = 0.5
"""Strokes a round by which players of a squad are taken to differ at least: that rounds show no difference does not
make it sure that there is none. A stated choice."""
CLEARLY: Final = 0.95
"""Chance from which a player is called first, or above the next one."""
LEAST_ROUNDS: Final = 3
"""Rounds with a course below which a player has no place. A stated choice."""


class SquadRounds(NamedTuple):
    """Rounds of a squad: strokes gained for 18 holes, length as a part of 18 holes, code of the player, code of the
    course; shape (rounds,), every code used. `day`: numbers of days, None where each round has a day of its own."""

    strokes: Floats
    parts: Floats
    player: Codes
    course: Codes
    day: Codes | None = None


def by_day(
    strokes: Floats, parts: Floats, player: Codes, course: Codes, day: Codes
) -> tuple[Floats, Floats, Codes, Codes]:
    """Rounds of one player on one day and course as one: strokes of each part of the game, length, player and course.
    `strokes`: shape (rounds, parts of the game); the others as in `SquadRounds`."""
    keys, at = np.unique(np.column_stack([player, course, day]), axis=0, return_inverse=True)
    at = at.reshape(-1)
    count, length = np.bincount(at), np.bincount(at, weights=parts)
    sums = np.column_stack([np.bincount(at, weights=column * parts) for column in strokes.T])
    return sums / length[:, None], length / count, keys[:, 0], keys[:, 1]


def standings(rounds: SquadRounds, level: float = DEFAULT_LEVEL) -> list[Standing]:
    """The players in order, best first; `player` of a row is the code. Empty for fewer than two players, or where every
    player's rounds gained the same. ValueError for a level outside its range.

    Figures are strokes a round beside the mean of the squad, on an average of the courses played.
    """
    return standings_of_many([rounds], level)[0]


def standings_of_many(squads: Sequence[SquadRounds], level: float = DEFAULT_LEVEL) -> list[list[Standing]]:
    """The order of each of several squads, such as one by several parts of the game; squads of one size have the same
    draws. ValueError as `standings`."""
    checked_level(level)
    drawn: dict[int, Floats] = {}
    found: list[list[Standing]] = []
    for rounds in squads:
        counts = np.bincount(rounds.player)
        days = _days(rounds)
        if counts.size < 2 or counts.min() < LEAST_ROUNDS or not _varies(days, counts.size):
            found.append([])
            continue
        if counts.size not in drawn:
            drawn[counts.size] = np.random.default_rng(DEFAULT_SEED).standard_normal((DRAWS, counts.size))
        found.append(_order(rounds, days, counts, drawn[counts.size], level))
    return found


def _days(rounds: SquadRounds) -> SquadRounds:
    """A round for each day and course of a player."""
    if rounds.day is None:
        return rounds
    strokes, parts, player, course = by_day(rounds.strokes[:, None], *rounds[1:4], rounds.day)
    return SquadRounds(strokes[:, 0], parts, player, course)


def _varies(rounds: SquadRounds, players: int) -> bool:
    """Whether the rounds of a player differ by more than rounding: else there is no spread to judge by."""
    most, least = np.full(players, -np.inf), np.full(players, np.inf)
    np.maximum.at(most, rounds.player, rounds.strokes)
    np.minimum.at(least, rounds.player, rounds.strokes)
    return bool(np.any(most - least > NO_SPREAD))


def _order(rounds: SquadRounds, days: SquadRounds, counts: Codes, normal: Floats, level: float) -> list[Standing]:
    """The order of a squad. `days`: as `_days` gives them; `counts`: rounds of each player; `normal`: draws of the
    standard normal, shape (draws, players)."""
    found, covariance = _posterior(days)
    effects = found - found.mean()
    centred = np.eye(counts.size) - 1 / counts.size
    reach = float(ndtri((1 + level) / 2)) * np.sqrt((centred @ covariance @ centred).diagonal())
    order = np.argsort(-effects, kind="stable")
    # in that order, so that the draws do not hang on the codes of the players
    in_order, ordered = effects[order], covariance[np.ix_(order, order)]
    spread = ordered.diagonal()
    apart = np.sqrt(spread[:-1] + spread[1:] - 2 * ordered.diagonal(1))
    above = ndtr((in_order[:-1] - in_order[1:]) / apart).tolist()
    # below 0, so that the best come first, and the best by the figures in the first column
    drawn = -(normal @ np.linalg.cholesky(ordered).T) - in_order
    # how often each player has each place, the first of them none
    many = counts.size + 1
    cells = np.argsort(drawn, axis=1)
    cells *= many
    cells += np.arange(1, many)
    held = np.bincount(cells.ravel(), minlength=counts.size * many).reshape(-1, many)
    nth = np.quantile(np.arange(DRAWS), [(1 - level) / 2, (1 + level) / 2], method="nearest")
    tails = (np.cumsum(held, axis=1) <= nth[:, None, None]).sum(axis=2)
    courses = int(rounds.course.max()) + 1
    played = np.bincount(rounds.player * courses + rounds.course, minlength=counts.size * courses) > 0
    on = played.reshape(-1, courses).sum(axis=1)
    chances = (held[:, 1:] / DRAWS).tolist()
    means = np.bincount(rounds.player, weights=rounds.strokes * rounds.parts) / np.bincount(
        rounds.player, weights=rounds.parts
    )
    return [
        {
            "player": int(code),
            "rounds": int(counts[code]),
            "courses": int(on[code]),
            "mean": float(means[code]),
            "beside_squad": float(effects[code]),
            "low": float(effects[code] - reach[code]),
            "high": float(effects[code] + reach[code]),
            "rank_low": int(tails[0, at]),
            "rank_high": int(tails[1, at]),
            "chances": chances[at],
            "chance_above_next": above[at] if at < len(above) else None,
        }
        for at, code in enumerate(order)
    ]


def no_spread(names: Sequence[str]) -> str | None:
    """Why players who have rounds enough are in no order; None where there are too few. `names`: of those who have."""
    return f"the rounds of each player are {ALIKE}" if len(names) > 1 else None


def ranking_words(rows: list[Standing], names: list[str], what: str) -> str:
    """Who is first, if somebody clearly is; `names`: by the code of the player."""
    if not rows:
        few = f"at least two players with {LEAST_ROUNDS} rounds on a course each, on two days or more, are needed"
        return f"No order: {no_spread(names) or few}."
    first = rows[0]
    chance = first["chances"][0]
    if chance >= CLEARLY and first["rank_high"] == 1:
        return f"{names[first['player']]} is first in {what} (chance {plain(100 * chance, 0)} in 100)."
    likely = [row for row in rows if row["chances"][0] >= 1 - CLEARLY]
    called = ", ".join(f"{names[row['player']]} {plain(100 * row['chances'][0], 0)}" for row in likely[:5])
    return f"Nobody is clearly first in {what}. Chances in 100: {called}."


def _posterior(rounds: SquadRounds) -> tuple[Floats, Floats]:
    """What the players gain, up to what all of them have in common, shape (players,), and the covariance of what is not
    known of that: out of Henderson's equations at the variances that REML finds."""
    ones = np.ones((rounds.strokes.size, 1))
    model = fit(rounds.strokes, ones, (rounds.player, rounds.course), weights=rounds.parts)
    player, course = (int(code.max()) + 1 for code in (rounds.player, rounds.course))
    # the mean is a grouping of one level
    codes, levels = (np.zeros_like(rounds.player), rounds.player, rounds.course), (1, player, course)
    weights = rounds.parts / model.residual
    sums = [np.bincount(code, weights=weights * rounds.strokes) for code in codes]
    spread = max(float(model.variances[0]), LEAST_SPREAD**2), max(float(model.variances[1]), NO_SPREAD)
    precision = np.concatenate([[0.0], np.full(player, 1 / spread[0]), np.full(course, 1 / spread[1])])
    normal = crossed(codes, levels, weights) + np.diag(precision)
    inverse: Floats = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    found = inverse @ np.concatenate(sums)
    return found[1 : 1 + player], inverse[1 : 1 + player, 1 : 1 + player]
