"""All holes of a round simulated, from a player's shots up to a day.

Holes are solved on cells of `CELL_YD`, a little wider than those of the plan of one shot. In the demo 18 holes of the
plan then add up to 0.16 strokes more; the rounds before take that back, and what is predicted moves by 0.01.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.expected_strokes.fit import own_curves, strokes_to_hole_out
from server.analysis.plan.ahead import LEAST_NEAR_YD, MOST_NEAR_YD, Ahead, options_by_lie
from server.analysis.plan.flight import USUAL_DAY, Day
from server.analysis.plan.hole_grid import hole_grid
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.plan.options import RIGHT_HANDED, Bag, bag_of
from server.analysis.plan.position_value import LEAST_YD
from server.analysis.plan.solve import solve
from server.analysis.round_ahead.counts import STROKES
from server.analysis.round_ahead.form import FULL_ROUND, Past
from server.analysis.round_ahead.hole_ahead import BALLS, HoleAhead, Patterns, played, tee_shot
from server.analysis.round_ahead.near_hole import near_hole
from server.analysis.strokes_gained.scorecard import hole_scores
from server.game.lies import FAIRWAY, TEE
from server.game.ranges import FARTHEST_YD

CELL_YD: Final = 2.5
LEAST_PART: Final = 0.5
"""A round before counts when at least this share of the holes was finished on it."""
SOLVED_SHARE: Final = 0.8
"""Of the time of one hole, for those who watch it."""

Progress = Callable[[float], None]


class NoClubError(ValueError):
    """No club has shots enough to plan with; the message gives the reason."""


@dataclass(frozen=True, eq=False)
class Known:
    """What a player's shots give: the bag, the own curves, starts of finished holes, and their number of rounds."""

    valued: pd.DataFrame
    bag: Bag
    curves: Baseline
    starts: pd.DataFrame
    rounds: int


def known_of(valued: pd.DataFrame, baseline: Baseline, plays: str = RIGHT_HANDED) -> Known:
    """What some shots give. `valued`: as `valued_shots` returns them; `plays`: the player's hand, right or left."""
    starts = strokes_to_hole_out(valued)
    rounds = int(starts["round_id"].nunique())
    return Known(valued, bag_of(valued, plays), own_curves(starts, baseline), starts, rounds)


def holes_ahead(
    known: Known,
    holes: Sequence[HoleToPlay],
    *,
    day: Day = USUAL_DAY,
    balls: int = BALLS,
    cell_yd: float = CELL_YD,
    progress: Progress | None = None,
) -> list[HoleAhead]:
    """Solve the holes and simulate each. `progress`: called with the share done, may raise `StoppedError`.

    NoClubError when no club can be planned with; ValueError as `solve` and `tee_shot` raise it, naming the hole.
    """
    found, left_out = known.bag.options(TEE, FARTHEST_YD)
    if not found:
        few = "; ".join(f"{entry['name']}: {entry['reason']}" for entry in left_out)
        raise NoClubError(f"no club has shots enough to plan with ({few or 'no finish is tapped yet'})")
    options = options_by_lie(known.bag)
    shortest = min((option.reach_yd for option in options[FAIRWAY]), default=MOST_NEAR_YD)
    within = float(np.clip(shortest, LEAST_NEAR_YD, MOST_NEAR_YD))
    near = near_hole(known.valued, known.starts, known.curves, within)
    patterns, done = Patterns(), []
    for place, hole in enumerate(holes):
        report = _part(progress, place, len(holes))
        try:
            grid = hole_grid(hole.ground, hole.start, hole.pin, cell=cell_yd)
            solved = solve(grid, options, known.curves, within, day=day, progress=report)
            ahead = Ahead(solved, options, known.curves)
            from_tee = known.bag.options(TEE, hole.length_yd)[0]
            tee = tee_shot(ahead, hole.ground, from_tee, hole.start, hole.pin, TEE, day)
            one = played(ahead, hole.ground, near, tee, hole.start, patterns, day=day, balls=balls, seed=hole.number)
        except ValueError as error:
            raise ValueError(f"hole {hole.number}: {error}") from error
        done.append(one)
        if progress is not None:
            progress((place + 1) / len(holes))
    return done


