"""What bags cost on a hole under patterns drawn from their posterior.

Each bag is played as it is best played with the patterns as they are known; under each draw all play from the tee
is worked out anew, with the shares that this draw gives to the same balls. A club's draws are the same in every bag, on
every hole, so that differences between bags are of their clubs alone. The other curves, putts among them, are taken
as known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import sparse

from server.analysis.course_bag.bags import Solution, chosen_rows
from server.analysis.course_bag.table import Ints, Player, Table
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.sweeps import MOST_LOST, NOWHERE

DRAWS: Final = 80
SELDOM: Final = 1e-4
"""Places played from less often than this are worth under each draw what they are worth as known."""
SETTLED: Final = 1e-6
MOST_SHOTS: Final = 60


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Rows of a table under drawn patterns. `number`: row of the table -> place here, -1 for none; `strokes` (rows,
    draws); entries of the rows in order: `first` of each row, where they lead (`to`), and their shares (entries,
    draws)."""

    number: npt.NDArray[np.int64]
    strokes: Floats
    first: npt.NDArray[np.int64]
    to: npt.NDArray[np.int64]
    shares: npt.NDArray[np.float32]


def drawn_strokes(player: Player, table: Table, solutions: Sequence[Solution], draws: int = DRAWS) -> Floats:
    """Strokes from the tee of each bag under each draw, (solutions, draws); two that are the same object cost the
    same."""
    known: dict[int, Floats] = {}
    rows = _rows(player, table, chosen_rows(solutions, SELDOM), draws)
    for one in solutions:
        if id(one) not in known:
            known[id(one)] = _from_tee(rows, one, draws)
    return np.stack([known[id(one)] for one in solutions])


def _rows(player: Player, table: Table, rows: npt.NDArray[np.int64], draws: int) -> _Drawn:
    """These rows of the table under drawn patterns."""
    number = np.full(table.place.size, -1, dtype=np.int64)
    number[rows] = np.arange(rows.size)
    value = player.aimed.value.ravel().astype(np.float64)
    place_of = np.full(value.size, -1, dtype=np.int64)
    place_of[table.keys[1:]] = np.arange(1, table.keys.size)
    strokes = np.repeat(table.strokes[rows][:, None], draws, axis=1)
    row_of: list[npt.NDArray[np.int64]] = []
    to: list[npt.NDArray[np.int64]] = []
    shares: list[npt.NDArray[np.float32]] = []
    played = rows[table.aim[rows] >= 0]
    kinds = table.swing[played]
    for lie, place in np.unique(kinds, axis=0):
        here = played[(kinds == (lie, place)).all(axis=1)]
        keys = table.keys[table.place[here]]
        x, y = _where(player, keys)
        balls = player.balls(int(lie), int(place), table.aim[here], x, y)
        weights = player.played(int(lie), int(place)).drawn(draws).T
        lost = balls.lost @ weights
        rate = 1 / (1 - np.minimum(lost, MOST_LOST))
        going = balls.end >= 0
        end = np.where(going, place_of[np.maximum(balls.end, 0)], -1)
        held = np.where(going & (end < 0), value[np.maximum(balls.end, 0)], 0.0)
        counted = rate * (2 * np.minimum(lost, MOST_LOST) + (balls.strokes + held) @ weights)
        strokes[number[here]] = np.where(lost > MOST_LOST, NOWHERE, counted)
        at, ball = np.nonzero(end >= 0)
        keyed, entry = np.unique(at * table.places + end[at, ball], return_inverse=True)
        counts = sparse.csr_array((np.ones(entry.size), (entry, ball)), shape=(keyed.size, weights.shape[0]))
        of, leads = np.divmod(keyed, table.places)
        row_of.append(number[here[of]])
        to.append(leads)
        shares.append(((counts @ weights) * np.where(lost > MOST_LOST, 0.0, rate)[of]).astype(np.float32))
    if not to:
        return _Drawn(
            number, strokes, np.zeros(rows.size + 1, np.int64), np.zeros(0, np.int64), np.zeros((0, draws), np.float32)
        )
    every = np.concatenate(row_of)
    order = np.argsort(every, kind="stable")
    first = np.searchsorted(every[order], np.arange(rows.size + 1))
    return _Drawn(number, strokes, first, np.concatenate(to)[order], np.concatenate(shares)[order])


def _where(player: Player, keys: Ints) -> tuple[Floats, Floats]:
    """x and y of places by their keys; the tee's is -1."""
    node = np.maximum(keys, 0) % player.nodes
    tee = keys < 0
    return np.where(tee, player.start[0], player.x[node]), np.where(tee, player.start[1], player.y[node])


def _from_tee(rows: _Drawn, solution: Solution, draws: int) -> Floats:
    """Strokes of one bag from the tee under each draw."""
    here = np.flatnonzero((solution.row >= 0) & (solution.visits > SELDOM))
    mine = rows.number[solution.row[here]]
    counts = rows.first[mine + 1] - rows.first[mine]
    entries = np.repeat(rows.first[mine] - np.r_[0, np.cumsum(counts)[:-1]], counts) + np.arange(counts.sum())
    to, shares = rows.to[entries], rows.shares[entries]
    leads = np.flatnonzero(counts > 0)
    first = np.r_[0, np.cumsum(counts)[:-1]][leads]
    value = np.repeat(solution.value[:, None], draws, axis=1)
    for _ in range(MOST_SHOTS):
        found = rows.strokes[mine].copy()
        if leads.size:
            found[leads] += np.add.reduceat(shares * value[to], first, axis=0)
        changed = float(np.abs(found - value[here]).max())
        value[here] = found
        if changed < SETTLED:
            break
    return np.asarray(value[0])
