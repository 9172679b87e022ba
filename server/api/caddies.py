"""The player's side of a caddie: letting somebody enter the shots of one open round, seeing who, ending it at once."""

from __future__ import annotations

from typing import Any, TypedDict
from uuid import UUID

from flask import Response, abort, request
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.accounts import drawn_address
from server.api.authorization import key
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.sharing import player_here
from server.records.typed_schemas import schema_of
from server.store.caddies import CaddieRefusedError, caddies, end_caddie, invite
from server.store.engine import reading
from server.store.rows import CaddieRow

blueprint = Blueprint("caddies", "caddies", url_prefix="/api/players", description="Who enters a round for a player")
blueprint.ARGUMENTS_PARSER = StrictParser()


class CaddieList(TypedDict):
    """Invitations and caddies, past ones too, the latest first."""

    caddies: list[CaddieRow]


class NewCaddie(TypedDict):
    """An invitation, this once with its code: as text, as an address, and the address as a drawing."""

    caddie_id: str
    code: str
    address: str
    qr_svg: str
    expires_at: str


@blueprint.route("/<uuid:player_id>/caddies")
class Caddies(MethodView):
    """Invitations to enter a round, and who took them up."""

    @blueprint.response(200, schema_of(CaddieList))
    @blueprint.alt_response(404, description="No such player")
    def get(self, player_id: UUID) -> Any:
        """List one's invitations to enter a round and the caddies who took them up, never their codes."""
        whose = player_here(player_id)
        with reading(engine()) as connection:
            return {"caddies": caddies(connection, whose)}


@blueprint.route("/<uuid:player_id>/rounds/<uuid:round_id>/caddies")
class RoundCaddies(MethodView):
    """Inviting to one round."""

    @blueprint.response(201, schema_of(NewCaddie))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(409, description="The round is finished or not there, or has three caddies already")
    def post(self, player_id: UUID, round_id: UUID) -> Any:
        """Make a code by which one person enters the shots of this open round; it is shown this once.

        It ends when the round is finished, when it is ended here, and at the latest after two days. The answer has the
        code, the address that takes it up, and the address as a QR code (SVG).
        """
        whose = player_here(player_id)
        try:
            caddie_id, code, expires_at = invite(engine(), key(), whose, str(round_id))
        except CaddieRefusedError as error:
            abort(409, str(error))
        address = f"{request.host_url}#/caddie/{code}"
        made: NewCaddie = {
            "caddie_id": caddie_id,
            "code": code,
            "address": address,
            "qr_svg": drawn_address(address),
            "expires_at": expires_at,
        }
        return made, {"Cache-Control": "no-store"}


@blueprint.route("/<uuid:player_id>/caddies/<uuid:caddie_id>")
class OneCaddie(MethodView):
    """One invitation or caddie."""

    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such player, invitation or caddie")
    def delete(self, player_id: UUID, caddie_id: UUID) -> Any:
        """End it at once: nothing more is taken of this caddie, and nothing more is shown."""
        if not end_caddie(engine(), player_here(player_id), str(caddie_id)):
            abort(404, "There is no such invitation or caddie of yours.")
        return Response(status=204)
