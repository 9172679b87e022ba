"""Plans: a hole's map, a player's shots and a baseline put together."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.fit import own_curves, strokes_to_hole_out
from server.analysis.patterns.air import SPREAD_OF_RULES, Air
from server.analysis.plan.ahead import look_ahead
from server.analysis.plan.flight import USUAL_DAY, Day
from server.analysis.plan.ground import Ground, prepare
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.plan.options import Bag
from server.analysis.plan.position_value import expected_at, position_values
from server.analysis.plan.solve import Progress
from server.analysis.plan.tee_plan import Rests, plan
from server.game.lies import CODE, FAIRWAY, GREEN, RECOVERY, TEE
from server.reports.plan_ahead import ahead_row
from server.reports.plan_rows import AheadRow, DayRow, PlanDocument, PlanHole, Plannable
from server.store.players import Player
from server.store.rows import HoleRow, ListedRound, TeesRow

CAUTION: Final = (
    "A plan is evidence, not advice from a licensed coach or a referee. Wind and firmness change distances; the "
    "Committee's local rules come first. Made before the round it may be printed; during a competition round it "
    "stays closed."
)
DAY_FIELDS: Final = ("wind_mph", "wind_from_deg", "firmness", "temperature_c", "altitude_m")
PREPARED_HOLES: Final = 24
PIN_OFF_YD: Final = 0.75
"""A pin may lie so far off the green, for the map is drawn in half yards."""

Point = tuple[float, float]


class PlanError(ValueError):
    """A hole or a shot that cannot be planned; `field` names the field it is about."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Shot:
    """The shot that is planned. Without `start` it is the tee shot from the tees named (or the first). `pin`, `start`
    are in the map's yards; `pin` is the middle of the green unless given."""

    hole: int
    tees: str | None = None
    start: Point | None = None
    lie: str | None = None
    pin: Point | None = None
    clubs: tuple[str, ...] | None = None
    day: Day = USUAL_DAY


def day_of(given: Mapping[str, Any]) -> Day:
    """The day out of `wind_mph`, `wind_from_deg`, `firmness`, `temperature_c`, `altitude_m`, each None or missing where
    it was not given. PlanError for a value outside its range."""
    set_ = {name: value for name, value in given.items() if value is not None and name in DAY_FIELDS}
    temperature, altitude = set_.pop("temperature_c", None), set_.pop("altitude_m", 0.0)
    try:
        air = Air(temperature, altitude) if temperature is not None or altitude else None
        return Day(**set_, air=air)
    except ValueError as error:
        field, _, message = str(error).partition(": ")
        raise PlanError(field, message) from error


@lru_cache(maxsize=PREPARED_HOLES)
def prepared(features: str) -> Ground:
    """The prepared ground of a map, kept by its text. ValueError with the map's first fault."""
    return prepare(json.loads(features))


def curves_of(valued: pd.DataFrame, baseline: Baseline) -> Baseline:
    """The player's own expected strokes for the shots after the first. `valued`: as `valued_shots` returns them."""
    return own_curves(strokes_to_hole_out(valued), baseline)


def plan_document(
    player: Player,
    bag: Bag,
    baseline: Baseline,
    course: tuple[str, list[TeesRow]],
    maps: dict[int, str],
    shot: Shot,
    curves: Baseline | None = None,
    progress: Progress | None = None,
) -> PlanDocument:
    """The plan of one shot. `course`: name and tees; `maps`: hole -> features as text; `curves`: the player's own, of
    `curves_of`, when the shot is to be valued by where it leaves the player's own next shots; `progress`: called
    with the share of solving done, and may raise `StoppedError`. PlanError names what is wrong."""
    name, all_tees = course
    tees, hole = _hole(name, all_tees, shot)
    if shot.hole not in maps:
        known = ", ".join(str(number) for number in sorted(maps)) or "none"
        raise PlanError("hole", f"hole {shot.hole} of {name} has no map; mapped holes: {known}")
    ground = ground_of(shot.hole, maps[shot.hole])
    pin = shot.pin or ground.pin
    start = shot.start or on_the_tee(ground.pin, float(hole["length_yd"]))
    lie = shot.lie or (TEE if shot.start is None else FAIRWAY)
    inside(ground, start, pin)
    to_hole = math.dist(start, pin)
    found, left_out = bag.options(lie, to_hole, shot.clubs)
    if not found:
        few = "; ".join(f"{entry['name']}: {entry['reason']}" for entry in left_out)
        raise PlanError("clubs", f"no club has shots enough to plan with ({few or 'no shots are logged'})")
    try:
        values = position_values(ground, baseline, start, lie, pin)
    except ValueError as error:
        raise PlanError("baseline", str(error)) from error
    wide = lie == RECOVERY
    rests: Rests = {}
    made = plan(values, start, pin, found, day=shot.day, all_round=wide, rests=rests)
    seen: AheadRow | None = None
    if curves is not None:
        try:
            ahead = look_ahead(ground, bag, curves, start, pin, shot.clubs, day=shot.day, progress=progress)
            values = ahead.values(ground, start, lie, pin)
        except ValueError as error:
            raise PlanError("baseline", str(error)) from error
        one_step, made = made, plan(values, start, pin, found, day=shot.day, all_round=wide, rests=rests)
        seen = ahead_row(ahead, ground, start, found, (one_step, made), shot.day)
    made["left_out"] = left_out + made["left_out"]
    return {
        "player": player.name,
        "player_id": player.player_id,
        "course": name,
        "tees": tees,
        "hole": {"number": shot.hole, "par": hole["par"], "length_yd": hole["length_yd"]},
        "from": list(start),
        "lie": lie,
        "pin": list(pin),
        "to_hole_yd": to_hole,
        "baseline": {"id": baseline.id, "version": baseline.version, "expected": expected_at(baseline, lie, to_hole)},
        "day": day_row(shot.day),
        "ahead": seen,
        **made,
        "features": json.loads(maps[shot.hole]),
        "caution": CAUTION,
    }


