"""The plan of a shot, and what can be planned, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.analysis.plan.rows import BestOption, NextShot, Plan
from server.records.json_types import JsonObject
from server.reports.heading import BaselineNamed, OfPlayer


class PlanHole(TypedDict):
    """A hole as the course records it."""

    number: int
    par: int
    length_yd: float


class ExpectedAt(BaselineNamed):
    """The baseline, and what it expects from where the shot is played."""

    expected: Annotated[float, "strokes"]


PlanStart = TypedDict("PlanStart", {"from": Annotated[list[float], "x and y, yards on the map"]})
"""Where the shot is played from."""


class OneStep(BestOption):
    """The best shot when the next ones are played as the baseline's golfers do."""

    expected: Annotated[float, "strokes, by the baseline"]
    costs: Annotated[float | None, "what it costs when the next shots are the player's own; null when not on the list"]


class AheadRow(TypedDict):
    """What the plan knows of the shots after this one."""

    next: Annotated[list[NextShot], "what the best option leaves, most frequent first"]
    words: Annotated[list[str], "the same in sentences"]
    one_step: OneStep | None
    agree: Annotated[bool, "the same club, and an aim that is as good"]
    near_yd: Annotated[float, "on the green and within this many yards the player's own curves give the next shot"]
    settled: Annotated[bool, "the values no longer changed when solving ended"]


class DayRow(TypedDict):
    """What the plan reckons with of the day. Directions are clockwise from the line from the back tee."""

    wind_mph: float
    wind_from_deg: Annotated[float, "0 against, 90 from the right"]
    firmness: Annotated[str, "soft, medium or firm"]
    temperature_c: float | None
    altitude_m: float
    words: str
    caution: str


class PlanDocument(Plan, PlanStart, OfPlayer):
    """The plan of one shot, best option first, with the hole's polygons in local yards."""

    course: str
    tees: str
    hole: PlanHole
    lie: str
    pin: Annotated[list[float], "x and y, yards on the map"]
    to_hole_yd: float
    baseline: ExpectedAt
    day: Annotated[DayRow | None, "null when no correction was asked for"]
    ahead: Annotated[AheadRow | None, "null when the next shots are the baseline's"]
    features: Annotated[list[JsonObject], "the map as GeoJSON features, in its own yards"]
    caution: str


class CourseTees(TypedDict):
    """A set of tees."""

    name: str
    holes: list[PlanHole]


class CourseToPlan(TypedDict):
    """A course, and which of its holes have a map."""

    course_id: str
    name: str
    tees: list[CourseTees]
    latest_tees: Annotated[str | None, "the tees of the latest round there"]
    mapped: list[int]


class Plannable(OfPlayer):
    """What can be planned: courses, those played latest first."""

    baseline: Annotated[str, "the id of the player's baseline"]
    courses: list[CourseToPlan]
    caution: str
