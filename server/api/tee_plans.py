"""The plan of a shot, what can be planned, and the maps of holes, on the blueprint of `plans`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Final, TypedDict
from uuid import UUID

from flask import abort
from flask.views import MethodView
from marshmallow import INCLUDE, Schema, ValidationError, fields, validate

from server.analysis.patterns.air import COLDEST_C, HIGHEST_M, LOWEST_M, STRONGEST_WIND_MPH, WARMEST_C
from server.analysis.plan.options import bag_of
from server.analysis.plan.solve import Progress
from server.api.answers import Query
from server.api.asking import asked
from server.api.database import engine
from server.api.plan_answers import DayQuery, course_of, hole_number, mapped_course, plan_answer, plan_key
from server.api.plans import blueprint
from server.api.players import known_player, open_to
from server.files.map_export import EARTH, FRAMES, Maps, NoMapsError, maps_as_geojson
from server.files.map_import import import_maps
from server.game import ranges
from server.game.geojson_maps import MapError
from server.game.hole_maps import FARTHEST_YD
from server.game.lies import GREEN, LIES
from server.questions.question import Question
from server.records.fields import Choice, Flag, Identity, ListOf, Number, Text, WholeNumber
from server.records.schemas import FIRMNESS
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.reports.plan import Shot, curves_of, day_of, plan_document, plannable_document
from server.reports.plan_rows import PlanDocument
from server.reports.plan_rows import Plannable as Plannable_
from server.store.engine import reading
from server.store.hole_maps import hole_map_bodies, mapped_holes
from server.store.players import every_course, rounds

__all__ = ["blueprint"]

PLACE: Final = "[x, y] in the map's yards"
LIES_TO_PLAN: Final = tuple(lie for lie in LIES if lie != GREEN)
MOST_CLUBS: Final = 30


class TeePlanSchema(Schema):
    """The shot to be planned. Without `from` it is the tee shot."""

    course_id = Identity(required=True)
    hole = WholeNumber(1, ranges.MOST_HOLES, required=True)
    tees = Text(60)
    start = ListOf(Number(-FARTHEST_YD, FARTHEST_YD, "yd"), 2, PLACE, data_key="from")
    lie = Choice(LIES_TO_PLAN)
    pin = ListOf(Number(-FARTHEST_YD, FARTHEST_YD, "yd"), 2, PLACE)
    clubs = ListOf(Text(60, 1), MOST_CLUBS, "labels of clubs")
    baseline = Text(80, 1)
    ahead = Flag(load_default=False)
    wind_mph = Number(0, STRONGEST_WIND_MPH, "mph")
    wind_from_deg = Number(-360, 360, "degrees")
    firmness = Choice(FIRMNESS)
    temperature_c = Number(COLDEST_C, WARMEST_C, "degrees C")
    altitude_m = Number(LOWEST_M, HIGHEST_M, "m")


class PlaceInQuery(fields.String):
    """A place as X,Y in the map's yards."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **more: Any) -> Any:
        words = str(super()._deserialize(value, attr, data, **more)).split(",")
        try:
            place = [float(word) for word in words]
        except ValueError as error:
            raise ValidationError("is not two numbers with a comma between them") from error
        if len(place) != 2:
            raise ValidationError("is not two numbers with a comma between them")
        if not all(math.isfinite(x) and abs(x) <= FARTHEST_YD for x in place):
            raise ValidationError("is outside its range")
        return place


IN_YARDS: Final = {"range": f"X,Y, each -{FARTHEST_YD} to {FARTHEST_YD} yd"}


class TeePlanQuery(DayQuery):
    """The shot to be planned, in the address. Without `from` it is the tee shot; `club` may be repeated."""

    course_id = fields.UUID(required=True, metadata={"range": "a UUID"})
    hole = hole_number(required=True)
    tees = Text(60)
    start = PlaceInQuery(data_key="from", metadata=IN_YARDS)
    lie = fields.String(
        validate=validate.OneOf(LIES_TO_PLAN, error="is not one of its values"),
        metadata={"range": ", ".join(LIES_TO_PLAN)},
    )
    pin = PlaceInQuery(metadata=IN_YARDS)
    clubs = fields.List(
        Text(60, 1),
        data_key="club",
        validate=validate.Length(max=MOST_CLUBS, error="has too many entries"),
        metadata={"range": f"up to {MOST_CLUBS} labels of clubs"},
    )
    baseline = Text(80, 1)
    ahead = fields.Boolean(load_default=False, metadata={"range": "true or false"})


class MapQuery(Query):
    """Which course, and which hole when the file does not say."""

    course_id = fields.UUID(required=True, metadata={"range": "a UUID"})
    hole = hole_number()


class MapsOutQuery(MapQuery):
    """Which course, which hole (all unless given), and in which frame."""

    frame = fields.String(
        load_default=EARTH,
        validate=validate.OneOf(FRAMES, error="is not one of its values"),
        metadata={"range": ", ".join(FRAMES)},
    )


