"""Patterns, the distance ladder, and the plan of a shot."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pandas as pd
from flask import abort
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import INCLUDE, Schema, fields, validate
from sqlalchemy import Connection

from server.analysis.air import Air
from server.analysis.distances import GAP_YD, OVERLAP
from server.analysis.expected_strokes import Baseline
from server.analysis.finishes import finishes
from server.analysis.options import Bag
from server.analysis.patterns import SPLITS
from server.api.answers import Query
from server.api.baselines import named_baseline
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.players import known_player
from server.game import ranges
from server.game.geojson_maps import BadMap
from server.game.hole_maps import FARTHEST_YD
from server.game.lies import GREEN, LIES
from server.game.order_of_play import KINDS
from server.records.fields import Choice, Identity, ListOf, Number, Text, Whole
from server.records.validation import Fault, Invalid, shown
from server.season.documents import LOCK, is_locked
from server.season.map_import import import_maps
from server.season.patterns import distances_document, patterns_document
from server.season.plans import CannotPlan, Shot, plan_document
from server.season.valued import scheme_of, valued_shots
from server.store.engine import reading
from server.store.frames import Selection
from server.store.hole_maps import course_by_id, hole_map_texts
from server.store.players import Player, rounds

blueprint = Blueprint("plans", "plans", url_prefix="/api/players", description="Patterns, distances and plans")
blueprint.ARGUMENTS_PARSER = StrictParser()

PLACE = "[x, y] in the map's yards"


class DaysQuery(Query):
    """Which shots."""

    from_day = fields.Date(data_key="from", metadata={"range": "a day, YYYY-MM-DD"})
    to_day = fields.Date(data_key="to", metadata={"range": "a day, YYYY-MM-DD"})
    kind = fields.String(
        validate=validate.OneOf(KINDS, error="is not one of its values"), metadata={"range": ", ".join(KINDS)}
    )


class PatternsQuery(DaysQuery):
    """Which club, split by what."""

    club = Text(60, 1)
    split = fields.String(
        load_default="club",
        validate=validate.OneOf(list(SPLITS), error="is not one of its values"),
        metadata={"range": ", ".join(SPLITS)},
    )


def _number(low: float, high: float, unit: str, **more: Any) -> fields.Float:
    bounds = validate.Range(low, high, error="is outside its range")
    return fields.Float(validate=bounds, metadata={"range": f"{low:g} to {high:g} {unit}".strip()}, **more)


class DistancesQuery(DaysQuery):
    """The flags' settings; the correction for the air is off unless one of its three values is given."""

    gap_yd = _number(1, 100, "yd", load_default=GAP_YD)
    overlap = _number(0.01, 0.5, "", load_default=OVERLAP)
    temperature_c = _number(-30, 60, "degrees C")
    altitude_m = _number(-430, 4000, "m")
    head_wind_mph = _number(-60, 60, "mph, against is positive")
    measured_at_c = _number(-30, 60, "degrees C")
    measured_at_m = _number(-430, 4000, "m", load_default=0.0)
    per_density = _number(0, 1.5, "")


class TeePlanSchema(Schema):
    """The shot to be planned. Without `from` it is the tee shot."""

    course_id = Identity(required=True)
    hole = Whole(1, ranges.MOST_HOLES, required=True)
    tees = Text(60)
    start = ListOf(Number(-FARTHEST_YD, FARTHEST_YD, "yd"), 2, PLACE, data_key="from")
    lie = Choice([lie for lie in LIES if lie != GREEN])
    pin = ListOf(Number(-FARTHEST_YD, FARTHEST_YD, "yd"), 2, PLACE)
    clubs = ListOf(Text(60, 1), 30, "labels of clubs")
    baseline = Text(80, 1)


class MapQuery(Query):
    """Which course, and which hole when the file does not say."""

    course_id = fields.UUID(required=True, metadata={"range": "a UUID"})
    hole = fields.Integer(
        validate=validate.Range(1, ranges.MOST_HOLES, error="is outside its range"),
        metadata={"range": f"1 to {ranges.MOST_HOLES}"},
    )


class GeoJsonSchema(Schema):
    """A GeoJSON FeatureCollection (RFC 7946) in WGS84."""

    class Meta:
        unknown = INCLUDE


def _open_to(connection: Connection, player_id: UUID) -> Player:
    """The player, unless a competition round of theirs is open."""
    player = known_player(connection, player_id)
    if any(is_locked(found) for found in rounds(connection, player.player_id)):
        abort(423, description=LOCK)
    return player


