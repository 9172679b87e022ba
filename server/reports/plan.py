"""Plans: a hole's map, a player's shots and a baseline put together."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.ground import Ground, prepare
from server.analysis.plan.options import Bag
from server.analysis.plan.position_value import expected_at, position_values
from server.analysis.plan.tee_plan import plan
from server.game.lies import FAIRWAY, TEE
from server.reports.plan_rows import PlanDocument, PlanHole, Plannable
from server.store.players import Player
from server.store.rows import HoleRow, ListedRound, TeesRow

CAUTION: Final = (
    "A plan is evidence, not advice from a licensed coach or a referee. Wind and firmness change distances; the "
    "Committee's local rules come first. Made before the round it may be printed; during a competition round it "
    "stays closed."
)
PREPARED_HOLES: Final = 24

Point = tuple[float, float]


class PlanError(ValueError):
    """A hole or a shot that cannot be planned; `field` says of what it speaks."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Shot:
    """The shot that is planned. Without `start` the tee shot from the tees named (or the first). `pin` and `start`
    are in the map's yards; `pin` is the middle of the green unless given."""

    hole: int
    tees: str | None = None
    start: Point | None = None
    lie: str | None = None
    pin: Point | None = None
    clubs: tuple[str, ...] | None = None


@lru_cache(maxsize=PREPARED_HOLES)
def prepared(features: str) -> Ground:
    """The prepared ground of a map, kept by its text. ValueError with the map's first fault."""
    return prepare(json.loads(features))


def plan_document(
    player: Player,
    bag: Bag,
    baseline: Baseline,
    course: tuple[str, list[TeesRow]],
    maps: dict[int, str],
    shot: Shot,
) -> PlanDocument:
    """The plan of one shot. `course`: name and tees; `maps`: hole -> features as text. PlanError names what is
    wrong."""
    name, all_tees = course
    tees, hole = _hole(name, all_tees, shot)
    if shot.hole not in maps:
        known = ", ".join(str(number) for number in sorted(maps)) or "none"
        raise PlanError("hole", f"hole {shot.hole} of {name} has no map; mapped holes: {known}")
    ground = _ground(shot.hole, maps[shot.hole])
    pin = shot.pin or ground.pin
    start = shot.start or _on_the_tee(pin, float(hole["length_yd"]))
    lie = shot.lie or (TEE if shot.start is None else FAIRWAY)
    _inside(ground, start, pin)
    to_hole = math.dist(start, pin)
    found, left_out = bag.options(lie, to_hole, shot.clubs)
    if not found:
        few = "; ".join(f"{entry['name']}: {entry['reason']}" for entry in left_out)
        raise PlanError("clubs", f"no club has shots enough to plan with ({few or 'no shots are logged'})")
    try:
        values = position_values(ground, baseline, start, lie, pin)
    except ValueError as error:
        raise PlanError("baseline", str(error)) from error
    made = plan(values, start, pin, found)
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
        **made,
        "features": json.loads(maps[shot.hole]),
        "caution": CAUTION,
    }


def _hole(course: str, all_tees: Sequence[TeesRow], shot: Shot) -> tuple[str, HoleRow]:
    """The tees and the hole as the course records them."""
    names = [str(tees["name"]) for tees in all_tees]
    wanted = names[0] if shot.tees is None else shot.tees
    if wanted not in names:
        raise PlanError("tees", f"{course} has no tees {wanted!r}; there is {', '.join(names)}")
    holes = {hole["number"]: hole for hole in all_tees[names.index(wanted)]["holes"]}
    if shot.hole not in holes:
        raise PlanError("hole", f"{course} has no hole {shot.hole}")
    return wanted, holes[shot.hole]


def _ground(hole: int, features: str) -> Ground:
    try:
        return prepared(features)
    except ValueError as error:
        raise PlanError("hole", f"the map of hole {hole} cannot be used: {error}") from error


def _on_the_tee(pin: Point, length_yd: float) -> Point:
    """The tee: on the line from the map's origin to the hole, as far from the hole as the hole is long."""
    far = math.hypot(*pin)
    if far < 1.0:
        raise PlanError("pin", "the hole lies on the map's origin, where the back tee should be")
    return (pin[0] * (1 - length_yd / far), pin[1] * (1 - length_yd / far))


def _inside(ground: Ground, start: Point, pin: Point) -> None:
    left, near, right, far = ground.bounds
    words = f"the map reaches from ({left:.0f}, {near:.0f}) to ({right:.0f}, {far:.0f}) yd"
    for field, place in (("pin", pin), ("from", start)):
        if not ground.inside(*place, 60.0):
            raise PlanError(field, f"({place[0]:.0f}, {place[1]:.0f}) lies beyond the map: {words}")
    if math.dist(start, pin) < 10:
        raise PlanError("from", "is less than 10 yd from the hole: there is nothing to plan")


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
