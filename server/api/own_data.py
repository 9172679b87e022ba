"""Owning your data: a player downloads everything, and can erase it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response, abort
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.answers import Query
from server.api.database import engine
from server.api.players import known_player
from server.records.fields import Text
from server.store.engine import reading
from server.store.erasure import erase_player
from server.store.log import LARGEST_PAGE, pull
from server.store.quarantine import quarantined
from server.store.sharing import notes, shares

blueprint = Blueprint("own_data", "own_data", url_prefix="/api/players", description="What is kept of a player")


class ErasureSchema(Query):
    """Asked twice: the player's name, spelled out, and the word that says it is meant."""

    name = Text(80, 1, required=True)
    meant = Text(20, 1, required=True)


MEANT = "erase everything"


@blueprint.route("/<uuid:player_id>/everything")
class Everything(MethodView):
    """All that is kept of a player."""

    @blueprint.response(200)
    def get(self, player_id: UUID) -> Any:
        """The whole log, what lies in the quarantine, shares and notes, as one JSON document."""
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            found = shares(connection, player.player_id)
        changes: list[dict[str, Any]] = []
        cursor, more = None, True
        while more:
            page = pull(engine(), player.player_id, cursor, LARGEST_PAGE)
            if page is None or page.reset:
                break
            changes += page.changes
            cursor, more = page.cursor, page.more
        return {
            "player_id": player.player_id,
            "name": player.name,
            "changes": changes,
            "quarantine": quarantined(engine(), player.player_id),
            "shares": found,
            "notes": notes(engine(), player.player_id),
        }


@blueprint.route("/<uuid:player_id>/erasure")
class Erasure(MethodView):
    """Erasing a player."""

    @blueprint.arguments(ErasureSchema)
    @blueprint.response(204)
    def post(self, sent: dict[str, str], player_id: UUID) -> Any:
        """Erase all records, notes and shares of the player and empty the log; it cannot be undone.

        `name` must be the player's name and `meant` the words "erase everything".
        """
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
        if sent["name"] != player.name:
            abort(422, f"name: {sent['name']} is not the name of this player")
        if sent["meant"] != MEANT:
            abort(422, f"meant: {sent['meant']} is not {MEANT!r}")
        erase_player(engine(), player.player_id)
        return Response(status=204)
