"""Playing: a ball on a hole, shot by shot, each from the state that was logged for it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

import numpy as np

from demo_rounds.course import OUT_OF_BOUNDS, TREES, WATER, Course, Hole, Point
from demo_rounds.skills import Truth
from demo_rounds.strategy import Bag, Plan, Spot, plan_shot
from demo_rounds.swings import hit, putt

Row = dict[str, Any]

MOST_SHOTS: Final = 20
CAUGHT_BESIDE_YD, CAUGHT_PAST_YD = 0.075, 1.5
"""A ball that runs over the hole and would stop no farther past it than this drops. From experience, no source."""
FULL_FINISH_LOGGED, PART_FINISH_LOGGED, STRIKE_LOGGED = 0.88, 0.75, 0.35
"""Shares of shots for which the player also taps the finish, or the strike. Invented."""
CLEAN_STRIKES: Final = (("centre", 0.72), ("high", 0.09), ("low", 0.09), ("heel", 0.05), ("toe", 0.05))
MISHIT_STRIKES: Final = (("thin", 0.35), ("fat", 0.3), ("heel", 0.15), ("toe", 0.2))


@dataclass(frozen=True)
class Outcome:
    """What became of a shot: holed, or the next spot with its penalty; the fields to log; a word on the next shot."""

    holed: bool
    spot: Spot
    penalty: str = ""
    logged: Row = field(default_factory=dict)
    next_note: str = ""


@dataclass
class Player:
    """Who plays, where, with what, on which day; `rng` is the round's own source of chance."""

    truth: Truth
    course: Course
    bag: Bag
    day: date
    rng: np.random.RandomState

    def chance(self, share: float) -> bool:
        """True with this probability."""
        return bool(self.rng.random_sample() < share)


def come_to_rest(hole: Hole, x: float, y: float, lie: str, *, not_nearer: bool = False) -> Spot:
    """The spot as logged: the distance rounded to whole yards or feet (at least 1), the ball moved onto it."""
    far = max(hole.to_hole(x, y), 1e-6)
    per_yard = 3 if lie == "green" else 1
    whole = math.ceil(far * per_yard) if not_nearer else round(far * per_yard)
    distance = max(1, whole)
    share = distance / per_yard / far
    return Spot(x * share, hole.back + (y - hole.back) * share, lie, distance)


def play_ball(
    player: Player, hole: Hole, spot: Spot, stop: Callable[[int, Spot], bool], first: Plan | None = None
) -> tuple[list[Row], Spot | None]:
    """Play a ball from `spot` until it is holed or `stop(shots made, spot)` says so; `first` is a plan already made.

    Returns the rows in order (the columns of the shot alone, and under "spot" where it was played from) and where the
    ball lies, None when holed.
    """
    rows: list[Row] = []
    note = ""
    while True:
        plan = first if first and not rows else plan_shot(player.truth, player.bag, hole, spot, player.day)
        outcome = make_shot(player, hole, spot, plan)
        row: Row = {
            "spot": spot,
            "lie": spot.lie,
            "distance": spot.distance,
            "unit": spot.unit,
            "club": plan.club,
            "note": note,
        }
        row |= outcome.logged
        if outcome.penalty:
            row |= {"penalty_strokes": 1, "penalty_reason": outcome.penalty}
        rows.append(row)
        if outcome.holed:
            row["holed"] = "yes"
            return rows, None
        spot, note = outcome.spot, outcome.next_note
        if stop(len(rows), spot):
            return rows, spot
        if len(rows) >= MOST_SHOTS:
            raise RuntimeError(f"hole {hole.number} on {player.day}: not holed after {MOST_SHOTS} shots")


