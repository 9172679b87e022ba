"""The plan of one shot: expected strokes of every club and aim across the hole, from the player's own patterns.

For a club and an aim the pattern is spread over the hole. With p the share that ends out of bounds, which repeats
the shot, and V_in the mean expected strokes after a ball in play,

    V = 1 + V_in + 2 p / (1 - p)

(V = (1 - p)(1 + V_in) + p (2 + V) solved for V.) The interval of V is that of the pattern's uncertainty alone: the
hole, the baseline and the weather are taken as known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.carries import carries
from server.analysis.plan.choice import LEVEL, Candidate, chances_best, choice, paired, shape_rows
from server.analysis.plan.flight import STOPS_DEAD, USUAL_DAY, Day, Flight, flown
from server.analysis.plan.ground import OUT, RED, Ground
from server.analysis.plan.landings import Landings
from server.analysis.plan.position_value import PositionValues
from server.analysis.plan.rest import Places, at_rest
from server.analysis.plan.rows import AboutOption, LeftOut, OptionRow, Plan
from server.analysis.plan.samples import sample_at
from server.game.lies import CODE, FAIRWAY, FRINGE, GREEN, RECOVERY, ROUGH, SAND

AIMS: Final = 41
AIM_STEP_YD: Final = 2.0
FARTHEST_AIM: Final = 0.3
"""Drawn patterns choose among aims that cost at most so many strokes more than the best one: none that costs more
becomes the best."""
AS_GOOD: Final = 0.02
"""Aims closer than this many strokes are called as good: a hundredth of a stroke in a plan is its own error."""
MOST_OUT: Final = 0.95
"""With more than this share out of bounds a plan has no sensible value."""

MISSED: Final = 0.1
"""The share of balls beyond which a shape's miss to either side is given. A choice of this tool."""

OUT_OF_BOUNDS, WATER = "out_of_bounds", "water"
SHARES: Final[dict[str, tuple[int, ...]]] = {
    "fairway": (CODE[FAIRWAY], CODE[FRINGE]),
    "green": (CODE[GREEN],),
    "rough": (CODE[ROUGH],),
    "sand": (CODE[SAND],),
    "trees": (CODE[RECOVERY],),
    WATER: (RED, RED + 1),
    OUT_OF_BOUNDS: (OUT,),
}
TROUBLE: Final = ("sand", "trees", WATER, OUT_OF_BOUNDS)
_KINDS: Final = OUT + 1
_NAMES: Final = {code: name for name, codes in SHARES.items() for code in codes}

TO_THE_HOLE: Final = "the hole"
TO_THE_FAIRWAY: Final = "the middle of the fairway"
BEYOND_THE_MAP: Final = "its shots end beyond the map"
FARTHEST_BEYOND_YD: Final = 40.0
WIDEST_DEG: Final = 60.0
"""How far to either side a ball in trees or recovery may be played. A choice of this tool."""


Rests = dict[str, Places]


@dataclass(frozen=True, eq=False)
class Option:
    """A club (and planned shape) that may be played: its name, landings, what is to be stated of where they come from,
    how it flies, and whether it is a punch that stays `low`."""

    name: str
    landings: Landings
    reach_yd: float
    about: AboutOption
    flight: Flight = STOPS_DEAD
    low: bool = False


@dataclass(frozen=True, eq=False)
class Across:
    """One option at every aim. `aim_yd`: yards right of the line of reference at the option's reach (k,); `expected`
    (k,) under the pattern on average; `shares`: (k, codes); `draws`: expected strokes under drawn patterns (d, j), at
    the aims of the places `near` (j,), among them the best one."""

    option: Option
    aim_yd: Floats
    expected: Floats
    shares: Floats
    draws: Floats
    near: npt.NDArray[np.intp]

    @property
    def best(self) -> int:
        """Place of the best aim."""
        return int(np.argmin(self.expected))

    @property
    def at_best(self) -> Floats:
        """Expected strokes at the best aim under drawn patterns (d,)."""
        return self.draws[:, int(np.flatnonzero(self.near == self.best)[0])]

    @property
    def aimed_anew(self) -> Floats:
        """Expected strokes under drawn patterns, each at the aim that is best for it (d,)."""
        return np.asarray(self.draws.min(axis=1))


