"""The predicted round, and the check of such forecasts against the rounds that were then played."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import Schema, ValidationError, fields, validate

from server.api.answers import Query
from server.api.asking import asked, question_of
from server.api.bodies import StrictParser
from server.api.plan_answers import DayQuery, hole_number, mapped_course, plan_answer, plan_key
from server.api.tee_plans import IN_YARDS, PlaceInQuery
from server.game import ranges
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.reports.plan import day_of
from server.reports.round_ahead import RoundAsked, round_ahead_document, rounds_checked_document
from server.reports.round_ahead_rows import RoundAheadDocument, RoundsCheckedDocument

blueprint = Blueprint(
    "rounds_ahead", "rounds_ahead", url_prefix="/api/players", description="The expected score of a round"
)
blueprint.ARGUMENTS_PARSER = StrictParser()

PIN: Final = "HOLE:X,Y"


class PinOfHole(PlaceInQuery):
    """Where the hole is on one of the greens: HOLE:X,Y in the map's yards."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **more: Any) -> Any:
        number, colon, place = str(value).partition(":")
        if not colon or not number.isdecimal() or not 1 <= int(number) <= ranges.MOST_HOLES:
            raise ValidationError(f"is not {PIN}")
        return int(number), tuple(super()._deserialize(place, attr, data, **more))


class HolesQuery(Query):
    """Which holes of which course: all from the first to the last, of the tees named or the first."""

    course_id = fields.UUID(required=True, metadata={"range": "a UUID"})
    tees = Text(60)
    first_hole = hole_number()
    last_hole = hole_number()
    baseline = Text(80, 1)


class RoundAheadQuery(HolesQuery, DayQuery):
    """The same with the pins and the day."""

    pins = fields.List(
        PinOfHole(metadata={"range": f"{PIN}, {IN_YARDS['range']}"}),
        data_key="pin",
        validate=validate.Length(max=ranges.MOST_HOLES, error="has too many entries"),
        metadata={"range": f"{PIN}, X and Y in the map's yards; the middle of the green for the rest"},
    )


def _answer(player_id: UUID, query: dict[str, Any], document: Callable[..., Any], schema: type[Schema]) -> Any:
    with asked(player_id, question_of(query)) as put:
        found = put.snapshot()  # which asks for the competition lock before anything else
        key = plan_key(put, query)
        course, maps = mapped_course(put, str(query["course_id"]))
    holes = query.get("first_hole"), query.get("last_hole")
    played = RoundAsked(query.get("tees"), *holes, dict(query.get("pins", ())), day_of(query))
    given = found.player, found.chosen.valued, found.baseline, course, maps, played
    return plan_answer(key, schema, lambda progress: document(*given, progress=progress))


@blueprint.route("/<uuid:player_id>/round-ahead")
class RoundAhead(MethodView):
    """The predicted round."""

    @blueprint.arguments(RoundAheadQuery, location="query")
    @blueprint.response(200, schema_of(RoundAheadDocument))
    @blueprint.alt_response(404, description="No such player, course or baseline")
    @blueprint.alt_response(422, description="Holes that cannot be predicted, with the reason")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """The score's distribution over the mapped holes, and each hole's, from the solved plan and the player's own
        patterns and rounds; stores nothing. It takes half a minute for 18 holes."""
        return _answer(player_id, query, round_ahead_document, schema_of(RoundAheadDocument))


@blueprint.route("/<uuid:player_id>/rounds-checked")
class RoundsChecked(MethodView):
    """Rounds predicted from the rounds before them."""

    @blueprint.arguments(HolesQuery, location="query")
    @blueprint.response(200, schema_of(RoundsCheckedDocument))
    @blueprint.alt_response(404, description="No such player, course or baseline")
    @blueprint.alt_response(422, description="Holes that cannot be predicted, with the reason")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """How forecasts from the rounds before each round compare with what came. It takes a minute or more for 18
        holes."""
        return _answer(player_id, query, rounds_checked_document, schema_of(RoundsCheckedDocument))
