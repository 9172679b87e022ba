"""Practice sessions of a player."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypedDict
from uuid import UUID

from flask import Response, abort
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate

from server.api.asking import ChosenAsked, ChosenQuery, ClubAsked, ClubQuery, answered
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.paging import PageAsked, PageQuery, page_of
from server.api.players import known_player
from server.game.practice import BOTH
from server.questions.question import Chosen
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.reports.practice import (
    LARGEST_SEED,
    MOST_TARGETS,
    PracticeAgainstCourse,
    PracticeTargets,
    practice_against_course,
    practice_targets,
)
from server.store.engine import reading
from server.store.practice import session_by_id, sessions
from server.store.rows import SessionRow, SessionWithBalls

blueprint = Blueprint("practice", "practice", url_prefix="/api/players", description="Practice sessions")
blueprint.ARGUMENTS_PARSER = StrictParser()


class PracticeSessionList(TypedDict):
    """A player's practice sessions, latest first."""

    sessions: list[SessionRow]


@blueprint.route("/<uuid:player_id>/practice")
class Sessions(MethodView):
    """A player's practice sessions."""

    @blueprint.arguments(PageQuery, location="query")
    @blueprint.response(200, schema_of(PracticeSessionList))
    @blueprint.alt_response(404, description="No such player")
    def get(self, query: PageAsked, player_id: UUID) -> Any:
        """List the practice sessions, latest first, with the number of their balls; with `limit` in pages (Link:
        rel=next while there is more)."""
        with reading(engine()) as connection:
            known_player(connection, player_id)
            found = sessions(connection, str(player_id))
        page, headers = page_of(found, query, lambda row: (row["date"], row["session_id"]), falling=True)
        return {"sessions": page}, headers


@blueprint.route("/<uuid:player_id>/practice/<uuid:session_id>")
class OneSession(MethodView):
    """One practice session."""

    @blueprint.response(200, schema_of(SessionWithBalls))
    @blueprint.alt_response(404, description="No such player or session")
    def get(self, player_id: UUID, session_id: UUID) -> Any:
        """A practice session and its balls in their order."""
        with reading(engine()) as connection:
            known_player(connection, player_id)
            found = session_by_id(connection, str(player_id), str(session_id))
        if found is None:
            abort(404, description=f"There is no practice session {session_id} of this player here.")
        return found


class TargetsQuery(ChosenQuery):
    """Of which rounds and sessions, how many targets, by which seed."""

    seed = fields.Integer(
        required=True,
        validate=validate.Range(0, LARGEST_SEED, error="is outside its range"),
        metadata={"range": f"0 to {LARGEST_SEED}", "description": "the same seed draws the same targets"},
    )
    count = fields.Integer(
        load_default=20,
        validate=validate.Range(1, MOST_TARGETS, error="is outside its range"),
        metadata={"range": f"1 to {MOST_TARGETS}"},
    )


class TargetsAsked(ChosenAsked):
    """What `TargetsQuery` reads."""

    seed: int
    count: int


@blueprint.route("/<uuid:player_id>/practice-against-course")
class AgainstCourse(MethodView):
    """Practice beside the course."""

    @blueprint.arguments(ClubQuery, location="query")
    @blueprint.response(200, schema_of(PracticeAgainstCourse))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A club that is not known")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: ClubAsked, player_id: UUID) -> Any:
        """How practice differs from the course: length, direction and its spread club by club, make-rates by length,
        each with its interval."""
        return _answered(player_id, query, lambda chosen: _against(chosen, query.get("club")))


@blueprint.route("/<uuid:player_id>/practice-targets")
class Targets(MethodView):
    """Targets for a practice session."""

    @blueprint.arguments(TargetsQuery, location="query")
    @blueprint.response(200, schema_of(PracticeTargets))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: TargetsAsked, player_id: UUID) -> Any:
        """Random targets out of the player's gaps and the distances that lose strokes; the same seed draws the same."""
        return _answered(player_id, query, lambda chosen: practice_targets(chosen, query["seed"], query["count"]))


def _answered(player_id: UUID, query: Mapping[str, Any], make: Callable[[Chosen], Any]) -> Response:
    """Of rounds and practice both."""
    return answered(player_id, {**query, "source": BOTH}, lambda snapshot: make(snapshot.chosen))


def _against(chosen: Chosen, club: str | None) -> PracticeAgainstCourse:
    try:
        return practice_against_course(chosen, club)
    except LookupError as error:
        raise InvalidError([Fault("club", shown(club), "", str(error.args[0]))]) from error
