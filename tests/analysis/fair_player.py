"""A player whose true expected strokes are a given table: every next state is drawn so that the table is met.

A shot from a state that expects E strokes ends at a good place or a bad one, with the chance that makes the mean of
what is still expected E - 1. So the mean strokes gained of every shot against that table is 0.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.game.lies import CODE, GREEN, LIES

TEES: Final = (
    (3, 165.0),
    (3, 190.0),
    (4, 350.0),
    (4, 380.0),
    (4, 400.0),
    (4, 430.0),
    (4, 450.0),
    (5, 510.0),
    (5, 545.0),
)
PLACES: Final = (
    *(("green", feet / 3) for feet in (2, 3, 4, 6, 8, 11, 15, 20, 28, 38, 50)),
    ("fairway", 12.0),
    ("rough", 15.0),
    ("sand", 18.0),
    ("rough", 32.0),
    ("fairway", 60.0),
)
"""Places near the hole; farther ones follow from the shot: what is left after 180 to 285 yd, from four lies."""
CARRIES: Final = (100.0, 150.0, 185.0, 225.0, 250.0, 280.0)
MOST_SHOTS: Final = 40


def fair_rounds(seed: int, rounds: int, table: Baseline, holes: int = 18) -> pd.DataFrame:
    """Shots of `rounds` rounds as `attribute` wants them (round_id 0, 1, ...), every hole played out."""
    draw = np.random.default_rng(seed)
    size = rounds * holes
    hole = np.tile(np.arange(holes), rounds)
    par, yards = (np.array([TEES[number % len(TEES)][part] for number in hole]) for part in (0, 1))
    lie, distance = np.full(size, CODE["tee"], dtype=np.int8), yards.astype(np.float64)
    alive, parts = np.arange(size), []
    for order in range(1, MOST_SHOTS + 1):
        holed, next_lie, next_distance = _shot(draw, lie, distance, table)
        parts.append(
            pd.DataFrame({"ball_id": alive, "order": order, "lie": lie, "distance_yd": distance, "holed": holed})
        )
        alive, lie, distance = alive[~holed], next_lie[~holed], next_distance[~holed]
        if not alive.size:
            break
    assert not alive.size
    shots = pd.concat(parts, ignore_index=True).sort_values(["ball_id", "order"], ignore_index=True)
    place = shots.pop("ball_id").to_numpy()
    on_green = shots["lie"].eq(CODE[GREEN]).to_numpy()
    return shots.assign(
        lie=pd.Categorical.from_codes(shots["lie"], categories=list(LIES)),
        round_id=place // holes,
        hole=hole[place] + 1,
        par=par[place],
        ball=1,
        penalty_strokes=0,
        picked_up=False,
        club=np.where(on_green, "putter", "iron"),
        swing="full",
        right_yd=np.nan,
        long_yd=np.nan,
        target_yd=np.nan,
    )


def _shot(draw: Any, lie: Any, distance: Any, table: Baseline) -> tuple[Any, Any, Any]:
    """Holed or not, and the next state, of one shot from each state."""
    size = lie.size
    wanted = table.expected(lie, distance) - 1
    on_green = lie == CODE[GREEN]
    names = [name for name, _ in PLACES] + [name for name in ("fairway", "rough", "recovery") for _ in CARRIES]
    left = np.maximum(distance[:, None] - np.array(CARRIES), 35.0)
    yards = np.hstack([np.broadcast_to([far for _, far in PLACES], (size, len(PLACES))), left, left, left])
    codes = np.array([CODE[name] for name in names], dtype=np.int8)
    expected = table.expected(np.broadcast_to(codes, yards.shape).ravel(), yards.ravel()).reshape(yards.shape)
    # A putt stays on the green and comes nearer, or to 2 ft; other shots come nearer too.
    possible = (yards < distance[:, None]) & (~on_green[:, None] | (codes == CODE[GREEN]))
    possible[:, 0] |= on_green
    chance = draw.random(yards.shape)
    good = _one_of(possible & (expected <= wanted[:, None]), chance)
    bad = _one_of(possible & (expected > wanted[:, None]), chance)
    # From where no place is worse the shot stays, one longer; where none is better it is holed or not.
    rows = np.arange(size)
    worse = np.where(bad >= 0, expected[rows, bad], wanted + 1)
    better = np.where((good >= 0) & ~on_green, expected[rows, good], 0.0)
    is_good = draw.random(size) < (worse - wanted) / (worse - better)
    holed = is_good & (better == 0.0)
    to = np.where(is_good, good, bad)
    stays = to < 0
    return holed, np.where(stays, lie, codes[to]), np.where(stays, distance, yards[rows, to])


def _one_of(possible: Any, chance: Any) -> Any:
    """One possible place of each row, by chance; -1 where there is none."""
    place = np.where(possible, chance, -1.0).argmax(axis=1)
    return np.where(possible.any(axis=1), place, -1)