def _part(progress: Progress | None, place: int, of: int) -> Progress | None:
    """Tells of one hole as a part of all."""
    if progress is None:
        return None
    return lambda share: progress((place + SOLVED_SHARE * share) / of)


@dataclass(frozen=True, eq=False)
class PlayedRounds:
    """Rounds on a course over the predicted holes, oldest first: one row of `rounds` each (round_id, played_on, tees,
    holes, par, score, finished: every hole that was begun was finished), and which holes (n, h)."""

    rounds: pd.DataFrame
    finished: np.ndarray
    lengths: Floats
    strokes: Floats


def played_rounds(valued: pd.DataFrame, course: str, holes: Sequence[int]) -> PlayedRounds:
    """The rounds on a course of that name in which at least half of these holes were finished. `lengths` and `strokes`
    (n, h): of each hole, NaN where it was not finished."""
    mine = valued[valued["course"].astype("object").eq(course) & valued["ball"].eq(1)]
    scores = hole_scores(mine)
    first = mine.drop_duplicates(["round_id", "hole"]).set_index(["round_id", "hole"])
    begun = mine.groupby(mine["round_id"].astype("object"))["hole"].nunique()
    each = mine.drop_duplicates("round_id").sort_values("played_on", kind="stable")
    rows, finished, lengths, strokes = [], [], [], []
    for entry in each.itertuples():
        keys = [(entry.round_id, hole) for hole in holes]
        done = scores["complete"].reindex(keys).fillna(False).to_numpy(dtype=np.bool_)
        if done.sum() < LEAST_PART * len(holes):
            continue
        taken = np.where(done, scores["strokes"].reindex(keys).to_numpy(dtype=np.float64), np.nan)
        par = first["par"].reindex(keys).to_numpy(dtype=np.float64)
        long = first["length_yd"].reindex(keys).to_numpy(dtype=np.float64)
        of_round = scores.loc[[entry.round_id]]
        rows.append(
            {
                "round_id": entry.round_id,
                "played_on": entry.played_on,
                "tees": entry.tees,
                "holes": int(done.sum()),
                "par": int(np.nansum(par[done])),
                "score": int(np.nansum(taken)),
                "finished": bool(of_round["complete"].all()) and int(begun[entry.round_id]) == len(of_round),
            }
        )
        finished.append(done)
        lengths.append(np.where(done, long, np.nan))
        strokes.append(taken)
    columns = ["round_id", "played_on", "tees", "holes", "par", "score", "finished"]
    shape = (len(rows), len(holes))
    return PlayedRounds(
        pd.DataFrame(rows, columns=columns),
        np.array(finished, dtype=np.bool_).reshape(shape),
        np.array(lengths, dtype=np.float64).reshape(shape),
        np.array(strokes, dtype=np.float64).reshape(shape),
    )


def longer(known: Known, from_yd: Floats, to_yd: Floats) -> Floats:
    """Strokes that holes of `to_yd` take more than those of `from_yd`, by the player's own curve from the tee; 0 where
    a length is not known."""
    both = np.isfinite(from_yd) & np.isfinite(to_yd)
    found = np.zeros(both.shape)
    after, before = (
        known.curves.expected(TEE, np.clip(yards[both], LEAST_YD, FARTHEST_YD)) for yards in (to_yd, from_yd)
    )
    found[both] = np.nan_to_num(after - before)
    return found


def past_of(known: Known, made: Sequence[HoleAhead], holes: Sequence[HoleToPlay], played_: PlayedRounds) -> Past:
    """How far these rounds came out from what the holes add up to, other tees by the player's curve from the tee."""
    mean, variance = np.array([hole.mean for hole in made]), np.array([hole.variance for hole in made])
    here = np.array([hole.length_yd for hole in holes])
    expected = mean + longer(known, np.broadcast_to(here, played_.lengths.shape), played_.lengths)
    away = np.where(played_.finished, played_.strokes - expected, 0.0).sum(axis=1)
    spread = (played_.finished * variance).sum(axis=1)
    return Past(away, played_.finished.sum(axis=1) / FULL_ROUND, spread)


def chances_of(made: Sequence[HoleAhead]) -> Floats:
    """Chance of 1, 2, ... strokes on each hole (h, K)."""
    return np.array([hole.chances for hole in made]).reshape(-1, STROKES.size)