class MapsStored(TypedDict):
    """What became of a file of maps."""

    holes: list[int]
    stored: Annotated[int, "maps that are new or another than before"]
    notes: list[str]


class GeoJsonSchema(Schema):
    """A GeoJSON FeatureCollection (RFC 7946) in WGS84."""

    class Meta:
        unknown = INCLUDE


def _planned(player_id: UUID, sent: dict[str, Any], names: Mapping[str, str]) -> Any:
    """The plan, in parts for whoever asks so. `names`: what the one who asked calls a field otherwise."""
    with asked(player_id, Question(baseline=sent.get("baseline"))) as put:
        player, found = put.player, put.snapshot()  # which asks for the competition lock before anything else
        key = plan_key(put, sent)
        course, maps = mapped_course(put, str(sent["course_id"]))
    shot = Shot(
        sent["hole"],
        sent.get("tees"),
        tuple(sent["start"]) if "start" in sent else None,
        sent.get("lie"),
        tuple(sent["pin"]) if "pin" in sent else None,
        tuple(sent["clubs"]) if "clubs" in sent else None,
        day_of(sent),
    )

    def make(progress: Progress | None) -> PlanDocument:
        valued = found.chosen.valued
        curves = curves_of(valued, found.baseline) if sent["ahead"] else None
        bag = bag_of(valued, player.plays)
        return plan_document(player, bag, found.baseline, course, maps, shot, curves, progress)

    return plan_answer(key, schema_of(PlanDocument), make, names)


@blueprint.route("/<uuid:player_id>/tee-plan")
class TeePlan(MethodView):
    """The plan of one shot."""

    @blueprint.arguments(TeePlanQuery, location="query")
    @blueprint.response(200, schema_of(PlanDocument))
    @blueprint.alt_response(404, description="No such player, course or baseline")
    @blueprint.alt_response(422, description="A hole or shot that cannot be planned, with the reason")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """The same as by POST, with the shot in the address, so that a browser may keep the answer."""
        return _planned(player_id, query, {"clubs": "club"})

    @blueprint.arguments(TeePlanSchema)
    @blueprint.response(200, schema_of(PlanDocument))
    @blueprint.alt_response(404, description="No such player, course or baseline")
    @blueprint.alt_response(422, description="A hole or shot that cannot be planned, with the reason")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def post(self, body: dict[str, Any], player_id: UUID) -> Any:
        """Expected strokes of every club and aim, from the player's own patterns and the hole's map, with a sample of
        landings at the best aim and the hole's polygons; stores nothing."""
        for name in ("start", "pin"):
            if name in body and len(body[name]) != 2:
                field = "from" if name == "start" else name
                raise InvalidError([Fault(field, shown(body[name]), PLACE, "needs two numbers")])
        return _planned(player_id, body, {})


@blueprint.route("/<uuid:player_id>/plans")
class Plannable(MethodView):
    """What can be planned."""

    @blueprint.response(200, schema_of(Plannable_))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, player_id: UUID) -> Any:
        """Courses with their tees and mapped holes, those played latest first."""
        with reading(engine()) as connection:
            player = open_to(connection, player_id)
            known = every_course(connection, player.player_id)
            mapped = mapped_holes(connection, player.player_id)
            played = rounds(connection, player.player_id)
        return plannable_document(player, known, mapped, played)


@blueprint.route("/<uuid:player_id>/hole-maps")
class HoleMaps(MethodView):
    """Maps of a course's holes."""

    @blueprint.arguments(MapsOutQuery, location="query")
    @blueprint.response(200, schema_of(Maps))
    @blueprint.alt_response(404, description="No such player, course or map")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """The maps of a course as GeoJSON, in WGS84 (`earth`) or in the holes' own yards (`yards`)."""
        course_id = str(query["course_id"])
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            name, _ = course_of(connection, player.player_id, course_id)
            bodies = hole_map_bodies(connection, player.player_id, course_id)
        try:
            return maps_as_geojson(name, bodies, query["frame"], query.get("hole"))
        except NoMapsError as error:
            return abort(404, description=str(error.args[0]))

    @blueprint.arguments(MapQuery, location="query")
    @blueprint.arguments(GeoJsonSchema)
    @blueprint.response(200, schema_of(MapsStored))
    @blueprint.alt_response(404, description="No such player or course")
    @blueprint.alt_response(422, description="What is wrong with the map; nothing was stored")
    def post(self, query: dict[str, Any], body: dict[str, Any], player_id: UUID) -> Any:
        """Store the maps of a GeoJSON file with OpenStreetMap's golf tags: every hole or none."""
        course_id = str(query["course_id"])
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            course_of(connection, player.player_id, course_id)
        try:
            done = import_maps(engine(), player, course_id, body, query.get("hole"))
        except MapError as error:
            raise InvalidError([Fault("features", "", "", fault) for fault in error.faults]) from error
        return {"holes": done.holes, "stored": done.stored, "notes": done.notes}
