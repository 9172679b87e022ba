"""The caddie's side: taking an invitation up, and entering the shots of that one round.

Nobody is looked up by an account here. The secret of each round lies in a cookie that the browser sends to the
addresses of that round alone, so that it opens nothing else, and one phone may enter for several players and have an
account of its own.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any, ClassVar, Final, TypedDict, cast
from uuid import UUID

from flask import Response, abort, current_app, request
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.answers import ChangesPage, PullAsked, PullQuery, Push, Pushed, PushSchema, Query
from server.api.attempts import FOR_ONE_ADDRESS, TOO_MANY, limiter
from server.api.authorization import key, stop_unsigned
from server.api.bodies import StrictParser
from server.api.database import engine, metrics
from server.api.pushed import pushed_answer
from server.records.changes import iso
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.store.caddie_log import needs_of_caddie, pull_of_caddie, push_of_caddie
from server.store.caddies import Caddie, CaddieRefusedError, caddie_of, end_caddie, take_up, write_down_use
from server.store.rows import CaddieNeeds

blueprint = Blueprint("caddying", "caddying", url_prefix="/api/caddying", description="Entering a round for a player")
blueprint.ARGUMENTS_PARSER = StrictParser()

COOKIE: Final = "pencilbag_caddie"
SECURE_COOKIE: Final = "__Secure-pencilbag_caddie"
COOKIE_LASTS_S: Final = 30 * 24 * 3600
"""Longer than any invitation, so that the server can say why entering has ended."""


class TakingUpSchema(Query):
    """The code of an invitation, and who takes it up."""

    code = Text(200, 1, required=True, metadata={"secret": True})
    name = Text(60, 1, required=True)
    device_id = Text(80, 1, required=True)


class TakenUp(TypedDict):
    """The round that may be entered now, and until when at the latest."""

    caddie_id: str
    player_id: str
    round_id: str
    expires_at: str


class CaddiePage(ChangesPage):
    """One page of the log of the round."""

    mark: Annotated[str, "differs as soon as anything needed besides the log has changed"]


@blueprint.route("")
class TakingUp(MethodView):
    """Taking up an invitation."""

    decorators: ClassVar[list[Any]] = [limiter.limit(FOR_ONE_ADDRESS, error_message=TOO_MANY)]

    @blueprint.arguments(TakingUpSchema)
    @blueprint.response(201, schema_of(TakenUp))
    @blueprint.alt_response(404, description="The code is wrong, used, or its time is over")
    @blueprint.alt_response(429, description="Too many attempts")
    def post(self, sent: dict[str, str]) -> Any:
        """Accept an invitation to enter one round, under one's own name: the answer sets an HttpOnly cookie, which is
        good for the addresses of this round alone. `device_id` is the author of every change that follows."""
        try:
            taken = take_up(engine(), key(), sent["code"], sent["name"], sent["device_id"])
        except CaddieRefusedError as error:
            raise InvalidError([Fault("name", shown(sent["name"]), "", str(error))]) from error
        if taken is None:
            abort(404, "This invitation is wrong, was used or ended, or its round is finished; ask for a new one.")
        caddie, secret = taken
        answer: TakenUp = {
            "caddie_id": caddie.caddie_id,
            "player_id": caddie.player_id,
            "round_id": caddie.round_id,
            "expires_at": caddie.expires_at,
        }
        response = cast(Response, current_app.json.response(answer))
        response.status_code = 201
        response.headers["Cache-Control"] = "no-store"
        response.set_cookie(
            _cookie_name(),
            secret,
            max_age=COOKIE_LASTS_S,
            httponly=True,
            samesite="Strict",
            secure=request.is_secure,
            path=_path(caddie.caddie_id),
        )
        return response


@blueprint.route("/<uuid:caddie_id>")
class Caddying(MethodView):
    """A round that one enters for its player."""

    @blueprint.response(200, schema_of(CaddieNeeds))
    @blueprint.alt_response(401, description="Not the phone that took the invitation up")
    @blueprint.alt_response(403, description="Entering has ended")
    def get(self, caddie_id: UUID) -> Any:
        """What entering needs: the player's name, hand and units, the bag, the course and the maps of its holes."""
        return needs_of_caddie(engine(), _caddie(caddie_id))

    @blueprint.response(204)
    @blueprint.alt_response(401, description="Not the phone that took the invitation up")
    def delete(self, caddie_id: UUID) -> Any:
        """Stop entering: from now on this phone writes and reads nothing of the player."""
        caddie = _caddie(caddie_id)
        end_caddie(engine(), caddie.player_id, caddie.caddie_id)
        response = Response(status=204)
        secure = request.is_secure
        path = _path(caddie.caddie_id)
        response.delete_cookie(_cookie_name(), path=path, samesite="Strict", httponly=True, secure=secure)
        return response


@blueprint.route("/<uuid:caddie_id>/changes")
class RoundChanges(MethodView):
    """The log of the round."""

    @blueprint.arguments(PushSchema)
    @blueprint.response(200, schema_of(Pushed))
    @blueprint.alt_response(401, description="Not the phone that took the invitation up")
    @blueprint.alt_response(403, description="Entering has ended; nothing was stored")
    @blueprint.alt_response(507, description="More than one round can need; nothing was stored")
    def post(self, sent: Push, caddie_id: UUID) -> Any:
        """Push changes of the round: its shots, and of its record the conditions of play.

        Anything else, and what is bad, is named in the answer under `quarantined` and kept nowhere; the rest is
        stored. A change of the round's record must name the version that is there now among its parents.
        """
        caddie = _caddie(caddie_id)
        done = push_of_caddie(engine(), caddie, sent["changes"], sent.get("now"))
        write_down_use(engine(), caddie)
        metrics().pushed(len(sent["changes"]), len(done.quarantined))
        return pushed_answer(done, request.content_length or 0)

    @blueprint.arguments(PullQuery(only=("after",)), location="query")
    @blueprint.response(200, schema_of(CaddiePage))
    @blueprint.alt_response(401, description="Not the phone that took the invitation up")
    @blueprint.alt_response(403, description="Entering has ended")
    def get(self, query: PullAsked, caddie_id: UUID) -> Any:
        """Pull the changes of the round and its shots, a page at a time; a page may be empty while there is more."""
        caddie = _caddie(caddie_id)
        page, mark = pull_of_caddie(engine(), caddie, query.get("after"))
        write_down_use(engine(), caddie)
        return {
            "changes": page.changes,
            "cursor": page.cursor,
            "more": page.more,
            "reset": page.reset,
            "now": iso(datetime.now(UTC)),
            "mark": mark,
        }


def _cookie_name() -> str:
    return SECURE_COOKIE if request.is_secure else COOKIE


def _path(caddie_id: str) -> str:
    return f"/api/caddying/{caddie_id}"


def _caddie(caddie_id: UUID) -> Caddie:
    """The caddie who asks; 401 for anybody else."""
    secret = request.cookies.get(_cookie_name())
    found = caddie_of(engine(), key(), str(caddie_id), secret) if secret else None
    if found is None:
        stop_unsigned("This phone has no access to this round: accept an invitation from the player.")
    return found