def _valued(connection: Connection, player: Player, query: dict[str, Any], baseline: Baseline) -> pd.DataFrame:
    first, last = query.get("from_day"), query.get("to_day")
    if first and last and first > last:
        raise Invalid([Fault("from", str(first), "a day", f"is after to, {last}")])
    kinds = (query["kind"],) if "kind" in query else ()
    return valued_shots(connection, Selection(player.player_id, first, last, kinds), baseline, scheme_of(player))


@blueprint.route("/<uuid:player_id>/patterns")
class Patterns(MethodView):
    """Patterns of a player's clubs."""

    @blueprint.arguments(PatternsQuery, location="query")
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player, or no finish of that club")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Where each club finishes against its target, planned against actual shape, with intervals and warnings."""
        with reading(engine()) as connection:
            player = _open_to(connection, player_id)
            valued = _valued(connection, player, query, named_baseline(player.baseline))
        try:
            return patterns_document(player, valued, split=query["split"], club=query.get("club"))
        except LookupError as error:
            return abort(404, description=str(error.args[0]))


@blueprint.route("/<uuid:player_id>/distances")
class Distances(MethodView):
    """The distance ladder of a player."""

    @blueprint.arguments(DistancesQuery, location="query")
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Full-swing distance of every club, gaps and overlaps with the next, and the air's correction when asked
        for."""
        with reading(engine()) as connection:
            player = _open_to(connection, player_id)
            valued = _valued(connection, player, query, named_baseline(player.baseline))
        asked = {name for name in ("temperature_c", "altitude_m", "head_wind_mph") if name in query}
        given = {name: query[name] for name in Air.__dataclass_fields__ if name in query}
        air = Air(**given) if asked else None
        return distances_document(player, valued, gap_yd=query["gap_yd"], overlap=query["overlap"], air=air)


@blueprint.route("/<uuid:player_id>/tee-plan")
class TeePlan(MethodView):
    """The plan of one shot."""

    @blueprint.arguments(TeePlanSchema)
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player, course or baseline")
    @blueprint.alt_response(422, description="A hole or shot that cannot be planned, with the reason")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def post(self, body: dict[str, Any], player_id: UUID) -> Any:
        """Expected strokes of every club and aim, from the player's own patterns and the hole's map; stores nothing."""
        for name in ("start", "pin"):
            if name in body and len(body[name]) != 2:
                field = "from" if name == "start" else name
                raise Invalid([Fault(field, shown(body[name]), PLACE, "needs two numbers")])
        with reading(engine()) as connection:
            player = _open_to(connection, player_id)
            course = course_by_id(connection, player.player_id, body["course_id"])
            if course is None:
                return abort(404, description=f"There is no course {body['course_id']} of this player here.")
            maps = hole_map_texts(connection, player.player_id, body["course_id"])
            baseline = named_baseline(body.get("baseline", player.baseline))
            valued = _valued(connection, player, {}, baseline)
        shot = Shot(
            body["hole"],
            body.get("tees"),
            tuple(body["start"]) if "start" in body else None,
            body.get("lie"),
            tuple(body["pin"]) if "pin" in body else None,
            tuple(body["clubs"]) if "clubs" in body else None,
        )
        try:
            return plan_document(player, Bag(finishes(valued)), baseline, course, maps, shot)
        except CannotPlan as error:
            raise Invalid([Fault(error.field, "", "", str(error))]) from error


@blueprint.route("/<uuid:player_id>/hole-maps")
class HoleMaps(MethodView):
    """Maps of a course's holes."""

    @blueprint.arguments(MapQuery, location="query")
    @blueprint.arguments(GeoJsonSchema)
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player or course")
    @blueprint.alt_response(422, description="What is wrong with the map; nothing was stored")
    def post(self, query: dict[str, Any], body: dict[str, Any], player_id: UUID) -> Any:
        """Store the maps of a GeoJSON file with OpenStreetMap's golf tags: every hole or none."""
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            if course_by_id(connection, player.player_id, str(query["course_id"])) is None:
                abort(404, description=f"There is no course {query['course_id']} of this player here.")
        try:
            done = import_maps(engine(), player, str(query["course_id"]), body, query.get("hole"))
        except BadMap as error:
            raise Invalid([Fault("features", "", "", fault) for fault in error.faults]) from error
        return {"holes": done.holes, "stored": done.stored, "notes": done.notes}
