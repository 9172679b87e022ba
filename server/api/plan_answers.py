"""What the answers about plans share: the course with its maps, the day, and documents that take long and are kept."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from typing import Any, TypeVar

from flask import abort, request
from marshmallow import Schema, fields, validate

from server.analysis.patterns.air import COLDEST_C, HIGHEST_M, LOWEST_M, STRONGEST_WIND_MPH, WARMEST_C
from server.analysis.plan.solve import Progress
from server.api.answers import Query
from server.api.cache import cached_plans
from server.api.plans import within
from server.api.progress import in_parts
from server.game import ranges
from server.questions.question import Asked
from server.records.schemas import FIRMNESS
from server.records.validation import Fault, InvalidError
from server.reports.plan import PlanError
from server.store.hole_maps import course_by_id, hole_map_texts
from server.store.rows import TeesRow

Document = TypeVar("Document")


class DayQuery(Query):
    """Wind, ground and air of the day; as usual where they are not given."""

    wind_mph = within(0, STRONGEST_WIND_MPH, "mph")
    wind_from_deg = within(-360, 360, "degrees")
    firmness = fields.String(
        validate=validate.OneOf(FIRMNESS, error="is not one of its values"), metadata={"range": ", ".join(FIRMNESS)}
    )
    temperature_c = within(COLDEST_C, WARMEST_C, "degrees C")
    altitude_m = within(LOWEST_M, HIGHEST_M, "m")


def hole_number(**more: Any) -> fields.Integer:
    """The number of a hole in a query."""
    return fields.Integer(
        validate=validate.Range(1, ranges.MOST_HOLES, error="is outside its range"),
        metadata={"range": f"1 to {ranges.MOST_HOLES}"},
        **more,
    )


def course_of(connection: Any, player_id: str, course_id: str) -> tuple[str, list[TeesRow]]:
    """Name and tees of the course, or a 404."""
    found = course_by_id(connection, player_id, course_id)
    if found is None:
        return abort(404, description=f"There is no course {course_id} of this player here.")
    return found


def mapped_course(put: Asked, course_id: str) -> tuple[tuple[str, list[TeesRow]], dict[int, str]]:
    """Name and tees of the course, or a 404, and its maps: hole -> features as text."""
    player_id = put.player.player_id
    return course_of(put.connection, player_id, course_id), hole_map_texts(put.connection, player_id, course_id)


def plan_key(put: Asked, query: Mapping[str, Any]) -> Hashable:
    """What a document of this query is kept by, while log and baseline stay the same."""
    words = tuple(sorted((name, str(value)) for name, value in query.items()))
    return request.endpoint, put.player.player_id, put.mark, put.baseline, words


def plan_answer(
    key: Hashable,
    schema: type[Schema],
    make: Callable[[Progress | None], Document],
    names: Mapping[str, str] | None = None,
) -> Any:
    """The document that is kept by this key, else what `make` makes, in parts for whoever asks so. To be called when
    the competition lock has been asked for. A PlanError becomes a 422; `names`: what the one who asked calls a field
    otherwise."""
    plans = cached_plans()
    if (known := plans.get(key)) is not None:
        return known

    def work(progress: Progress | None) -> Document:
        try:
            made = make(progress)
        except PlanError as error:
            raise InvalidError([Fault((names or {}).get(error.field, error.field), "", "", str(error))]) from error
        plans.put(key, made)
        return made

    return in_parts(work, schema)
