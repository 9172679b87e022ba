"""Evidence: strokes gained by club, category and the rest."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import abort
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.answers import StrokesGainedQuery, TrialQuery
from server.api.baselines import named_baseline
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.players import known_player
from server.records.validation import Fault, Invalid, shown
from server.season.documents import LOCK, is_locked, summary_document
from server.season.trial import BadSide, find_sides, known_sides, trial_document
from server.season.valued import scheme_of, valued_shots
from server.store.engine import reading
from server.store.frames import Selection, setups_frame
from server.store.players import club_ids, rounds

blueprint = Blueprint("evidence", "evidence", url_prefix="/api/players", description="What the shots say")
blueprint.ARGUMENTS_PARSER = StrictParser()


@blueprint.route("/<uuid:player_id>/strokes-gained")
class StrokesGained(MethodView):
    """Strokes gained of a player."""

    @blueprint.arguments(StrokesGainedQuery, location="query")
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Strokes gained by one grouping, best first, with the total and the holes that are not complete."""
        first, last = query.get("from_day"), query.get("to_day")
        if first and last and first > last:
            abort(422, description=f"from: {first} is after to: {last}")
        kinds = (query["kind"],) if "kind" in query else ()
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            if any(is_locked(found) for found in rounds(connection, player.player_id)):
                abort(423, description=LOCK)
            baseline = named_baseline(query.get("baseline", player.baseline))
            selection = Selection(player.player_id, first, last, kinds)
            valued = valued_shots(connection, selection, baseline, scheme_of(player))
        return summary_document(
            player,
            valued,
            baseline,
            query["by"],
            from_day=first,
            to_day=last,
            balls=query.get("balls"),
            level=query["level"],
        )


@blueprint.route("/<uuid:player_id>/trial")
class TrialOfTwo(MethodView):
    """One club or setup against another."""

    @blueprint.arguments(TrialQuery, location="query")
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A side that is not known, or both sides hold the same shots")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Which of two clubs or setups is better from like places, how sure, and how many shots are missing."""
        first, last = query.get("from_day"), query.get("to_day")
        if first and last and first > last:
            abort(422, description=f"from: {first} is after to: {last}")
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            if any(is_locked(found) for found in rounds(connection, player.player_id)):
                abort(423, description=LOCK)
            baseline = named_baseline(query.get("baseline", player.baseline))
            known = known_sides(club_ids(connection, player.player_id), setups_frame(connection, player.player_id))
            try:
                sides = find_sides(query["a"], query["b"], known)
            except BadSide as error:
                raise Invalid([Fault(error.field, shown(query[error.field]), "", str(error))]) from error
            selection = Selection(player.player_id, first, last)
            valued = valued_shots(connection, selection, baseline, scheme_of(player))
        return trial_document(
            player,
            valued,
            baseline,
            sides,
            from_day=first,
            to_day=last,
            level=query["level"],
            worth=query["worth"],
        )