def across(
    values: PositionValues,
    start: tuple[float, float],
    toward_deg: float,
    option: Option,
    aims_yd: Floats,
    day: Day = USUAL_DAY,
    rests: Rests | None = None,
) -> Across:
    """Value an option at every aim. `toward_deg`: direction of the line of reference, clockwise from y; `rests`: as in
    `plan`."""
    landings = option.landings
    angle = np.radians(toward_deg) + np.arctan2(aims_yd, option.reach_yd)
    place = None if rests is None else rests.get(option.name)
    if place is None:
        shots = flown(start, angle, landings.right, landings.along, option.flight, day)
        place = at_rest(values.ground, start, shots, option.flight, low=option.low)
        if rests is not None:
            rests[option.name] = place
    value, code = values.value.take(place), values.code.take(place)
    out = code == OUT
    rows = np.arange(len(aims_yd))[:, None] * _KINDS
    tiled = np.tile(landings.share, len(aims_yd))
    shares: Floats = np.bincount((rows + code).ravel(), tiled, minlength=len(aims_yd) * _KINDS).astype(np.float64)
    shares = shares.reshape(-1, _KINDS)
    found = expected(value @ landings.share, shares[:, OUT])
    near = _near(found)
    drawn = landings.drawn
    worth = (drawn @ value[near].astype(np.float32).T).astype(np.float64)
    lost = drawn @ out[near].astype(np.float32).T if shares[near, OUT].any() else np.zeros((len(drawn), near.size))
    return Across(option, aims_yd, found, shares, expected(worth, lost.astype(np.float64)), near)


def _near(found: Floats) -> npt.NDArray[np.intp]:
    """Places of the aims that drawn patterns choose from: every second one, from the best, that costs at most
    `FARTHEST_AIM` more."""
    best = int(np.argmin(found))
    places = np.arange(best % 2, found.size, 2)
    return places[found[places] <= found[best] + FARTHEST_AIM] if np.isfinite(found[best]) else np.array([best])


def expected(in_play: Floats, out: Floats) -> Floats:
    """V from the sum of expected strokes over the balls in play and the share out of bounds, both of one shape;
    infinite where more than 95 % are out.

    >>> expected(np.array([2.7]), np.array([0.1])).round(4).tolist()
    [4.2222]
    """
    safe = np.minimum(out, MOST_OUT)
    value = 1.0 + in_play / (1 - safe) + 2 * safe / (1 - safe)
    return np.where(out > MOST_OUT, np.inf, value)


def direction(
    ground: Ground, start: tuple[float, float], reach_yd: float, pin: tuple[float, float]
) -> tuple[float, str]:
    """Direction of the line of reference for one reach, and its name: at the hole when it is no farther off than the
    reach and 15 yd, else the middle of the widest stretch of fairway at that reach within 60 degrees of it, else at
    the hole."""
    to_pin = float(np.degrees(np.arctan2(pin[0] - start[0], pin[1] - start[1])))
    if np.hypot(pin[0] - start[0], pin[1] - start[1]) <= reach_yd + 15:
        return to_pin, TO_THE_HOLE
    angles = to_pin + np.linspace(-60, 60, 961)
    turned = np.radians(angles)
    code = ground.codes(start[0] + np.sin(turned) * reach_yd, start[1] + np.cos(turned) * reach_yd)
    fair = np.r_[0, np.isin(code, (CODE[FAIRWAY], CODE[FRINGE], CODE[GREEN])).astype(int), 0]
    first, last = np.flatnonzero(np.diff(fair) == 1), np.flatnonzero(np.diff(fair) == -1) - 1
    if not first.size:
        return to_pin, TO_THE_HOLE
    widest = int(np.argmax(last - first))
    return float((angles[first[widest]] + angles[last[widest]]) / 2), TO_THE_FAIRWAY


