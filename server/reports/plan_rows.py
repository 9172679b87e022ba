"""What the plan of a shot and what can be planned say, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.analysis.plan.rows import Plan
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


class PlanDocument(Plan, PlanStart, OfPlayer):
    """The plan of one shot, best option first, with the hole's polygons in local yards."""

    course: str
    tees: str
    hole: PlanHole
    lie: str
    pin: Annotated[list[float], "x and y, yards on the map"]
    to_hole_yd: float
    baseline: ExpectedAt
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
