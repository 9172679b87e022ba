"""Sharing and notes: whom a player allows to read, and what readers noted."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response, abort
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import ValidationError, validates_schema

from server.api.accounts import signed_in
from server.api.answers import Query
from server.api.database import engine
from server.records.fields import Choice, Text
from server.store.accounts import AccountError
from server.store.engine import reading
from server.store.sharing import ABOUT, end_share, notes, remove_note, share, shares, write_note

blueprint = Blueprint("sharing", "sharing", url_prefix="/api/players", description="Who reads what")


class ShareSchema(Query):
    """A reader by name, or a squad."""

    reader = Text(60, 1)
    squad = Text(60, 1)

    @validates_schema
    def _one_of_both(self, data: dict[str, Any], **_: Any) -> None:
        if len(data) != 1:
            raise ValidationError("say either a reader or a squad", "reader")


class NoteSchema(Query):
    """A note on a round, a club or a trial."""

    about = Choice(ABOUT, required=True)
    about_id = Text(200, 1, required=True)
    words = Text(2000, 1, required=True)


@blueprint.route("/<uuid:player_id>/shares")
class Shares(MethodView):
    """Who may read this player."""

    @blueprint.response(200)
    def get(self, player_id: UUID) -> Any:
        """List the readers that are allowed now, and for a squad their names."""
        with reading(engine()) as connection:
            return {"shares": shares(connection, str(player_id))}

    @blueprint.arguments(ShareSchema)
    @blueprint.response(201)
    def post(self, sent: dict[str, str], player_id: UUID) -> Any:
        """Allow a coach or an analyst, or a squad's, to read all rounds of this player until it is ended."""
        try:
            made = share(engine(), str(player_id), reader=sent.get("reader"), squad=sent.get("squad"))
        except AccountError as error:
            abort(422, str(error))
        return {"share_id": made}


@blueprint.route("/<uuid:player_id>/shares/<uuid:share_id>")
class OneShare(MethodView):
    """One share."""

    @blueprint.response(204)
    def delete(self, player_id: UUID, share_id: UUID) -> Any:
        """End it at once."""
        if not end_share(engine(), str(player_id), str(share_id)):
            abort(404, "There is no such share.")
        return Response(status=204)


@blueprint.route("/<uuid:player_id>/notes")
class Notes(MethodView):
    """Notes on a player's rounds, clubs and trials."""

    @blueprint.response(200)
    def get(self, player_id: UUID) -> Any:
        """All notes, oldest first."""
        return {"notes": notes(engine(), str(player_id))}

    @blueprint.arguments(NoteSchema)
    @blueprint.response(201)
    def post(self, sent: dict[str, str], player_id: UUID) -> Any:
        """Leave a note; shots stay as they are."""
        author = signed_in().account
        made = write_note(engine(), str(player_id), author, sent["about"], sent["about_id"], sent["words"])
        return {"note_id": made}


@blueprint.route("/<uuid:player_id>/notes/<uuid:note_id>")
class OneNote(MethodView):
    """One note."""

    @blueprint.response(204)
    def delete(self, player_id: UUID, note_id: UUID) -> Any:
        """Take a note of one's own back."""
        if not remove_note(engine(), str(player_id), signed_in().account, str(note_id)):
            abort(404, "There is no such note of yours.")
        return Response(status=204)
