"""Invented tallies: rounds of players on courses, with a level, days and what each hole adds."""

from __future__ import annotations

from typing import Any

import numpy as np

from server.analysis.evidence.tallies import Tally

CATEGORIES = ("off_the_tee", "approach", "around_the_green", "putting")
ROUND_SDS = np.array([1.1, 1.6, 1.2, 1.5])
"""Strokes a round by which a day differs in each category; together 2.7."""
HOLE_SD = 0.25


def tally(
    draw: np.random.Generator,
    rounds: int,
    level: float = 0.0,
    courses: Any = (0.0,),
    *,
    played: Any = None,
    holes: int = 18,
    adds: Any = 0.0,
    day: Any = None,
) -> Tally:
    """Rounds of one player. `level`: strokes a round, a quarter of it in each category; `courses`: what each adds;
    `played`: the course of each round, drawn without; `adds`: what each hole adds, shape (holes, categories)."""
    course = draw.integers(0, len(courses), rounds) if played is None else np.asarray(played)
    a_round = draw.normal(0, 1, (rounds, 4)) * ROUND_SDS + (level + np.asarray(courses)[course][:, None]) / 4
    noise = draw.normal(0, HOLE_SD, (rounds, holes, 4))
    strokes = a_round[:, None, :] / 18 + noise - noise.mean(axis=1, keepdims=True) + adds
    return made(strokes, course, day)


def made(strokes: Any, course: Any, day: Any = None) -> Tally:
    """A tally of these strokes, shape (rounds, holes, categories), one shot each."""
    rounds, holes, _ = strokes.shape
    round_, hole = np.repeat(np.arange(rounds), holes), np.tile(np.arange(1, holes + 1), rounds)
    return Tally(
        CATEGORIES,
        np.array([f"round {number}" for number in range(rounds)], dtype=object),
        np.arange(rounds) * 7 if day is None else np.asarray(day),
        np.array(["practice"] * rounds, dtype=object),
        np.array([f"Course {one}" for one in course], dtype=object),
        round_,
        hole,
        np.full(round_.size, 4),
        np.ones((round_.size, 4), dtype=np.int64),
        strokes.reshape(-1, 4),
    )


def every(one: Tally) -> Any:
    """All rounds of a tally."""
    return np.ones(one.day.size, dtype=bool)
