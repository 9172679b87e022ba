"""Invitations: a one-time link by which a player lets a coach or an analyst read without knowing the account's name."""

from __future__ import annotations

from typing import Any, ClassVar, TypedDict
from uuid import UUID

from flask import Response, abort, request
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.accounts import drawn_address
from server.api.attempts import FOR_ONE_ADDRESS, TOO_MANY, limiter
from server.api.authorization import key
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.sharing import player_here
from server.api.signing_in import JoinSchema, signed_in
from server.records.typed_schemas import schema_of
from server.store.credentials import INVITATION, give, held, revoke
from server.store.engine import reading
from server.store.sharing import READERS, accept_invitation

blueprint = Blueprint("invitations", "invitations", url_prefix="/api", description="Invitations to read")
blueprint.ARGUMENTS_PARSER = StrictParser()


class Invitation(TypedDict):
    """An invitation that nobody has taken up yet."""

    invitation_id: str
    created_at: str
    expires_at: str


class InvitationList(TypedDict):
    """Invitations that still work."""

    invitations: list[Invitation]


class NewInvitation(TypedDict):
    """An invitation, this once with its code: as text, as an address, and the address as a drawing."""

    invitation_id: str
    code: str
    address: str
    qr_svg: str


class Accepted(TypedDict):
    """Whom one may read now."""

    player_id: str


@blueprint.route("/players/<uuid:player_id>/invitations")
class Invitations(MethodView):
    """Invitations of a player."""

    @blueprint.response(200, schema_of(InvitationList))
    @blueprint.alt_response(404, description="No such player")
    def get(self, player_id: UUID) -> Any:
        """List one's invitations that nobody has taken up yet, never their codes."""
        player_here(player_id)
        with reading(engine()) as connection:
            rows = held(connection, signed_in().account.account_id, INVITATION)
        waiting: list[Invitation] = [
            {"invitation_id": row["credential_id"], "created_at": row["created_at"], "expires_at": row["expires_at"]}
            for row in rows
        ]
        return {"invitations": waiting}

    @blueprint.response(201, schema_of(NewInvitation))
    @blueprint.alt_response(404, description="No such player")
    def post(self, player_id: UUID) -> Any:
        """Make a code that lets one coach or analyst read, within a week; it is shown this once.

        The answer holds the code, the address that takes it up, and the address as a QR code (SVG).
        """
        player_here(player_id)
        invitation_id, code = give(engine(), key(), signed_in().account.account_id, INVITATION)
        address = f"{request.host_url}#/invitation/{code}"
        made = {"invitation_id": invitation_id, "code": code, "address": address, "qr_svg": drawn_address(address)}
        return made, {"Cache-Control": "no-store"}


@blueprint.route("/players/<uuid:player_id>/invitations/<uuid:invitation_id>")
class OneInvitation(MethodView):
    """One invitation."""

    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such player or invitation")
    def delete(self, player_id: UUID, invitation_id: UUID) -> Any:
        """Take an invitation back before anybody took it up."""
        player_here(player_id)
        if not revoke(engine(), signed_in().account.account_id, str(invitation_id), INVITATION):
            abort(404, "There is no such invitation of yours.")
        return Response(status=204)


@blueprint.route("/me/invitations")
class Accepting(MethodView):
    """Taking up an invitation."""

    decorators: ClassVar[list[Any]] = [limiter.limit(FOR_ONE_ADDRESS, error_message=TOO_MANY)]

    @blueprint.arguments(JoinSchema)
    @blueprint.response(201, schema_of(Accepted))
    @blueprint.alt_response(403, description="Players and owners read nobody")
    @blueprint.alt_response(404, description="The code is wrong, used or too old")
    @blueprint.alt_response(429, description="Too many attempts")
    def post(self, sent: dict[str, str]) -> Any:
        """Take up a player's invitation: from now on one reads that player, until the player ends it."""
        reader = signed_in().account
        if reader.role not in READERS:
            abort(403, f"An invitation is for a coach or an analyst; this account is a {reader.role}'s.")
        player_id = accept_invitation(engine(), key(), sent["code"], reader)
        if player_id is None:
            abort(404, "This invitation is wrong, was used or withdrawn, or is older than a week; ask for a new one.")
        return {"player_id": player_id}
