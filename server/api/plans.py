"""Patterns, strikes and the distance ladder; their blueprint also holds the plans of `tee_plans`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import abort
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate

from server.analysis.patterns.air import Air
from server.analysis.patterns.club_patterns import SPLITS
from server.analysis.patterns.distances import GAP_YD, OVERLAP
from server.api.asking import ClubQuery, DaysQuery, SourceQuery, answered, asked, question_of, snapshot_of
from server.api.bodies import StrictParser
from server.questions.question import Chosen
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.reports.patterns import DistancesDocument, PatternsDocument, distances_document, patterns_document
from server.reports.strikes import StrikesDocument, strikes_document

blueprint = Blueprint("plans", "plans", url_prefix="/api/players", description="Patterns, distances and plans")
blueprint.ARGUMENTS_PARSER = StrictParser()


class PatternsQuery(DaysQuery, SourceQuery):
    """Which club, split by what."""

    club = Text(60, 1)
    split = fields.String(
        load_default="club",
        validate=validate.OneOf(list(SPLITS), error="is not one of its values"),
        metadata={"range": ", ".join(SPLITS)},
    )


def within(low: float, high: float, unit: str, **more: Any) -> fields.Float:
    """A number of a query between two bounds."""
    bounds = validate.Range(low, high, error="is outside its range")
    return fields.Float(validate=bounds, metadata={"range": f"{low:g} to {high:g} {unit}".strip()}, **more)


class DistancesQuery(DaysQuery, SourceQuery):
    """The flags' settings; the correction for the air is off unless one of its three values is given."""

    gap_yd = within(1, 100, "yd", load_default=GAP_YD)
    overlap = within(0.01, 0.5, "", load_default=OVERLAP)
    temperature_c = within(-30, 60, "degrees C")
    altitude_m = within(-430, 4000, "m")
    head_wind_mph = within(-60, 60, "mph, against is positive")
    measured_at_c = within(-30, 60, "degrees C")
    measured_at_m = within(-430, 4000, "m", load_default=0.0)
    per_density = within(0, 1.5, "")


@blueprint.route("/<uuid:player_id>/patterns")
class Patterns(MethodView):
    """Patterns of a player's clubs."""

    @blueprint.arguments(PatternsQuery, location="query")
    @blueprint.response(200, schema_of(PatternsDocument))
    @blueprint.alt_response(404, description="No such player, or no finish of that club")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Where each club finishes against its target, planned against actual shape, with intervals and warnings.

        With `club` the single finishes too.
        """
        chosen = snapshot_of(player_id, question_of(query)).chosen
        try:
            return patterns_document(chosen, split=query["split"], club=query.get("club"))
        except LookupError as error:
            return abort(404, description=str(error.args[0]))


@blueprint.route("/<uuid:player_id>/strikes")
class Strikes(MethodView):
    """Strikes, planned heights and planned shapes of a player."""

    @blueprint.arguments(ClubQuery, location="query")
    @blueprint.response(200, schema_of(StrikesDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A club that is not known")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """How often each strike, planned height and planned shape comes by club, and what it costs in yards and
        strokes, out of the shots of which it was noted."""
        return answered(player_id, query, lambda snapshot: _strikes(snapshot.chosen, query.get("club")))


def _strikes(chosen: Chosen, club: str | None) -> StrikesDocument:
    try:
        return strikes_document(chosen, club=club)
    except LookupError as error:
        raise InvalidError([Fault("club", shown(club), "", str(error.args[0]))]) from error


@blueprint.route("/<uuid:player_id>/distances")
class Distances(MethodView):
    """The distance ladder of a player."""

    @blueprint.arguments(DistancesQuery, location="query")
    @blueprint.response(200, schema_of(DistancesDocument))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Full-swing distance of every club, gaps and overlaps with the next, and the air's correction when asked
        for."""
        with asked(player_id, question_of(query)) as put:
            chosen = put.snapshot().chosen
        corrected = any(name in query for name in ("temperature_c", "altitude_m", "head_wind_mph"))
        given = {name: query[name] for name in Air.__dataclass_fields__ if name in query}
        air = Air(**given) if corrected else None
        limits = {"gap_yd": query["gap_yd"], "overlap": query["overlap"]}
        return distances_document(chosen, **limits, air=air)
