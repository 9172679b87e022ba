"""A hole before it is played: the distribution of the strokes that the solved plan takes on it.

Balls are played off the plan shot by shot over the half-yard ground: the tee shot by the plan of that shot, the next by
what the solved hole found best from the nearest node, until they lie near the hole, where `near_hole` spreads what is
left. Each ball belongs to one of `DRAWS` drawn patterns of every club (`landings`), so that the spread of the draws
shows what is not known of the patterns. Flight, run, trees and penalties are those of the solver (`flight`, `rest`,
`position_value`): out of bounds again from the same place with a stroke more, from red water two club-lengths back,
from yellow back on the line, else stroke and distance. Where trees leave no way a ball is put into the rough at the
same distance for a stroke, as the solver values it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ahead import Ahead
from server.analysis.plan.flight import USUAL_DAY, Day, Shots, flown
from server.analysis.plan.ground import OUT, RED, YELLOW, Codes, Ground
from server.analysis.plan.hole_grid import CODES, LIES
from server.analysis.plan.landings import Landings
from server.analysis.plan.position_value import FARTHEST_BACK_YD, TWO_CLUB_LENGTHS_YD
from server.analysis.plan.rest import CLEAR_OF_OWN_TREE_YD, RAY_STEP_YD, UNDER_BRANCHES_YD, at_rest, run_into
from server.analysis.plan.sweeps import BAND_YD
from server.analysis.plan.tee_plan import Option, direction, expected
from server.analysis.round_ahead.counts import MOST_STROKES, STROKES
from server.analysis.round_ahead.near_hole import NearHole
from server.game.lies import CODE, FAIRWAY, GREEN, ROUGH, SAND

BALLS: Final = 4096
DRAWS: Final = 64
SHARE_STEPS: Final = 2**24
"""Shares of landings are added up in so many steps, so that 64 patterns fit into 32-bit integers."""
MOST_SHOTS: Final = 12
"""After so many full swings, penalties not counted, a ball counts as near the hole."""
TEE_AIMS: Final = 27
TEE_STEP_YD: Final = 3.0
"""The tee shot is chosen among so many aims, with every landing of the plan: with every fourth the best aim just passed
the last ball beside out of bounds, and the hole came out 0.07 strokes dearer than the choice had it."""
BACK_STEP_YD: Final = 0.5

Places = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class TeeShot:
    """The shot from the tee that the plan takes: the option and its direction, radians clockwise from y; `expected`:
    strokes, as the solved hole has it."""

    option: Option
    aim: float
    expected: float


@dataclass(frozen=True, eq=False)
class HoleAhead:
    """Strokes of one hole. `chances`: of 1 to `MOST_STROKES` strokes (K,); `by_draw`: mean under each drawn pattern
    (d,); `noise`: variance of each of these means that comes from the number of balls (d,); `solved`: strokes as the
    solver has them; `club`: from the tee."""

    chances: Floats
    by_draw: Floats
    noise: Floats
    solved: float
    club: str

    @property
    def mean(self) -> float:
        """Expected strokes."""
        return float(self.chances @ STROKES)

    @property
    def variance(self) -> float:
        """Variance of the strokes."""
        return float(self.chances @ STROKES**2 - self.mean**2)


class Patterns:
    """Landings drawn ball by ball; the drawn shares of a pattern are worked out once for all holes."""

    def __init__(self, draws: int = DRAWS) -> None:
        self.draws = draws
        self._kept: dict[int, tuple[Any, npt.NDArray[np.int32]]] = {}

    def pick(self, landings: Landings, draw: Places, rng: np.random.Generator) -> Places:
        """One landing for each ball, whose patterns are `draw` (n,): places (n,)."""
        key = landings.share if landings.pattern is None else landings.pattern
        if id(key) not in self._kept:
            shares = landings.drawn
            reached = np.cumsum(shares[np.arange(self.draws) % len(shares)], axis=1, dtype=np.float64)
            reached *= SHARE_STEPS / reached[:, -1:]
            steps = np.minimum(np.round(reached), SHARE_STEPS - 1).astype(np.int32)
            # the key is kept too, so that its id stays its own
            self._kept[id(key)] = key, (steps + SHARE_STEPS * np.arange(self.draws, dtype=np.int32)[:, None]).ravel()
        steps = self._kept[id(key)][1]
        count = landings.share.size
        at = SHARE_STEPS * draw + rng.integers(0, SHARE_STEPS, draw.size)
        found = np.searchsorted(steps, at.astype(np.int32), side="right") - draw * count
        return np.asarray(np.clip(found, 0, count - 1), dtype=np.intp)


def tee_shot(
    ahead: Ahead,
    ground: Ground,
    options: Sequence[Option],
    start: tuple[float, float],
    pin: tuple[float, float],
    lie: str,
    day: Day = USUAL_DAY,
) -> TeeShot:
    """The best option and aim from the tee. ValueError when none keeps a ball in bounds."""
    values = ahead.values(ground, start, lie, pin)
    aims = (np.arange(TEE_AIMS) - (TEE_AIMS - 1) / 2) * TEE_STEP_YD
    best: TeeShot | None = None
    for option in options:
        toward, _ = direction(ground, start, option.reach_yd, pin)
        angle = np.radians(toward) + np.arctan2(aims, option.reach_yd)
        landings = option.landings
        shots = flown(start, angle, landings.right, landings.along, option.flight, day)
        place = at_rest(values.ground, start, shots, option.flight, low=option.low)
        value, code = values.value.take(place), values.code.take(place)
        worth = expected(value @ landings.share, (code == OUT) @ landings.share)
        least = int(np.argmin(worth))
        if np.isfinite(worth[least]) and (best is None or worth[least] < best.expected):
            best = TeeShot(option, float(angle[least]), float(worth[least]))
    if best is None:
        raise ValueError("from the tee nearly every ball ends out of bounds, whatever the club")
    return best


def played(
    ahead: Ahead,
    ground: Ground,
    near: NearHole,
    tee: TeeShot,
    start: tuple[float, float],
    patterns: Patterns,
    *,
    day: Day = USUAL_DAY,
    balls: int = BALLS,
    seed: int = 0,
) -> HoleAhead:
    """Play a hole off its plan with `balls` balls, as many under each drawn pattern."""
    table = _Play(ahead, ground, near, tee, start, patterns, day, balls, seed).run()
    mine = table @ STROKES
    draw = np.arange(balls) % patterns.draws
    size = np.bincount(draw, minlength=patterns.draws)
    mean = np.bincount(draw, mine, minlength=patterns.draws) / size
    square = np.bincount(draw, mine**2, minlength=patterns.draws) / size
    noise = np.maximum(square - mean**2, 0.0) / np.maximum(size - 1, 1)
    return HoleAhead(table.mean(axis=0), mean, noise, tee.expected, str(tee.option.about.get("club", tee.option.name)))


class _Play:
    """Balls on their way down one hole."""

    def __init__(
        self,
        ahead: Ahead,
        ground: Ground,
        near: NearHole,
        tee: TeeShot,
        start: tuple[float, float],
        patterns: Patterns,
        day: Day,
        balls: int,
        seed: int,
    ) -> None:
        self.ahead, self.ground, self.near, self.tee, self.start = ahead, ground, near, tee, start
        self.patterns, self.day, self.rng = patterns, day, np.random.default_rng(seed)
        self.pin = ahead.solved.grid.pin
        self.x, self.y = np.full(balls, float(start[0])), np.full(balls, float(start[1]))
        self.code = np.full(balls, CODE[FAIRWAY], dtype=np.int8)
        self.on_tee = np.ones(balls, dtype=np.bool_)
        self.strokes = np.zeros(balls, dtype=np.intp)
        self.draw = np.arange(balls) % patterns.draws
        self.found = np.zeros((balls, MOST_STROKES))
        solved = ahead.solved
        planned = np.isnan(solved.near.nodes[0])
        open_ = planned & (solved.option[LIES.index(ROUGH)] >= 0)
        self.planned, away = planned, solved.grid.node_away()
        self.bands = (away / BAND_YD).astype(np.intp)
        self.open_in_band = {int(band): np.flatnonzero(open_ & (self.bands == band)) for band in np.unique(self.bands)}

    def run(self) -> Floats:
        """Chance of each number of strokes for each ball (balls, `MOST_STROKES`)."""
        active = np.arange(self.x.size)
        for _ in range(MOST_SHOTS):
            if not active.size:
                break
            active = self._shot(active)
        self._hole_out(active)
        return self.found

    def _hole_out(self, balls: Places) -> None:
        """Spread what is left of balls near the hole; what is beyond `MOST_STROKES` counts as so many."""
        if not balls.size:
            return
        away = np.hypot(self.x[balls] - self.pin[0], self.y[balls] - self.pin[1])
        chances = self.near.chances(self.code[balls], away)
        for taken in np.unique(self.strokes[balls]):
            here = self.strokes[balls] == taken
            shift = min(int(taken), MOST_STROKES - 1)
            rows = np.zeros((int(here.sum()), MOST_STROKES))
            rows[:, shift:] = chances[here, : MOST_STROKES - shift]
            rows[:, -1] += chances[here, MOST_STROKES - shift :].sum(axis=1)
            self.found[balls[here]] = rows

    def _shot(self, balls: Places) -> Places:
        """One shot of each ball; those that are not near the hole after it."""
        near = self._near(balls) & ~self.on_tee[balls]
        self._hole_out(balls[near])
        balls = balls[~near]
        lie, number, aim = self._choice(balls)
        tee = self.on_tee[balls]
        shut = ~tee & (number < 0)
        ended = self._punch_out(balls[shut])
        for place, chosen in self._groups(lie, number, tee):
            self._strike(balls[place], chosen, aim[place])
        return np.setdiff1d(balls, ended) if ended.size else balls

    def _near(self, balls: Places) -> npt.NDArray[np.bool_]:
        """Whose next stroke is by the curves."""
        away = np.hypot(self.x[balls] - self.pin[0], self.y[balls] - self.pin[1])
        row, column = self._nodes(balls)
        known = (away < self.ahead.solved.near.within_yd) | ~self.planned[row, column]
        return np.asarray(known | (self.code[balls] == CODE[GREEN]))

    def _nodes(self, balls: Places) -> tuple[Places, Places]:
        grid = self.ahead.solved.grid
        rows, columns = grid.node_shape
        row = np.clip(((self.y[balls] - grid.near) / grid.spacing).astype(np.intp), 0, rows - 1)
        column = np.clip(((self.x[balls] - grid.left) / grid.spacing).astype(np.intp), 0, columns - 1)
        return row, column

    def _choice(self, balls: Places) -> tuple[Places, Places, Floats]:
        """Lie, option and direction of each ball's next shot; -1 where trees leave no way."""
        solved, options = self.ahead.solved, self.ahead.options
        row, column = self._nodes(balls)
        lie = np.full(balls.size, LIES.index(ROUGH), dtype=np.intp)
        for name in LIES:
            substitute = next(one for one in (name, ROUGH, FAIRWAY, SAND, *LIES) if options.get(one))
            lie[np.isin(self.code[balls], CODES[name])] = LIES.index(substitute)
        number = solved.option[lie, row, column].astype(np.intp)
        aim = solved.aim[lie, row, column].astype(np.float64)
        return lie, number, aim

    def _groups(
        self, lie: Places, number: Places, tee: npt.NDArray[np.bool_]
    ) -> list[tuple[npt.NDArray[np.bool_], Option]]:
        found = [(tee, self.tee.option)] if tee.any() else []
        for place, name in enumerate(LIES):
            here = ~tee & (lie == place) & (number >= 0)
            found += [(here & (number == one), self.ahead.options[name][int(one)]) for one in np.unique(number[here])]
        return found

    def _punch_out(self, balls: Places) -> Places:
        """Sideways into the rough at the same distance, to where something can be played from. The balls that find no
        such place: theirs is left to the curves, from which the solver began too."""
        if not balls.size:
            return balls
        ended: list[Places] = []
        grid = self.ahead.solved.grid
        columns, rows = grid.nodes()
        row, column = self._nodes(balls)
        for band in np.unique(self.bands[row, column]):
            here = balls[self.bands[row, column] == band]
            places = self.open_in_band[int(band)]
            self.strokes[here] += 1
            self.code[here] = CODE[ROUGH]
            if not places.size:
                self._hole_out(here)
                ended.append(here)
                continue
            up, right = np.divmod(places, columns.size)
            nearest = np.abs(columns[right][None, :] - self.x[here][:, None]).argmin(axis=1)
            self.x[here], self.y[here] = columns[right[nearest]], rows[up[nearest]]
        return np.concatenate(ended) if ended else balls[:0]

    def _strike(self, balls: Places, option: Option, aim: Floats) -> None:
        """Play one option from where the balls lie, and take what becomes of them."""
        landings = option.landings
        pick = self.patterns.pick(landings, self.draw[balls], self.rng)
        angle = np.where(self.on_tee[balls], self.tee.aim, aim)
        right, along = landings.right[pick][:, None], landings.along[pick][:, None]
        way = flown((0.0, 0.0), angle, right, along, option.flight, self.day)
        from_x, from_y = self.x[balls], self.y[balls]
        carry, rest = (way.carry_x[:, 0], way.carry_y[:, 0]), (way.x[:, 0], way.y[:, 0])
        shots = Shots(from_x + carry[0], from_y + carry[1], from_x + rest[0], from_y + rest[1])
        place = self.ground.places(shots.x, shots.y)
        run_into(self.ground, shots, place)
        if self.ground.tree_yd is not None:
            self._caught(shots, (from_x, from_y), option, place)
        columns, rows = self.ground.centres()
        row, column = np.divmod(place, columns.size)
        end_x, end_y = columns[column], rows[row]
        code = self.ground.code.ravel()[place].copy()
        self.strokes[balls] += 1
        wet = np.flatnonzero((code == RED) | (code == YELLOW))
        self.strokes[balls[wet]] += 1
        if wet.size:
            ends = end_x[wet], end_y[wet]
            end_x[wet], end_y[wet], code[wet] = self._dropped((from_x[wet], from_y[wet]), ends)
        again = code == OUT
        lost = np.zeros(balls.size, dtype=np.bool_)
        lost[wet] = again[wet]
        self.strokes[balls[again & ~lost]] += 1
        kept = balls[~again]
        self.x[kept], self.y[kept], self.code[kept] = end_x[~again], end_y[~again], code[~again]
        self.on_tee[kept] = False

    def _caught(self, shots: Shots, start: tuple[Floats, Floats], option: Option, place: npt.NDArray[np.int32]) -> None:
        """Put balls that meet a tree in their flight where they meet it. Changes `place`."""
        tops = self.ground.tree_yd
        assert tops is not None
        dx, dy = shots.carry_x - start[0], shots.carry_y - start[1]
        carry = np.maximum(np.hypot(dx, dy), 1e-9)
        active, wood = np.arange(carry.size), np.zeros(carry.size)
        for away in np.arange(CLEAR_OF_OWN_TREE_YD, float(carry.max()), RAY_STEP_YD):
            active = active[carry[active] > away]
            share = away / carry[active]
            here = self.ground.places(start[0][active] + dx[active] * share, start[1][active] + dy[active] * share)
            top = tops.ravel()[here]
            if option.low:
                wood[active] += (top > 0) * RAY_STEP_YD
                met = wood[active] > UNDER_BRANCHES_YD
            else:
                met = (top > 0) & (top > option.flight.height(np.full(active.size, away), carry[active]))
            place[active[met]] = here[met]
            active = active[~met]

    def _dropped(self, start: tuple[Floats, Floats], end: tuple[Floats, Floats]) -> tuple[Floats, Floats, Codes]:
        """Where balls in the water at `end` are dropped, and on what; out of bounds costs stroke and distance."""
        dx, dy = start[0] - end[0], start[1] - end[1]
        far = np.maximum(np.hypot(dx, dy), 1e-9)
        unit = dx / far, dy / far
        entry = self._walk(end, unit, far, wet=True)
        red = self.ground.codes(*entry) == RED
        aside = entry[0] + unit[0] * TWO_CLUB_LENGTHS_YD, entry[1] + unit[1] * TWO_CLUB_LENGTHS_YD
        not_nearer = self._away(aside) >= self._away(entry)
        fair = red & (self.ground.codes(*aside) < RED) & not_nearer
        line = np.maximum(self._away(entry), 1e-9)
        back = (entry[0] - self.pin[0]) / line, (entry[1] - self.pin[1]) / line
        behind = self._walk(entry, back, np.full(far.size, float(FARTHEST_BACK_YD)), wet=False)
        x, y = np.where(fair, aside[0], behind[0]), np.where(fair, aside[1], behind[1])
        code = self.ground.codes(x, y).copy()
        code[code >= RED] = OUT
        return x, y, code

    def _away(self, at: tuple[Floats, Floats]) -> Floats:
        return np.hypot(at[0] - self.pin[0], at[1] - self.pin[1])

    def _walk(
        self, at: tuple[Floats, Floats], unit: tuple[Floats, Floats], most: Floats, *, wet: bool
    ) -> tuple[Floats, Floats]:
        """Walk from places in directions until it is dry: the last wet place before that (`wet`), or the dry one; where
        none is found within `most` yards, where the walk ended."""
        x, y = at[0].copy(), at[1].copy()
        active = np.arange(x.size)
        for away in np.arange(BACK_STEP_YD, float(most.max()) + BACK_STEP_YD, BACK_STEP_YD):
            active = active[most[active] >= away]
            here = at[0][active] + unit[0][active] * away, at[1][active] + unit[1][active] * away
            code = self.ground.codes(*here)
            is_wet = (code == RED) | (code == YELLOW)
            going = is_wet if wet else np.ones(active.size, dtype=np.bool_)
            x[active[going]], y[active[going]] = here[0][going], here[1][going]
            active = active[is_wet]
            if not active.size:
                break
        return x, y