def make_shot(player: Player, hole: Hole, spot: Spot, plan: Plan) -> Outcome:
    """Make one shot from the logged spot."""
    if plan.truth is None:
        return _putt(player, hole, spot)
    finish = hit(plan.truth, plan.target_yd, player.rng)
    long_yd, right_yd = float(finish.long_yd[0]), float(finish.right_yd[0])
    away = math.dist((spot.x, spot.y), plan.aim)
    unit = ((plan.aim[0] - spot.x) / away, (plan.aim[1] - spot.y) / away)
    along = max(plan.target_yd + long_yd, 1.0)
    x = spot.x + unit[0] * along + unit[1] * right_yd
    y = spot.y + unit[1] * along - unit[0] * right_yd
    logged = _logged(player, plan, along - plan.target_yd, right_yd, str(finish.shape[0]), bool(finish.mishit[0]))
    pin = (-spot.x, hole.back - spot.y)
    reach = math.hypot(*pin)
    travel = math.dist((x, y), (spot.x, spot.y))
    beside = abs(pin[0] * (y - spot.y) - pin[1] * (x - spot.x)) / travel
    if beside < CAUGHT_BESIDE_YD and 0 <= travel - reach < CAUGHT_PAST_YD:
        return Outcome(True, spot, logged=logged)
    return _landed(player, hole, spot, (x, y), logged)


def _landed(player: Player, hole: Hole, spot: Spot, end: Point, logged: Row) -> Outcome:
    """What the ground at `end` makes of the shot."""
    ground = hole.ground(*end)
    if ground == OUT_OF_BOUNDS:
        return Outcome(False, spot, "out_of_bounds", logged, "again from the same spot, out of bounds before")
    if ground == WATER:
        x, y = hole.drop((spot.x, spot.y), end)
        return Outcome(False, come_to_rest(hole, x, y, hole.ground(x, y), not_nearer=True), "penalty_area", logged)
    if ground == TREES:
        if player.chance(player.course.trees_lost):
            logged |= {"right_yd": None, "long_yd": None}
            return Outcome(False, spot, "lost", logged, "played as provisional ball, became the ball of record")
        if player.chance(player.course.trees_unplayable):
            x, y = hole.lateral(end)
            return Outcome(False, come_to_rest(hole, x, y, hole.ground(x, y), not_nearer=True), "unplayable", logged)
    return Outcome(False, come_to_rest(hole, *end, ground), logged=logged)


def _putt(player: Player, hole: Hole, spot: Spot) -> Outcome:
    """A putt, from the green or from the fringe."""
    putts = putt(player.truth.putting, spot.yards * 3, player.rng)
    if putts.holed[0]:
        return Outcome(True, spot)
    away = hole.to_hole(spot.x, spot.y)
    unit = (-spot.x / away, (hole.back - spot.y) / away)
    past, right = float(putts.past_ft[0]) / 3, float(putts.right_ft[0]) / 3
    x, y = unit[0] * past + unit[1] * right, hole.back + unit[1] * past - unit[0] * right
    return Outcome(False, come_to_rest(hole, x, y, hole.ground(x, y)))


def _logged(player: Player, plan: Plan, long_yd: float, right_yd: float, shape: str, mishit: bool) -> Row:
    """What the player taps beside lie, distance and club."""
    logged: Row = {"swing": plan.swing}
    full = plan.swing == "full"
    if player.chance(FULL_FINISH_LOGGED if full else PART_FINISH_LOGGED):
        logged |= {"target_yd": round(plan.target_yd), "right_yd": round(right_yd), "long_yd": round(long_yd)}
        if full and plan.truth is not None:
            logged |= {"planned_shape": plan.truth.shape, "actual_shape": shape}
    elif plan.swing == "part":
        logged["target_yd"] = round(plan.target_yd)
    if player.chance(STRIKE_LOGGED):
        names, shares = zip(*(MISHIT_STRIKES if mishit else CLEAN_STRIKES), strict=True)
        place = int(np.searchsorted(np.cumsum(shares), player.rng.random_sample()))
        logged["strike"] = names[min(place, len(names) - 1)]
    return logged


def with_end(rows: list[Row], spot: Spot | None) -> list[Row]:
    """Rows of a ball that was not played out, with the end of its last shot entered."""
    if spot is not None:
        rows[-1] |= {"end_lie": spot.lie, "end_distance": spot.distance, "end_unit": spot.unit}
    return rows
