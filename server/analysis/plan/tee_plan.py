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

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ground import OUT, RED, Ground
from server.analysis.plan.landings import Landings
from server.analysis.plan.position_value import PositionValues
from server.analysis.plan.rows import AboutOption, BestOption, Choice, LeftOut, OptionRow, Plan
from server.analysis.plan.samples import sample_at
from server.game.lies import CODE, FAIRWAY, FRINGE, GREEN, RECOVERY, ROUGH, SAND

AIMS: Final = 41
AIM_STEP_YD: Final = 2.0
DRAWS: Final = 200
LEVEL: Final = 0.90
WORTH_TELLING: Final = 0.02
"""Plans closer than this many strokes are called the same: a hundredth of a stroke in a plan is its own error."""
MOST_OUT: Final = 0.95
"""With more than this share out of bounds a plan has no sensible value."""

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
NO_DIFFERENCE: Final = "no real difference"
BEYOND_THE_MAP: Final = "its shots end beyond the map"
FARTHEST_BEYOND_YD: Final = 40.0


@dataclass(frozen=True, eq=False)
class Option:
    """A club (and planned shape) that may be played: its name, landings, and what is to be stated of where they come
    from."""

    name: str
    landings: Landings
    reach_yd: float
    about: AboutOption


@dataclass(frozen=True, eq=False)
class Across:
    """One option at every aim. `aim_yd`: yards right of the line of reference at the option's reach (k,); `expected`
    (k,); `shares`: (k, codes); `draws`: expected strokes under drawn patterns (d, k)."""

    option: Option
    aim_yd: Floats
    expected: Floats
    shares: Floats
    draws: Floats

    @property
    def best(self) -> int:
        """Place of the best aim."""
        return int(np.argmin(self.expected))


def across(
    values: PositionValues, start: tuple[float, float], toward_deg: float, option: Option, aims_yd: Floats
) -> Across:
    """Value an option at every aim. `toward_deg`: direction of the line of reference, clockwise from y."""
    landings = option.landings
    angle = np.radians(toward_deg) + np.arctan2(aims_yd, option.reach_yd)
    sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
    x = start[0] + sine * landings.along + cosine * landings.right
    y = start[1] + cosine * landings.along - sine * landings.right
    place = values.ground.places(x, y)
    code = values.code.take(place)
    starts = landings.starts
    counts = np.diff(np.r_[starts, landings.atom.size])
    value = np.add.reduceat(values.value.take(place), starts, axis=1) / counts
    out = np.add.reduceat((code == OUT).astype(np.float64), starts, axis=1) / counts
    rng = np.random.default_rng(3)
    drawn = rng.standard_gamma(landings.weight, size=(DRAWS, landings.weight.size))
    drawn /= drawn.sum(axis=1, keepdims=True)
    mean = landings.weight / landings.weight.sum()
    weights = np.repeat(mean / counts, counts)
    rows = np.arange(len(aims_yd))[:, None] * _KINDS
    tiled = np.tile(weights, len(aims_yd))
    shares: Floats = np.bincount((rows + code).ravel(), tiled, minlength=len(aims_yd) * _KINDS).astype(np.float64)
    # einsum, not @: products so small cost less than waking the threads of the linear algebra library
    draws = expected(np.einsum("da,ka->dk", drawn, value), np.einsum("da,ka->dk", drawn, out))
    return Across(option, aims_yd, expected(value @ mean, out @ mean), shares.reshape(-1, _KINDS), draws)


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
) -> Plan:
    """The plan of one shot from `start`: every option at `aims` aims `step_yd` apart, best first."""
    offsets = (np.arange(aims, dtype=np.float64) - (aims - 1) / 2) * step_yd
    found: list[tuple[float, str, Across]] = []
    left_out: list[LeftOut] = []
    for option in options:
        toward, line = direction(values.ground, start, option.reach_yd, pin)
        turned = np.radians(toward)
        end = (start[0] + np.sin(turned) * option.reach_yd, start[1] + np.cos(turned) * option.reach_yd)
        if not values.ground.inside(float(end[0]), float(end[1]), FARTHEST_BEYOND_YD):
            left_out.append({"name": option.name, "reason": BEYOND_THE_MAP})
            continue
        at = across(values, start, toward, option, offsets)
        if np.isfinite(at.expected).any():
            found.append((toward, line, at))
        else:
            left_out.append({"name": option.name, "reason": "nearly every ball ends out of bounds"})
    found.sort(key=lambda pair: float(pair[2].expected.min()))
    return {
        "options": [_row(values, start, toward, line, at) for toward, line, at in found],
        "left_out": left_out,
        **_choice([at for *_, at in found]),
    }


def _row(values: PositionValues, start: tuple[float, float], toward: float, line: str, at: Across) -> OptionRow:
    best = at.best
    aim_deg = toward + float(np.degrees(np.arctan2(at.aim_yd[best], at.option.reach_yd)))
    low, high = np.quantile(at.draws[:, best], ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    good = np.flatnonzero(at.expected <= at.expected[best] + WORTH_TELLING)
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
        "shares": shares_of(at.shares[best]),
        "aims_as_good_yd": [float(at.aim_yd[good[0]]), float(at.aim_yd[good[-1]])],
        "curve": [
            {"aim_yd": float(aim), "expected": _number(value)}
            for aim, value in zip(at.aim_yd, at.expected, strict=True)
        ],
        "aim_deg": aim_deg,
        "landings": sample_at(values, start, aim_deg, at.option.landings, _NAMES),
    }


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def shares_of(weights: Floats) -> dict[str, float]:
    """Shares by where the ball ends, and their sum in trouble (sand, trees, water, out of bounds)."""
    shares = {name: float(weights[list(codes)].sum()) for name, codes in SHARES.items()}
    return shares | {"trouble": sum(shares[name] for name in TROUBLE)}


def _choice(found: Sequence[Across]) -> Choice:
    """Best and second-best option, what the second costs, and a word on the difference."""
    if not found:
        return {"best": None, "second": None, "verdict": "no club can be planned on this hole"}
    first = found[0]
    best: BestOption = {"name": first.option.name, "aim_yd": float(first.aim_yd[first.best])}
    if len(found) == 1:
        return {"best": best, "second": None, "verdict": "one club alone: nothing to choose between"}
    second = found[1]
    costs = float(second.expected[second.best] - first.expected[first.best])
    rng = np.random.default_rng(4)
    with np.errstate(invalid="ignore"):
        drawn = rng.permutation(second.draws[:, second.best]) - first.draws[:, first.best]
    drawn = np.nan_to_num(drawn, nan=0.0, posinf=10.0, neginf=-10.0)
    low, high = np.quantile(drawn, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    same = costs < WORTH_TELLING or low <= 0
    return {
        "best": best,
        "second": {
            "name": second.option.name,
            "aim_yd": float(second.aim_yd[second.best]),
            "costs": costs,
            "low": float(low),
            "high": float(high),
            "chance_best_is_better": float(np.mean(drawn > 0)),
        },
        "verdict": NO_DIFFERENCE if same else f"{first.option.name} is better",
    }
