"""A hole as a table of choices: every place that a ball may come to, every swing of every club from there, and what
comes of it. Bags are then compared by the table alone.

Places are the nodes of the coarse grid by lie, and the tee. A ball that comes to rest beside a node is worth the node's
value and what the player's own curves expect more or less from where it lies. Each swing is played in the direction
that is best for it when every club is in the bag. What is reached hardly ever has a value of its own, that of the hole
solved with every club.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import sparse

from server.analysis.course_bag.aimed import Aimed
from server.analysis.course_bag.swings import EVER, Played, Swings
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import Day, flown
from server.analysis.plan.ground import OUT, RED
from server.analysis.plan.hole_grid import CODES, LIES
from server.analysis.plan.position_value import LEAST_YD
from server.analysis.plan.sweeps import MOST_LOST, NOWHERE
from server.analysis.plan.swings import FALL_STEP, RUN_STEP_YD
from server.game.lies import GREEN
from server.game.ranges import FARTHEST_ON_GREEN_YD, FARTHEST_YD

STEP_YD: Final = 0.1
"""Curves are looked up at steps of so much."""
HARDLY: Final = 3e-4
"""What a ball reaches less often than this, by players who choose loosely, is hardly ever reached."""
LOOSELY: Final = 0.1
"""Strokes: an option that costs so much more is chosen 1/e times as often by them."""
MOST_SHOTS: Final = 8
"""Shots along which places are looked for."""
WORSE: Final = 0.3
"""A what-if's swing that costs so much more than the best of all is left out where it does."""

MOST_KEPT: Final = 32
"""Swings whose balls are kept in every direction."""

Ints = npt.NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Balls:
    """What comes of balls of one swing in one direction from some places, (n, b) each. `end`: the key of the place
    that they come to, -1 for none; `strokes`, `other`: what is counted besides, penalties and curves, by the player's
    curves and by the others; `lost`: the shot is repeated."""

    end: Ints
    strokes: Floats
    other: Floats
    lost: npt.NDArray[np.bool_]

    def only(self, place: int) -> Balls:
        """Those of one place."""
        one = slice(place, place + 1)
        return Balls(self.end[one], self.strokes[one], self.other[one], self.lost[one])


@dataclass(frozen=True, eq=False)
class Table:
    """The choices of a hole, row by row, those of one place together. `place`: where it is played from, 0 the tee;
    `club`: whose it is; `swing`: which, (lie's number, its place in the list), the tee's lie being -1; `aim`: its
    direction's number; -1 both for a punch out; `strokes`, `other`: strokes taken and what curves expect where the
    planned shots end; `after`: (rows, places), how likely each place is next. `keys`: of the places, -1 for the
    tee."""

    place: Ints
    club: Ints
    swing: Ints
    aim: Ints
    strokes: Floats
    other: Floats
    after: sparse.csr_array
    keys: Ints
    first: Ints
    """The first row of each place."""

    @property
    def places(self) -> int:
        """How many there are."""
        return self.keys.size


