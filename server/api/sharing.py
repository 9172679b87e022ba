"""Sharing and notes: whom a player allows to read, and what readers noted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, TypedDict
from uuid import UUID

from flask import Response, abort
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import ValidationError, validates_schema

from server.api.answers import Query
from server.api.authorization import caller
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.players import known_player
from server.api.signing_in import signed_in
from server.questions.competition_lock import refuse_locked
from server.records.fields import Choice, Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.store.accounts import AccountError
from server.store.engine import reading
from server.store.players import player_by_id
from server.store.rows import NoteRow
from server.store.sharing import ABOUT, end_share, notes, remove_note, share, shares, squad_known, write_note

blueprint = Blueprint("sharing", "sharing", url_prefix="/api/players", description="Who reads what")
blueprint.ARGUMENTS_PARSER = StrictParser()


class ShareSchema(Query):
    """A reader by name, or a squad."""

    reader = Text(60, 1)
    squad = Text(60, 1)

    @validates_schema
    def _one_of_both(self, data: Mapping[str, str], **_: Any) -> None:
        if len(data) != 1:
            raise ValidationError("give either a reader or a squad", "reader")


class NoteSchema(Query):
    """A note on a round, a club or a trial."""

    about = Choice(ABOUT, required=True)
    about_id = Text(200, 1, required=True)
    words = Text(2000, 1, required=True)


class ReaderShare(TypedDict):
    """A reader or a squad that may read."""

    share_id: str
    reader: Annotated[str | None, "the account's name"]
    squad: str | None
    readers: Annotated[list[str], "who they are now"]
    since: str


class ShareList(TypedDict):
    """Everybody who may read."""

    shares: list[ReaderShare]


class NewShare(TypedDict):
    """The share that was made, or that there was already."""

    share_id: str


class NoteList(TypedDict):
    """Notes, oldest first."""

    notes: list[NoteRow]


class NewNote(TypedDict):
    """The note that was written."""

    note_id: str


def player_here(player_id: UUID) -> str:
    """The player's id; 404 for an unknown one, unless it is the caller's own, which may have sent nothing yet."""
    if not caller().is_player(str(player_id)):
        with reading(engine()) as connection:
            known_player(connection, player_id)
    return str(player_id)


def player_unlocked(player_id: UUID) -> str:
    """As `player_here`; 423 while a competition round of the player is open: notes are then neither shown nor taken."""
    whose = player_here(player_id)
    with reading(engine()) as connection:
        player = player_by_id(connection, whose)
        refuse_locked(connection, [] if player is None else [player])
    return whose


@blueprint.route("/<uuid:player_id>/shares")
class Shares(MethodView):
    """Who may read this player."""

    @blueprint.response(200, schema_of(ShareList))
    @blueprint.alt_response(404, description="No such player")
    def get(self, player_id: UUID) -> Any:
        """List the readers that are allowed now, and for a squad their names."""
        whose = player_here(player_id)
        with reading(engine()) as connection:
            allowed = shares(connection, whose)
        reported: list[ReaderShare] = [
            {
                "share_id": row["share_id"],
                "reader": row["reader"],
                "squad": row["squad"],
                "readers": row["readers"],
                "since": row["since"],
            }
            for row in allowed
        ]
        return {"shares": reported}

    @blueprint.arguments(ShareSchema)
    @blueprint.response(201, schema_of(NewShare))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(422, description="No such reader or squad")
    def post(self, sent: dict[str, str], player_id: UUID) -> Any:
        """Allow a coach or an analyst, or a squad's, to read all rounds of this player until it is ended."""
        whose = player_here(player_id)
        reader, squad = sent.get("reader"), sent.get("squad")
        if squad is not None:
            with reading(engine()) as connection:
                known = squad_known(connection, squad)
            if not known:
                raise InvalidError([Fault("squad", shown(squad), "", "is no squad that a coach or an analyst reads")])
        try:
            return {"share_id": share(engine(), whose, reader=reader, squad=squad)}
        except AccountError:
            fault = Fault("reader", shown(reader), "", "is no coach or analyst here")
        raise InvalidError([fault])


@blueprint.route("/<uuid:player_id>/shares/<uuid:share_id>")
class OneShare(MethodView):
    """One share."""

    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such player or share")
    def delete(self, player_id: UUID, share_id: UUID) -> Any:
        """End it at once."""
        if not end_share(engine(), str(player_id), str(share_id)):
            abort(404, "There is no such share.")
        return Response(status=204)


@blueprint.route("/<uuid:player_id>/notes")
class Notes(MethodView):
    """Notes on a player's rounds, clubs and trials."""

    @blueprint.response(200, schema_of(NoteList))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, player_id: UUID) -> Any:
        """All notes, oldest first."""
        return {"notes": notes(engine(), player_unlocked(player_id))}

    @blueprint.arguments(NoteSchema)
    @blueprint.response(201, schema_of(NewNote))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def post(self, sent: dict[str, str], player_id: UUID) -> Any:
        """Leave a note; shots stay as they are."""
        author = signed_in().account
        whose = player_unlocked(player_id)
        return {"note_id": write_note(engine(), whose, author, sent["about"], sent["about_id"], sent["words"])}


@blueprint.route("/<uuid:player_id>/notes/<uuid:note_id>")
class OneNote(MethodView):
    """One note."""

    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such player, or no such note that the caller may withdraw")
    def delete(self, player_id: UUID, note_id: UUID) -> Any:
        """Take a note back: one's own, or any on one's own rounds."""
        if not remove_note(engine(), str(player_id), signed_in().account, str(note_id)):
            abort(404, "There is no such note of yours.")
        return Response(status=204)