def plan(
    values: PositionValues,
    start: tuple[float, float],
    pin: tuple[float, float],
    options: Sequence[Option],
    *,
    aims: int = AIMS,
    step_yd: float = AIM_STEP_YD,
    day: Day = USUAL_DAY,
    all_round: bool = False,
    rests: Rests | None = None,
) -> Plan:
    """The plan of one shot from `start`: every option at `aims` aims `step_yd` apart, best first. `all_round`: aims
    spread over 60 degrees to either side instead, for a ball that has to get out. `rests`: where the balls of every
    option come to rest, filled here and read by a second plan of the same shot with other values."""
    offsets = (np.arange(aims, dtype=np.float64) - (aims - 1) / 2) * step_yd
    turns = np.tan(np.radians(np.linspace(-WIDEST_DEG, WIDEST_DEG, aims)))
    found: list[tuple[float, str, Across]] = []
    left_out: list[LeftOut] = []
    for option in options:
        toward, line = direction(values.ground, start, option.reach_yd, pin)
        turned = np.radians(toward)
        end = (start[0] + np.sin(turned) * option.reach_yd, start[1] + np.cos(turned) * option.reach_yd)
        if not values.ground.inside(float(end[0]), float(end[1]), FARTHEST_BEYOND_YD):
            left_out.append({"name": option.name, "reason": BEYOND_THE_MAP})
            continue
        at = across(values, start, toward, option, option.reach_yd * turns if all_round else offsets, day, rests)
        if np.isfinite(at.expected).any():
            found.append((toward, line, at))
        else:
            left_out.append({"name": option.name, "reason": "nearly every ball ends out of bounds"})
    drawn = paired([at.aimed_anew for *_, at in found])
    order = sorted(range(len(found)), key=lambda place: float(found[place][2].expected.min()))
    found, drawn = [found[place] for place in order], drawn[:, order]
    candidates = [_candidate(at, line) for _, line, at in found]
    chances = chances_best(drawn).tolist() if found else []
    return {
        "options": [
            _row(values, start, toward, line, at, chance, day)
            for (toward, line, at), chance in zip(found, chances, strict=True)
        ],
        "shapes": shape_rows(candidates, drawn),
        "left_out": left_out,
        **choice(candidates, drawn),
    }


def _candidate(at: Across, line: str) -> Candidate:
    about = at.option.about
    left, right = at.option.landings.aside((MISSED, 1 - MISSED))
    return Candidate(
        at.option.name,
        float(at.aim_yd[at.best]),
        float(at.expected[at.best]),
        at.aimed_anew,
        about.get("club", at.option.name),
        about.get("planned_shape"),
        line,
        (-left, right),
    )


def _row(
    values: PositionValues, start: tuple[float, float], toward: float, line: str, at: Across, chance: float, day: Day
) -> OptionRow:
    option = at.option
    flight, carry = option.flight, option.flight.carry_share * option.reach_yd
    best = at.best
    aim_deg = toward + float(np.degrees(np.arctan2(at.aim_yd[best], at.option.reach_yd)))
    with np.errstate(invalid="ignore"):
        low, high = np.quantile(at.at_best, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    good = np.flatnonzero(at.expected <= at.expected[best] + AS_GOOD)
    return {
        "name": at.option.name,
        **at.option.about,
        "reach_yd": at.option.reach_yd,
        "line": line,
        "line_deg": toward,
        "aim_yd": float(at.aim_yd[best]),
        "expected": float(at.expected[best]),
        "low": _number(low),
        "high": _number(high),
        "chance_best": chance,
        "shares": shares_of(at.shares[best]),
        "aims_as_good_yd": [float(at.aim_yd[good[0]]), float(at.aim_yd[good[-1]])],
        "curve": [
            {"aim_yd": float(aim), "expected": _number(value)}
            for aim, value in zip(at.aim_yd, at.expected, strict=True)
        ],
        "aim_deg": aim_deg,
        "landings": sample_at(values, start, aim_deg, option.landings, _NAMES, (flight, day, option.low)),
        "flight": {
            "carry_share": flight.carry_share,
            "carry_yd": carry,
            "apex_yd": flight.apex_yd(carry),
            "descent_deg": flight.descent_deg,
            "own_shots": flight.own_shots,
        },
        "carries": carries(values.ground, start, aim_deg, option.landings, flight, day),
    }


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def shares_of(weights: Floats) -> dict[str, float]:
    """Shares by where the ball ends, and their sum in trouble (sand, trees, water, out of bounds)."""
    shares = {name: float(weights[list(codes)].sum()) for name, codes in SHARES.items()}
    return shares | {"trouble": sum(shares[name] for name in TROUBLE)}
