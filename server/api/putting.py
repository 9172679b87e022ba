"""Putting, part swings."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.asking import PuttingAsked, PuttingQuery, SwingsAsked, SwingsQuery, answered, question_of, snapshot_of
from server.api.bodies import StrictParser
from server.questions.question import Chosen
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.reports.putting import (
    PartSwingsDocument,
    PutterPairError,
    PuttingDocument,
    part_swings_document,
    putting_document,
)

blueprint = Blueprint("putting", "putting", url_prefix="/api/players", description="Putts and part swings")
blueprint.ARGUMENTS_PARSER = StrictParser()


@blueprint.route("/<uuid:player_id>/putting")
class Putting(MethodView):
    """Putting of a player."""

    @blueprint.arguments(PuttingQuery, location="query")
    @blueprint.response(200, schema_of(PuttingDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A club that is not known, or one against itself")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: PuttingAsked, player_id: UUID) -> Any:
        """Make-rate by length with its interval, strokes gained by length, first putts, three putts, what misses leave;
        of all putts or of one putter, and with `against` two putters compared."""
        return answered(player_id, query, lambda snapshot: _putting(snapshot.chosen, query))


def _putting(chosen: Chosen, query: PuttingAsked) -> PuttingDocument:
    club, against = query.get("club"), query.get("against")
    try:
        return putting_document(chosen, club, against)
    except LookupError as error:
        field, label = ("club", club) if club is not None and club not in chosen.clubs else ("against", against)
        raise InvalidError([Fault(field, shown(label), "", str(error.args[0]))]) from error
    except PutterPairError as error:
        raise InvalidError([Fault("against", shown(against), "", str(error))]) from error


@blueprint.route("/<uuid:player_id>/part-swings")
class PartSwings(MethodView):
    """Part swings of a player."""

    @blueprint.arguments(SwingsQuery, location="query")
    @blueprint.response(200, schema_of(PartSwingsDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A club that is not known")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: SwingsAsked, player_id: UUID) -> Any:
        """Intended against actual distance of part swings, by the share taken off and by club."""
        try:
            return part_swings_document(snapshot_of(player_id, question_of(query)).chosen, query.get("club"))
        except LookupError as error:
            raise InvalidError([Fault("club", shown(query.get("club")), "", str(error.args[0]))]) from error
