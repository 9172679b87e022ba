"""Changes: push, pull, quarantine."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote
from uuid import UUID

from flask import abort, request, url_for
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.answers import (
    ChangesPage,
    PullAsked,
    PullQuery,
    Push,
    Pushed,
    PushSchema,
    QuarantineAsked,
    QuarantinePage,
    QuarantineQuery,
)
from server.api.bodies import StrictParser
from server.api.database import engine, metrics
from server.api.hidden_positions import changes_without, hides_positions, quarantine_without
from server.api.players import known_player
from server.api.pushed import pushed_answer
from server.records.changes import iso
from server.records.typed_schemas import schema_of
from server.records.validation import Fault
from server.store.engine import reading
from server.store.log import push
from server.store.pulling import pull
from server.store.quarantine import quarantine_page
from server.store.round_checks import check_touched

blueprint = Blueprint("changes", "changes", url_prefix="/api/players", description="The change log of a player")
blueprint.ARGUMENTS_PARSER = StrictParser()


def _wants_strict() -> bool:
    """RFC 7240: with "Prefer: handling=strict" a push is taken in full or not at all."""
    wishes = request.headers.get("Prefer", "").replace(" ", "").lower()
    return "handling=strict" in wishes.split(",")


@blueprint.route("/<uuid:player_id>/changes")
class Changes(MethodView):
    """The log of one player."""

    @blueprint.arguments(PushSchema)
    @blueprint.response(200, schema_of(Pushed))
    @blueprint.alt_response(
        422, description="Nothing was stored: the request or, under strict handling, a change is bad"
    )
    def post(self, sent: Push, player_id: UUID) -> Any:
        """Push changes: one transaction, answered after its commit.

        Bad changes are kept raw in the quarantine and named in the answer; the rest is stored. With the header
        "Prefer: handling=strict" any fault, also between the shots of a round, refuses the whole push with 422.
        """
        strict = _wants_strict()

        def check(connection: Any, touched: set[str]) -> list[Fault]:
            return check_touched(connection, str(player_id), touched)

        done = push(
            engine(),
            str(player_id),
            sent["device_id"],
            sent["changes"],
            device_now=sent.get("now"),
            strict=strict,
            check=check,
        )
        metrics().pushed(len(sent["changes"]), len(done.quarantined))
        return pushed_answer(done, request.content_length or 0)

    @blueprint.arguments(PullQuery, location="query")
    @blueprint.response(200, schema_of(ChangesPage))
    @blueprint.alt_response(404, description="No such player")
    def get(self, query: PullAsked, player_id: UUID) -> Any:
        """Pull changes in the order of their numbers, a page at a time (Link: rel=next while there is more).

        Readers get them without positions, unless the player shares positions too."""
        page = pull(engine(), str(player_id), query.get("after"), query["limit"])
        if page is None:
            abort(404, description=f"There is no player {player_id} here.")
        with reading(engine()) as connection:
            hidden = hides_positions(connection, str(player_id))
        headers = {}
        if page.more and page.cursor:
            address = url_for("changes.Changes", player_id=player_id)
            headers["Link"] = f'<{address}?after={quote(page.cursor)}&limit={query["limit"]}>; rel="next"'
        return {
            "changes": changes_without(page.changes) if hidden else page.changes,
            "cursor": page.cursor,
            "more": page.more,
            "reset": page.reset,
            "now": iso(datetime.now(UTC)),
        }, headers


@blueprint.route("/<uuid:player_id>/quarantine")
class Quarantine(MethodView):
    """Changes that wait to be mended."""

    @blueprint.arguments(QuarantineQuery, location="query")
    @blueprint.response(200, schema_of(QuarantinePage))
    def get(self, query: QuarantineAsked, player_id: UUID) -> Any:
        """What could not be taken, raw, with what is wrong, in pages of 4 MB (Link: rel=next while there is more); sent
        again mended under the same id it leaves the list."""
        with reading(engine()) as connection:
            known_player(connection, player_id)
            hidden = hides_positions(connection, str(player_id))
        page, more = quarantine_page(engine(), str(player_id), query["after"])
        headers = {}
        if more:
            address = url_for("changes.Quarantine", player_id=player_id, after=page[-1]["quarantine_id"])
            headers["Link"] = f'<{address}>; rel="next"'
        return {"quarantine": quarantine_without(page) if hidden else page, "more": more}, headers
