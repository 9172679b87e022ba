"""The plan of a shot that looks ahead: the hole is solved with the player's own next shots (`solve`), and the shot is
valued by where it leaves them.

The values of the grid replace the baseline's at every half-yard cell; aims, intervals and shares are worked out
from them as in the plan of one shot, so that the grid's coarseness touches only the shots after this one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import BY_SORT, USUAL_DAY, Day, flown
from server.analysis.plan.ground import Codes, Ground
from server.analysis.plan.hole_grid import CODES, LIES, hole_grid
from server.analysis.plan.options import Bag
from server.analysis.plan.position_value import LEAST_YD, PositionValues, values_of
from server.analysis.plan.rest import at_rest
from server.analysis.plan.rows import NextShot
from server.analysis.plan.solve import Solved, solve
from server.analysis.plan.tee_plan import Option
from server.game.lies import CODE, FAIRWAY, GREEN, ROUGH
from server.game.ranges import FARTHEST_YD

TAKEN_DOWN: Final = 0.93
"""From tee and fairway irons and wedges are also played at this share of their length, the pattern in proportion:
players close the step to the next club so (common practice, no source). A choice of this tool."""
STEEP_DEG: Final = 48.0
"""Clubs that land at least this steeply are taken down: irons and wedges."""
LEAST_NEAR_YD, MOST_NEAR_YD = 30.0, 130.0
"""Nearer the hole than the shortest full swing the player's own curves hold, but from no nearer and no farther than
this."""

LEAST_SHARE: Final = 0.05
"""What a shot leaves less often than this is not listed."""


@dataclass(frozen=True, eq=False)
class Ahead:
    """A solved hole with what it was solved with. `options`: of every lie; `curves`: the player's own."""

    solved: Solved
    options: dict[str, list[Option]]
    curves: Baseline

    def values(self, ground: Ground, start: tuple[float, float], lie: str, pin: tuple[float, float]) -> PositionValues:
        """The position value of every cell of the ground for a shot from `start`."""
        again = float(self.solved.at(np.array(start[0]), np.array(start[1]), lie))
        return values_of(ground, self._worth, again, start, pin)

    def _worth(self, x: Floats, y: Floats, code: Codes) -> Floats:
        pin = self.solved.grid.pin
        away = np.clip(np.hypot(x - pin[0], y - pin[1]), LEAST_YD, FARTHEST_YD)
        near = (away < self.solved.near.within_yd) | (code == CODE[GREEN])
        found = np.empty(x.size)
        found[near] = self.curves.grid.expected(code[near], away[near])
        for lie in LIES:
            here = np.flatnonzero(~near & np.isin(code, CODES[lie]))
            found[here] = self.solved.at(x[here], y[here], lie)
        if np.isnan(found).any():
            raise ValueError(f"baseline {self.curves.id}: it has no value for a lie of this hole")
        return found


def look_ahead(
    ground: Ground,
    bag: Bag,
    curves: Baseline,
    start: tuple[float, float],
    pin: tuple[float, float],
    clubs: Sequence[str] | None = None,
    *,
    day: Day = USUAL_DAY,
    progress: Callable[[float], None] | None = None,
) -> Ahead:
    """Solve the hole for this bag. ValueError as `solve` raises it."""
    options = options_by_lie(bag, clubs)
    shortest = min((option.reach_yd for option in options[FAIRWAY]), default=MOST_NEAR_YD)
    within = float(np.clip(shortest, LEAST_NEAR_YD, MOST_NEAR_YD))
    solved = solve(hole_grid(ground, start, pin), options, curves, within, day=day, progress=progress)
    return Ahead(solved, options, curves)


def options_by_lie(bag: Bag, clubs: Sequence[str] | None = None) -> dict[str, list[Option]]:
    """Every full swing of the bag from every lie, and irons and wedges taken down from the fairway. A driver is left on
    the tee, unless it is the only club."""
    found = {}
    for lie in LIES:
        every = bag.options(lie, FARTHEST_YD, clubs)[0]
        found[lie] = [option for option in every if not _is_driver(option)] or every
    found[FAIRWAY] = found[FAIRWAY] + [
        taken_down(option) for option in found[FAIRWAY] if option.flight.descent_deg >= STEEP_DEG
    ]
    return found


def _is_driver(option: Option) -> bool:
    """Whether it comes down as a driver does: its carry share may be the player's own."""
    return option.flight.descent_deg == BY_SORT["driver"].descent_deg


def taken_down(option: Option) -> Option:
    """The same club at a shorter length, its pattern in proportion."""
    landings = option.landings
    shorter = replace(landings, right=landings.right * TAKEN_DOWN, along=landings.along * TAKEN_DOWN)
    return replace(option, landings=shorter, reach_yd=option.reach_yd * TAKEN_DOWN)


def next_shots(
    ahead: Ahead,
    ground: Ground,
    start: tuple[float, float],
    aim_deg: float,
    option: Option,
    day: Day = USUAL_DAY,
) -> list[NextShot]:
    """What a shot leaves, most frequent first: how often each lie, how far from there, and the club that is best from
    there most often. Balls in the water and out of bounds are left out; their shares are in the plan."""
    shots = flown(start, np.radians([aim_deg]), option.landings.right, option.landings.along, option.flight, day)
    place = at_rest(ground, start, shots, option.flight, low=option.low)[0]
    columns, rows = ground.centres()
    row, column = np.divmod(place, columns.size)
    x, y, code = columns[column], rows[row], ground.code.ravel()[place]
    weight = option.landings.share
    away = np.hypot(x - ahead.solved.grid.pin[0], y - ahead.solved.grid.pin[1])
    found: list[NextShot] = []
    for lie, codes in CODES.items():
        here = np.isin(code, codes)
        share = float(weight[here].sum())
        if share < LEAST_SHARE:
            continue
        low, middle, high = _quantiles(away[here], weight[here], (0.1, 0.5, 0.9))
        club, club_share = _club(ahead, lie, x[here], y[here], away[here], weight[here])
        found.append(
            {
                "lie": lie,
                "share": share,
                "distance_yd": middle,
                "nearest_yd": low,
                "farthest_yd": high,
                "club": club,
                "club_share": club_share,
            }
        )
    return sorted(found, key=lambda row: -row["share"])


def _club(
    ahead: Ahead, lie: str, x: Floats, y: Floats, away: Floats, weight: Floats
) -> tuple[str | None, float | None]:
    """The club that is best from most of these places, and from what share of them; none where curves hold."""
    if lie == GREEN:
        return None, None
    options = ahead.options[lie] or ahead.options[ROUGH] or ahead.options[FAIRWAY]
    best: npt.NDArray[np.int16] = ahead.solved.next_at(x, y, lie)
    best = np.where(away < ahead.solved.near.within_yd, -1, best)
    shares: dict[str | None, float] = {}
    for number in np.unique(best):
        name = None if number < 0 else options[int(number)].about["club"]
        shares[name] = shares.get(name, 0.0) + float(weight[best == number].sum())
    name = max(shares, key=shares.__getitem__)
    return (None, None) if name is None else (name, shares[name] / float(weight.sum()))


def _quantiles(values: Floats, weight: Floats, shares: tuple[float, ...]) -> list[float]:
    """Weighted quantiles: the first value at which that share of the weight is reached."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weight[order]) / weight.sum()
    places = np.minimum(np.searchsorted(reached, shares), values.size - 1)
    return [float(value) for value in values[order][places]]
