"""Rounds predicted from the rounds before them alone, beside their scores.

Each round is predicted from shots of earlier days alone. Holes are solved anew `MOST_SOLVED` times at most, each time
that the earlier rounds have grown by the same factor, for patterns hardly change from one round to the next; what play
costs beyond the plan and the form of the day follow every round. Holes are solved from the tees that most of the
rounds to come were played from; other tees are tilted by the player's own curve from the tee (`score_ahead.moved`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.plan.options import RIGHT_HANDED
from server.analysis.round_ahead.form import FULL_ROUND, form_of
from server.analysis.round_ahead.hole_ahead import HoleAhead
from server.analysis.round_ahead.playing import (
    Known,
    NoClubError,
    PlayedRounds,
    Progress,
    chances_of,
    holes_ahead,
    known_of,
    longer,
    past_of,
    played_rounds,
)
from server.analysis.round_ahead.score_ahead import NEAR_WORTH, moved, score_ahead, unknown_of
from server.analysis.round_ahead.scoring import Forecast, naive_forecast

ROUNDS_BEFORE: Final = 5
"""A round is predicted when the player had so many before it."""
MOST_SOLVED: Final = 3
MOST_ROUNDS: Final = 60
"""The latest so many rounds are predicted. These three are choices of this tool."""
CHECK_BALLS: Final = 2048

Holes = Callable[[str | None], Sequence[HoleToPlay]]
"""Name of tees -> the holes from them."""


@dataclass(frozen=True, eq=False)
class RoundForecast:
    """One round: the day, tees, how many holes, their par, and the forecast beside the score. `rounds_before`: whose
    shots it is based on."""

    played_on: date
    tees: str | None
    holes: int
    par: int
    forecast: Forecast
    rounds_before: int


@dataclass(frozen=True, eq=False)
class _Solved:
    """Holes as they were predicted up to a day."""

    known: Known
    made: list[HoleAhead]
    holes: Sequence[HoleToPlay]
    unknown: float


def check_rounds(
    valued: pd.DataFrame,
    course: str,
    numbers: Sequence[int],
    holes: Holes,
    baseline: Baseline,
    *,
    plays: str = RIGHT_HANDED,
    progress: Progress | None = None,
    most_solved: int = MOST_SOLVED,
    balls: int = CHECK_BALLS,
    cell_yd: float = 3.0,
) -> tuple[list[RoundForecast], int]:
    """Predict every round on a course that was finished on these holes, the latest `MOST_ROUNDS`, oldest first; and
    how many times the holes were solved. Rounds before which no club could be planned with are left out."""
    rounds = played_rounds(valued, course, numbers)
    days = pd.to_datetime(rounds.rounds["played_on"]).to_numpy(dtype="datetime64[D]")
    played_on = pd.to_datetime(valued["played_on"]).to_numpy(dtype="datetime64[D]")
    before = np.array([int((days < day).sum()) for day in days], dtype=np.intp)
    complete = rounds.rounds["finished"].to_numpy(dtype=np.bool_)
    wanted = np.flatnonzero((before >= ROUNDS_BEFORE) & complete)[-MOST_ROUNDS:]
    again = _solved_at(before[wanted], most_solved)
    found: list[RoundForecast] = []
    now: _Solved | None = None
    times = 0
    for place, number in enumerate(wanted):
        if place in again:
            report = _share(progress, times, len(again))
            tees = rounds.rounds["tees"].iloc[number:].dropna()
            from_tees = holes(None if tees.empty else str(tees.mode().iloc[0]))
            earlier = valued[played_on < days[number]]
            now = _solve(known_of(earlier, baseline, plays), from_tees, report, balls, cell_yd) or now
            times += 1
        if now is not None:
            found.append(_predict(now, rounds, int(number), int(before[number])))
    return found, times


def _solved_at(before: np.ndarray, most: int) -> set[int]:
    """Places at which the holes are solved: the first, and where the rounds before have grown by the same factor."""
    if not before.size:
        return set()
    factor = (float(before[-1]) / float(before[0]) + 1e-9) ** (1 / most)
    wanted = before[0] * factor ** np.arange(most)
    return {int(np.searchsorted(before, one - 1e-6)) for one in wanted if one <= before[-1] + 1e-6}


def _share(progress: Progress | None, done: int, of: int) -> Progress | None:
    if progress is None:
        return None
    return lambda share: progress((done + share) / of)


def _solve(
    known: Known, holes: Sequence[HoleToPlay], progress: Progress | None, balls: int, cell_yd: float
) -> _Solved | None:
    """The holes by what earlier shots show; None when no club could be planned with then."""
    try:
        made = holes_ahead(known, holes, balls=balls, cell_yd=cell_yd, progress=progress)
    except NoClubError:
        return None
    return _Solved(known, made, holes, unknown_of(made, known.rounds))


def _predict(now: _Solved, rounds: PlayedRounds, number: int, before: int) -> RoundForecast:
    """One round by the rounds of earlier days."""
    row = rounds.rounds.iloc[number]
    past = past_of(now.known, now.made, now.holes, rounds).until(before)
    here = np.array([hole.length_yd for hole in now.holes])
    done = rounds.finished[number]
    chances = moved(chances_of(now.made), longer(now.known, here, rounds.lengths[number]))[done]
    # the rounds since show part of what the patterns left open then: less is unknown, in proportion to them
    unknown = now.unknown * (now.known.rounds + NEAR_WORTH) / (max(before, now.known.rounds) + NEAR_WORTH)
    made = score_ahead(chances, form_of(past), unknown)
    naive = naive_forecast(_over_par(rounds, before), int(row["par"]), int(done.sum()) / FULL_ROUND)
    return RoundForecast(
        pd.Timestamp(row["played_on"]).date(),
        None if pd.isna(row["tees"]) else str(row["tees"]),
        int(row["holes"]),
        int(row["par"]),
        Forecast(made.round, int(row["score"]), naive),
        before,
    )


def _over_par(rounds: PlayedRounds, before: int) -> Floats:
    """Scores beside par for 18 holes of the first `before` rounds."""
    first = rounds.rounds.iloc[:before]
    over = first["score"].to_numpy(dtype=np.float64) - first["par"].to_numpy(dtype=np.float64)
    return np.asarray(over * FULL_ROUND / first["holes"].to_numpy(dtype=np.float64))
