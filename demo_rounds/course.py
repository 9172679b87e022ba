"""The invented course: where a ball lies, and where it is dropped. Geometry as `course.toml` describes it, in yards."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

COURSE: Final = Path(__file__).with_name("course.toml")
FRINGE_WIDTH_YD: Final = 2.0
APRON_YD: Final = 25.0
"""On a par 3 the fairway is the last bit before the green."""
FAIRWAY_FROM_YD: Final = 150.0
TWO_CLUB_LENGTHS_YD: Final = 2.5
"""Two drivers of about 45 in (the usual length of a driver, common practice, no source)."""

OUT_OF_BOUNDS: Final = "out_of_bounds"
WATER: Final = "water"
TREES: Final = "recovery"
Point = tuple[float, float]
Circle = tuple[float, float, float]


@dataclass(frozen=True)
class Water:
    """A penalty area: a rectangle and its relief, "lateral" (red stakes) or "line" (yellow)."""

    area: tuple[float, float, float, float]
    relief: str

    def holds(self, x: float, y: float) -> bool:
        """True when the place is inside."""
        left, right, near, far = self.area
        return left <= x <= right and near <= y <= far


@dataclass(frozen=True)
class Hole:
    """One hole. The hole (cup) is at (0, back)."""

    number: int
    par: int
    back: int
    middle: int
    fairway_width: float
    green: Circle
    bunkers: tuple[Circle, ...]
    bend: float = 0.0
    trees: tuple[float, float] = (0.0, 0.0)
    out_of_bounds: dict[str, float] = field(default_factory=dict)
    water: tuple[Water, ...] = ()
    tee_club: str = "driver"

    def length(self, tees: str) -> int:
        """Length from "back" or "middle", yards."""
        return self.back if tees == "back" else self.middle

    def tee(self, tees: str) -> Point:
        """Where the tee stands."""
        return (0.0, float(self.back - self.length(tees)))

    def to_hole(self, x: float, y: float) -> float:
        """Yards from a place to the hole."""
        return math.hypot(x, y - self.back)

    def middle_line(self, y: float) -> float:
        """x of the middle of the fairway at y."""
        along = min(max(y / self.back, 0.0), 1.0)
        return 4 * self.bend * along * (1 - along)

    def ground(self, x: float, y: float) -> str:
        """The lie at a place, or "out_of_bounds" or "water"."""
        side = x - self.middle_line(y)
        ob = self.out_of_bounds
        if (
            side > ob.get("right", math.inf)
            or -side > ob.get("left", math.inf)
            or y > self.back + ob.get("behind", math.inf)
        ):
            return OUT_OF_BOUNDS
        if any(water.holds(x, y) for water in self.water):
            return WATER
        return self._lie(x, y, side)

    def _lie(self, x: float, y: float, side: float) -> str:
        """The lie at a dry place in bounds, `side` yards right of the middle of the fairway."""
        from_centre = math.hypot(x - self.green[0], y - self.back - self.green[1]) - self.green[2]
        if from_centre <= FRINGE_WIDTH_YD:
            return "green" if from_centre <= 0 else "fringe"
        if any(math.hypot(x - bx, y - self.back - by) <= radius for bx, by, radius in self.bunkers):
            return "sand"
        start = self.back - self.green[2] - APRON_YD if self.par == 3 else FAIRWAY_FROM_YD
        if abs(side) <= self.fairway_width / 2 and start <= y <= self.back:
            return "fairway"
        trees = self.trees[1] if side > 0 else self.trees[0]
        return TREES if trees and abs(side) >= trees else "rough"

    def drop(self, start: Point, end: Point) -> Point:
        """Where a ball in the water at `end`, hit from `start`, is dropped.

        The crossing point is where the straight line of the shot last went in. Rule 17.1d(3), red stakes: two
        club-lengths from it, back along the shot. Rule 17.1d(2), yellow: back on the line from the hole through it.
        """
        water = next(area for area in self.water if area.holds(*end))
        away = math.dist(start, end)
        back = ((start[0] - end[0]) / away, (start[1] - end[1]) / away)
        crossing = end
        for step in range(math.ceil(4 * away)):
            place = (end[0] + back[0] * step / 4, end[1] + back[1] * step / 4)
            if not water.holds(*place):
                break
            crossing = place
        return self._playable(crossing, back if water.relief == "lateral" else None)

    def lateral(self, ball: Point) -> Point:
        """Where an unplayable ball is dropped, rule 19.2c: two club-lengths towards the fairway, not nearer."""
        goal = (self.middle_line(ball[1]), ball[1] - 60)
        away = math.dist(ball, goal)
        return self._playable(ball, ((goal[0] - ball[0]) / away, (goal[1] - ball[1]) / away))

    def _playable(self, origin: Point, aside: Point | None) -> Point:
        """First place that is in bounds, dry, out of sand and not nearer the hole: within two club-lengths in the
        direction `aside`, or else back on the line from the hole through `origin`, as far as needed.
        """
        least = self.to_hole(*origin)
        back = (origin[0] / least, (origin[1] - self.back) / least)
        near = [(aside, TWO_CLUB_LENGTHS_YD * share) for share in (1.0, 0.75, 0.5)] if aside else []
        for unit, far in near + [(back, TWO_CLUB_LENGTHS_YD + step) for step in range(200)]:
            x, y = origin[0] + unit[0] * far, origin[1] + unit[1] * far
            if self.to_hole(x, y) >= least and self.ground(x, y) not in (OUT_OF_BOUNDS, WATER, "sand"):
                return (x, y)
        raise RuntimeError(f"hole {self.number}: no place to drop near {origin}")


@dataclass(frozen=True)
class Course:
    """The course: its name, its holes in order, and what happens to balls in the trees."""

    name: str
    holes: tuple[Hole, ...]
    trees_lost: float
    trees_unplayable: float


def load_course(path: Path = COURSE) -> Course:
    """Read a course."""
    facts = tomllib.loads(path.read_text(encoding="utf-8"))
    holes = tuple(_hole(entry) for entry in facts["hole"])
    return Course(facts["name"], holes, facts["trees_lost"], facts["trees_unplayable"])


def _hole(entry: dict[str, Any]) -> Hole:
    return Hole(
        **{
            **entry,
            "green": tuple(entry["green"]),
            "bunkers": tuple(tuple(bunker) for bunker in entry["bunkers"]),
            "trees": tuple(entry["trees"]),
            "water": tuple(Water(tuple(water["area"]), water["relief"]) for water in entry.get("water", [])),
        }
    )