def day_row(day: Day) -> DayRow | None:
    """What a plan reckons with of the day; None on a usual one."""
    if day.is_usual:
        return None
    return {
        "wind_mph": day.wind_mph,
        "wind_from_deg": day.wind_from_deg,
        "firmness": day.firmness,
        "temperature_c": None if day.air is None else day.air.temperature_c,
        "altitude_m": 0.0 if day.air is None else day.air.altitude_m,
        "words": day.words,
        "caution": SPREAD_OF_RULES,
    }


def _hole(course: str, all_tees: Sequence[TeesRow], shot: Shot) -> tuple[str, HoleRow]:
    """The tees and the hole as the course records them."""
    wanted, holes = tees_of(course, all_tees, shot.tees)
    if shot.hole not in holes:
        raise PlanError("hole", f"{course} has no hole {shot.hole}")
    return wanted, holes[shot.hole]


def tees_of(course: str, all_tees: Sequence[TeesRow], tees: str | None) -> tuple[str, dict[int, HoleRow]]:
    """The tees of that name, the first when None, and their holes by number. PlanError for tees that are not there."""
    names = [str(one["name"]) for one in all_tees]
    if not names:
        raise PlanError("tees", f"{course} has no tees yet")
    wanted = names[0] if tees is None else tees
    if wanted not in names:
        raise PlanError("tees", f"{course} has no tees {wanted!r}; there is {', '.join(names)}")
    return wanted, {hole["number"]: hole for hole in all_tees[names.index(wanted)]["holes"]}


def ground_of(hole: int, features: str) -> Ground:
    """The prepared ground of a hole. PlanError with the map's first fault."""
    try:
        return prepared(features)
    except ValueError as error:
        raise PlanError("hole", f"the map of hole {hole} cannot be used: {error}") from error


def on_the_tee(green: Point, length_yd: float) -> Point:
    """The tee: on the line from the map's origin to the middle of the green, as far from it as the hole is long; the
    pin of the day does not move it."""
    far = math.hypot(*green)
    if far < 1.0:
        raise PlanError("hole", "the green lies on the map's origin, where the back tee should be")
    return (green[0] * (1 - length_yd / far), green[1] * (1 - length_yd / far))


def inside(ground: Ground, start: Point, pin: Point) -> None:
    """PlanError for a shot that begins or a hole that lies beyond the map, for a pin that is not on the green, or for a
    shot that is too short to plan."""
    left, near, right, far = ground.bounds
    words = f"the map reaches from ({left:.0f}, {near:.0f}) to ({right:.0f}, {far:.0f}) yd"
    for field, place in (("pin", pin), ("from", start)):
        if not ground.inside(*place, 60.0):
            raise PlanError(field, f"({place[0]:.0f}, {place[1]:.0f}) lies beyond the map: {words}")
    aside, along = np.meshgrid(*2 * [np.array([-PIN_OFF_YD, 0.0, PIN_OFF_YD])])
    if pin != ground.pin and not (ground.codes(pin[0] + aside, pin[1] + along) == CODE[GREEN]).any():
        green = f"whose middle is ({ground.pin[0]:.0f}, {ground.pin[1]:.0f}) yd"
        raise PlanError("pin", f"({pin[0]:.0f}, {pin[1]:.0f}) is not on the green, {green}")
    if math.dist(start, pin) < 10:
        raise PlanError("from", "is less than 10 yd from the hole: there is nothing to plan")


def hole_to_play(number: int, hole: HoleRow, features: str, pin: Point | None = None) -> HoleToPlay:
    """A hole of the card on its map, from its tee; `pin`: the middle of the green when None. PlanError names it."""
    ground = ground_of(number, features)
    start, end = on_the_tee(ground.pin, float(hole["length_yd"])), pin or ground.pin
    try:
        inside(ground, start, end)
    except PlanError as error:
        raise PlanError("course_id" if pin is None else error.field, f"hole {number}: {error}") from error
    return HoleToPlay(number, int(hole["par"]), float(hole["length_yd"]), ground, start, end)


def plannable_document(
    player: Player,
    courses: Sequence[tuple[str, str, list[TeesRow]]],
    mapped: dict[str, list[int]],
    played: Sequence[ListedRound],
) -> Plannable:
    """What can be planned: every course with its tees and mapped holes, those played latest first.

    `courses`: (name, id, tees); `mapped`: course id -> holes; `played`: the player's rounds, latest first.
    """
    latest: dict[str, str | None] = {}
    for one in played:
        if one["course_id"] is not None:
            latest.setdefault(str(one["course_id"]), one["tees"])
    order = list(latest)
    known = sorted(
        (order.index(course_id) if course_id in latest else len(order), name, course_id, tees)
        for name, course_id, tees in courses
    )
    return {
        "player": player.name,
        "player_id": player.player_id,
        "baseline": player.baseline,
        "courses": [
            {
                "course_id": course_id,
                "name": name,
                "tees": [{"name": one["name"], "holes": [_defined(hole) for hole in one["holes"]]} for one in tees],
                "latest_tees": latest.get(course_id),
                "mapped": mapped.get(course_id, []),
            }
            for _, name, course_id, tees in known
        ],
        "caution": CAUTION,
    }


def _defined(hole: HoleRow) -> PlanHole:
    """The hole without what a device may have noted besides."""
    return {"number": hole["number"], "par": hole["par"], "length_yd": hole["length_yd"]}