class Player:
    """Plays swings on one hole's grid and writes down what comes of them."""

    def __init__(
        self,
        aimed: Aimed,
        swings: Swings,
        curves: tuple[Baseline, Baseline, float],
        start: tuple[float, float],
        day: Day,
    ) -> None:
        """`curves`: the player's, the other ones, and what the others are worth more or less where a shot near the
        hole is played off the green."""
        self.aimed, self.swings, self.start, self.day = aimed, swings, start, day
        self.grid = grid = aimed.grid
        self.nodes = grid.node_shape[0] * grid.node_shape[1]
        x, y = grid.nodes()
        self.x, self.y = np.tile(x, y.size), np.repeat(y, x.size)
        self.code = grid.code.ravel()
        columns = grid.code.shape[1]
        row, column = np.divmod(np.arange(grid.code.size), columns)
        self.cell_x, self.cell_y = grid.left + (column + 0.5) * grid.cell, grid.near + (row + 0.5) * grid.cell
        node = (row // 2) * grid.node_shape[1] + column // 2
        lie = np.full(16, -1)
        for place, name in enumerate(LIES):
            lie[list(CODES[name])] = place
        self.lie_of = lie[np.minimum(self.code, 15)]
        self.key_of = np.where(self.lie_of >= 0, self.lie_of * self.nodes + node, -1).astype(np.int32)
        rests = aimed.rests
        self.drops = np.stack(rests.drops) if rests.drops else np.zeros((0, 0), dtype=np.int32)
        self.cells: dict[tuple[int, float], Ints] = {}
        self.wet_place = np.cumsum(grid.wet().ravel()) - 1
        self.own, self.others = (_looked_up(one) for one in curves[:2])
        self.off_green = curves[2]
        self.at_node = self._at_nodes()
        self.kept: dict[tuple[int, int], tuple[Floats, Floats, int, float]] = {}

    def _at_nodes(self) -> npt.NDArray[np.float32]:
        """What the player's curves expect of every key."""
        away = np.hypot(self.x - self.grid.pin[0], self.y - self.grid.pin[1])
        place = _steps(away)
        return np.concatenate([self.own[CODES[name][-1 if len(CODES[name]) == 1 else 1]][place] for name in LIES])

    def played(self, lie: int, place: int) -> Played:
        """A swing by its number."""
        return self.swings.tee[place] if lie < 0 else self.swings.lies[LIES[lie]][place]

    def _rests(self, lie: int, place: int) -> tuple[Floats, Floats, int, float]:
        """Where the balls of a swing rest on open ground in every direction (d, b), its run and its fall."""
        if (lie, place) not in self.kept:
            played = self.played(lie, place)
            option, pick = played.option, played.sample.ball
            landings, aims = option.landings, self.grid.aims
            shots = flown((0.0, 0.0), aims, landings.right[pick], landings.along[pick], option.flight, self.day)
            runs = np.hypot(shots.x - shots.carry_x, shots.y - shots.carry_y)
            run = float((runs @ played.shares).mean())
            if len(self.kept) >= MOST_KEPT:
                self.kept.clear()
            slope = float(np.tan(np.radians(option.flight.descent_deg)))
            fall = 0.0 if option.low else round(slope / FALL_STEP) * FALL_STEP
            self.kept[lie, place] = shots.x, shots.y, round(run / RUN_STEP_YD) * RUN_STEP_YD, fall
        return self.kept[lie, place]

    def _rest_cells(self, run_yd: int, fall: float) -> Ints:
        """The flat cell where a ball rests that lands in each cell, by direction: (d, cells)."""
        if (run_yd, fall) not in self.cells:
            every = [self.aimed.rests.of(aim, run_yd, fall).ravel() for aim in range(self.grid.aims.size)]
            self.cells[run_yd, fall] = np.stack(every)
        return self.cells[run_yd, fall]

    def balls(self, lie: int, place: int, aim: Ints, x: Floats, y: Floats) -> Balls:
        """Play a swing from places, each in its own direction, (n,) each."""
        rest_x, rest_y, run_yd, fall = self._rests(lie, place)
        grid, rests = self.grid, self.aimed.rests
        end_x, end_y = x[:, None] + rest_x[aim], y[:, None] + rest_y[aim]
        up, right = (one[:, None] for one in grid.steps(grid.aims[aim], run_yd))
        open_cell = self._cell(end_x, end_y)
        landed = self._cell(end_x - right * grid.cell, end_y - up * grid.cell)
        cell = self._rest_cells(run_yd, fall)[aim[:, None], landed]
        lost = self.code[cell] == OUT
        strokes = np.ones(cell.shape)
        if rests.wet.size:
            wet = (self.code[cell] >= RED) & ~lost
            drop = self.drops[aim[np.nonzero(wet)[0]], self.wet_place[cell[wet]]]
            lost[wet] = drop < 0
            strokes[wet] += 1
            cell[wet] = np.maximum(drop, 0)
        moved = cell != open_cell
        end_x = np.where(moved, self.cell_x[cell], end_x)
        end_y = np.where(moved, self.cell_y[cell], end_y)
        away = _steps(np.hypot(end_x - grid.pin[0], end_y - grid.pin[1]))
        code = self.code[cell]
        key = self.key_of[cell]
        green = code == CODE_GREEN
        over = green | (away * STEP_YD < self.aimed.near.within_yd)
        expected = self.own[np.minimum(code, OUT - 1), away]
        other = strokes + np.where(
            over,
            np.where(green, self.others[CODE_GREEN, away], expected + self.off_green),
            expected - self.at_node[np.maximum(key, 0)],
        )
        strokes = strokes + np.where(over, expected, expected - self.at_node[np.maximum(key, 0)])
        strokes[lost] = other[lost] = 0.0
        return Balls(np.where(over | lost, -1, key), strokes, other, lost)

    def forget(self) -> None:
        """Let go of what can be worked out again."""
        self.kept.clear()
        self.cells.clear()
        self.aimed.rests.forget()

    def _cell(self, x: Floats, y: Floats) -> Ints:
        grid = self.grid
        rows, columns = grid.code.shape
        row = np.clip((y - grid.near) / grid.cell, 0, rows - 1).astype(np.int32)
        column = np.clip((x - grid.left) / grid.cell, 0, columns - 1).astype(np.int32)
        return np.asarray(row * np.int32(columns) + column)


CODE_GREEN: Final = CODES[GREEN][0]


def _steps(away: Floats) -> Ints:
    return np.asarray(np.clip(away / STEP_YD + 0.5, 1, int(FARTHEST_YD / STEP_YD)).astype(np.int32))


def _looked_up(curves: Baseline) -> npt.NDArray[np.float32]:
    """Expected strokes by code and steps of distance; 0 of what is no lie."""
    away = np.maximum(np.arange(int(FARTHEST_YD / STEP_YD) + 1) * STEP_YD, LEAST_YD)
    found = np.zeros((OUT, away.size), dtype=np.float32)
    for codes in CODES.values():
        for code in codes:
            most = FARTHEST_ON_GREEN_YD if code == CODE_GREEN else FARTHEST_YD
            found[code] = curves.grid.expected(np.full(away.size, code, dtype=np.int8), np.minimum(away, most))
    if np.isnan(found).any():
        raise ValueError(f"baseline {curves.id}: it has no value for a lie of this hole")
    return found


@dataclass(frozen=True, eq=False)
class _Rows:
    """Rows of one swing. `key`: where each is played from, -1 the tee; `after`: (rows, keys), how likely each key is
    next."""

    key: Ints
    club: int
    swing: tuple[int, int]
    aim: Ints
    strokes: Floats
    other: Floats
    after: sparse.csr_array

    def part(self, kept: npt.NDArray[np.intp]) -> _Rows:
        """Some of them."""
        return replace(
            self,
            key=self.key[kept],
            aim=self.aim[kept],
            strokes=self.strokes[kept],
            other=self.other[kept],
            after=self.after[kept],
        )


def table_of(player: Player, progress: Callable[[float], None], own: int) -> Table:
    """Every choice on a hole from its tee on. `own`: how many clubs are the player's; those behind them are
    what-ifs'."""
    aimed = player.aimed
    value = aimed.value.ravel().astype(np.float64)
    reached = np.zeros(value.size)
    rows = _kept(_from_tee(player, value), value, own)
    _spread(rows, value, reached, {-1: 1.0})
    planned = (aimed.planned & ~aimed.turned).ravel()
    may = np.tile(planned, len(LIES)) & np.repeat(np.array([bool(aimed.swings[lie]) for lie in LIES]), planned.size)
    opened = np.zeros(value.size, dtype=np.bool_)
    for shot in range(MOST_SHOTS):
        new = np.flatnonzero(may & ~opened & (reached >= HARDLY))
        if not new.size:
            break
        opened[new] = True
        found = _kept(_from_nodes(player, new), value, own)
        _spread(found, value, reached, {int(key): float(reached[key]) for key in new})
        rows += found
        progress((shot + 1) / MOST_SHOTS)
    progress(1.0)
    return _table(rows, np.flatnonzero(opened).astype(np.int32), value)


def _from_tee(player: Player, value: Floats) -> Iterator[_Rows]:
    """Rows of every swing from the tee, each in its best direction."""
    x, y = (np.full(player.grid.aims.size, one) for one in player.start)
    every = np.arange(player.grid.aims.size, dtype=np.int32)
    for place, played in enumerate(player.swings.tee):
        balls = player.balls(-1, place, every, x, y)
        best = int(np.argmin(_worth(balls, played.shares, value)))
        tee, aim = np.array([-1], dtype=np.int32), every[best : best + 1]
        yield _of_balls(tee, played.club, (-1, place), aim, balls.only(best), played.shares, value.size)


def _from_nodes(player: Player, keys: npt.NDArray[np.intp]) -> Iterator[_Rows]:
    """Rows of every swing from these places."""
    lies, nodes = np.divmod(keys, player.nodes)
    size = player.nodes * len(LIES)
    for lie, name in enumerate(LIES):
        here = keys[lies == lie].astype(np.int32)
        at = nodes[lies == lie]
        if not here.size:
            continue
        for place, played in enumerate(player.swings.lies[name]):
            aims = player.aimed.aims[name, player.swings.source[name][place]].ravel()[at].astype(np.int32)
            some = aims >= 0
            if not some.all():
                yield _constant(here[~some], np.full((~some).sum(), NOWHERE), size, played.club, (lie, place))
            if some.any():
                balls = player.balls(lie, place, aims[some], player.x[at[some]], player.y[at[some]])
                yield _of_balls(here[some], played.club, (lie, place), aims[some], balls, played.shares, size)
        out = player.aimed.out.ravel()[at].astype(np.float64)
        some = out < NOWHERE - 1
        if some.any():
            yield _constant(here[some], out[some], size)


def _kept(rows: Iterable[_Rows], value: Floats, own: int) -> list[_Rows]:
    """The rows of the player's clubs, and those of what-ifs, which come after them, that are not much worse than the
    best of the player's from the same place."""
    least = np.full(value.size + 1, np.inf)  # the tee's is the last
    found = []
    for part in rows:
        worth = part.strokes + part.after @ value
        if part.club < own:
            least[part.key] = np.minimum(least[part.key], worth)
            found.append(part)
        elif (good := np.flatnonzero(worth <= least[part.key] + WORSE)).size:
            found.append(part.part(good))
    return found


def _worth(balls: Balls, shares: Floats, value: Floats) -> Floats:
    """Expected strokes of a swing from each place, (n,)."""
    strokes, _, rate = weighted(balls, shares)
    return strokes + rate * (np.where(balls.end >= 0, value[np.maximum(balls.end, 0)], 0.0) @ shares)


def _of_balls(
    keys: Ints, club: int, swing: tuple[int, int], aim: Ints, balls: Balls, shares: Floats, size: int
) -> _Rows:
    """Rows of a swing. `shares`: of its balls (b,); `size`: how many keys there are."""
    strokes, other, rate = weighted(balls, shares)
    row, ball = np.nonzero(balls.end >= 0)
    after = sparse.csr_array((rate[row] * shares[ball], (row, balls.end[row, ball])), shape=(keys.size, size))
    after.sum_duplicates()
    return _Rows(keys, club, swing, aim, strokes, other, after)


def weighted(balls: Balls, weights: Floats) -> tuple[Floats, Floats, Floats]:
    """Strokes by either curves, and the rate by which the shares of balls grow, (n,) each, the balls weighing `weights`
    (b,) and a lost one being played again: (1 + p + mean of what is in play) / (1 - p)."""
    lost = balls.lost @ weights
    safe = np.minimum(lost, MOST_LOST)
    rate = 1 / (1 - safe)
    shut = lost > MOST_LOST
    strokes, other = (
        np.where(shut, NOWHERE, rate * (2 * safe + one @ weights)) for one in (balls.strokes, balls.other)
    )
    return strokes, other, np.where(shut, 0.0, rate)


def _constant(keys: Ints, strokes: Floats, size: int, club: int = EVER, swing: tuple[int, int] = (-1, -1)) -> _Rows:
    """Rows that end at once, at so many strokes: a punch out, a swing that cannot be played. `size`: keys."""
    after = sparse.csr_array((keys.size, size))
    return _Rows(keys, club, swing, np.full(keys.size, -1, dtype=np.int32), strokes, strokes, after)


def _spread(rows: Sequence[_Rows], value: Floats, reached: Floats, mass: dict[int, float]) -> None:
    """Add to `reached` how often the places after these rows are reached by players who choose loosely."""
    if not rows:
        return
    after = sparse.vstack([one.after for one in rows], format="csr")
    every = np.concatenate([one.strokes for one in rows]) + after @ value
    known, place = np.unique(np.concatenate([one.key for one in rows]), return_inverse=True)
    least = np.full(known.size, np.inf)
    np.minimum.at(least, place, every)
    often = np.exp(-(every - least[place]) / LOOSELY)
    total = np.bincount(place, often, known.size)
    often *= np.array([mass[int(key)] for key in known])[place] / total[place]
    reached += after.T @ often


def _table(rows: Sequence[_Rows], opened: Ints, value: Floats) -> Table:
    """The rows put in order. What is not opened counts at its value."""
    number = np.zeros(value.size, dtype=np.int32)
    number[opened] = np.arange(1, opened.size + 1)
    after = sparse.vstack([one.after for one in rows], format="csr")
    held = value.copy()
    held[opened] = 0.0
    counted = after @ held
    key = np.concatenate([one.key for one in rows])
    where = np.where(key < 0, 0, number[np.maximum(key, 0)])
    order = np.argsort(where, kind="stable")
    inside = after[:, opened]
    inside = sparse.hstack([sparse.csr_array((key.size, 1)), inside], format="csr")
    return Table(
        where[order].astype(np.int32),
        np.concatenate([np.full(one.key.size, one.club, dtype=np.int32) for one in rows])[order],
        np.concatenate([np.tile(np.array(one.swing, dtype=np.int32), (one.key.size, 1)) for one in rows])[order],
        np.concatenate([one.aim for one in rows])[order].astype(np.int32),
        (np.concatenate([one.strokes for one in rows]) + counted)[order],
        (np.concatenate([one.other for one in rows]) + counted)[order],
        sparse.csr_array(inside[order]),
        np.r_[np.int32(-1), opened].astype(np.int32),
        np.searchsorted(where[order], np.arange(opened.size + 1)).astype(np.int32),
    )
