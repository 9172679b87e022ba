"""Priorities: where the strokes go, and what comes next."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.asking import ChosenAsked, ChosenQuery, answered
from server.api.bodies import StrictParser
from server.records.typed_schemas import schema_of
from server.reports.putting import PrioritiesDocument, priorities_document

blueprint = Blueprint("priorities", "priorities", url_prefix="/api/players", description="Where the strokes go")
blueprint.ARGUMENTS_PARSER = StrictParser()


@blueprint.route("/<uuid:player_id>/priorities")
class Priorities(MethodView):
    """Priorities of a player."""

    @blueprint.arguments(ChosenQuery, location="query")
    @blueprint.response(200, schema_of(PrioritiesDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: ChosenAsked, player_id: UUID) -> Any:
        """At most three parts of the game that lose strokes beyond chance; none when nothing stands out."""
        return answered(player_id, query, lambda snapshot: priorities_document(snapshot.chosen))
