"""Owning your data: a player downloads everything, and can erase it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, TypedDict
from uuid import UUID

from flask import Response, current_app, request, url_for
from flask.views import MethodView
from flask_smorest import Blueprint
from sqlalchemy import Engine

from server.api.answers import Query
from server.api.authorization import cookie_name
from server.api.baselines import own_baselines_folder
from server.api.bodies import StrictParser
from server.api.cache import clear_caches
from server.api.database import engine, shared_store
from server.api.players import known_player
from server.api.season import Stream
from server.questions.competition_lock import lock_of
from server.questions.own_baselines import own_ids, players_in
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError, shown
from server.store.accounts import accounts_of_player
from server.store.caddies import caddies
from server.store.engine import reading
from server.store.erasure import erase_player
from server.store.players import rounds
from server.store.pulling import LARGEST_PAGE, Page, pull
from server.store.quarantine import quarantined
from server.store.rows import AccountKept, CaddieRow, ChangeRow, NoteRow, QuarantineRow, ShareRow
from server.store.sharing import notes, shares

blueprint = Blueprint("own_data", "own_data", url_prefix="/api/players", description="What is kept of a player")
blueprint.ARGUMENTS_PARSER = StrictParser()

MEANT = "erase everything"


class ErasureSchema(Query):
    """Asked twice: the player's name, spelled out, and the words that say it is meant."""

    name = Text(80, 1, required=True)
    meant = Text(20, 1, required=True, metadata={"description": f'"{MEANT}"'})


class AboutPlayer(TypedDict):
    """What is kept of a player beside the log."""

    player_id: str
    name: str
    quarantine: list[QuarantineRow]
    shares: Annotated[list[ShareRow], "past and present"]
    caddies: Annotated[list[CaddieRow], "who entered rounds for the player"]
    notes: Annotated[list[NoteRow], "empty while locked"]
    locked: Annotated[str | None, "why notes are left out"]
    accounts: list[AccountKept]
    tables: Annotated[list[str], "addresses that describe the season tables, one a year"]


class AllThatIsKept(AboutPlayer):
    """All that is kept of a player."""

    changes: Annotated[list[ChangeRow], "the whole log"]


@blueprint.route("/<uuid:player_id>/everything")
class Everything(MethodView):
    """All that is kept of a player."""

    @blueprint.response(200, schema_of(AllThatIsKept))
    @blueprint.alt_response(404, description="No such player")
    def get(self, player_id: UUID) -> Any:
        """The whole log, the quarantine, shares past and present, caddies, notes and accounts, as one JSON document.

        `tables` are the addresses that describe the player's season tables, one a year. While a competition round is
        open the notes are left out, and `locked` says so.
        """
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            shared = shares(connection, player.player_id, ended=True)
            entered = caddies(connection, player.player_id)
            held = accounts_of_player(connection, player.player_id)
            lock = lock_of(connection, player.player_id)
            years = sorted({found["played_on"].year for found in rounds(connection, player.player_id)})
        address = [url_for("season.SeasonPackage", year=year, player=player.player_id) for year in years]
        about: AboutPlayer = {
            "player_id": player.player_id,
            "name": player.name,
            "quarantine": quarantined(engine(), player.player_id),
            "shares": shared,
            "caddies": entered,
            "notes": [] if lock else notes(engine(), player.player_id),
            "locked": lock,
            "accounts": held,
            "tables": address,
        }
        # The first page is read before the answer begins: what goes wrong is still reported as a problem.
        first = pull(engine(), player.player_id, None, LARGEST_PAGE)
        opening = current_app.json.dumps(about)[:-1] + ',"changes":['
        return Stream(_with_log(engine(), opening, player.player_id, first), content_type="application/json")


def _with_log(source: Engine, opening: str, player_id: str, page: Page | None) -> Iterator[str]:
    """The document as JSON, a page of the log at a time: nothing holds a log of hundreds of megabytes."""
    yield opening
    comma = ""
    while page is not None and page.changes:
        yield comma + ",".join(json.dumps(change, separators=(",", ":")) for change in page.changes)
        if not page.more:
            break
        comma = ","
        page = pull(source, player_id, page.cursor, LARGEST_PAGE)
        if page is None or page.reset:
            # An answer that is cut off is none: another one would hold parts of two databases.
            raise RuntimeError("the database was replaced while a log was handed out")
    yield "]}\n"


@blueprint.route("/<uuid:player_id>/erasure")
class Erasure(MethodView):
    """Erasing a player."""

    @blueprint.arguments(ErasureSchema)
    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(422, description="The name is another, or the words are not there; nothing was erased")
    def post(self, sent: dict[str, str], player_id: UUID) -> Any:
        """Erase all records, notes and shares of the player and empty the log; it cannot be undone.

        `name` must be the player's name and `meant` the words "erase everything". The player's accounts end with it,
        and baselines learnt from this player alone go too.
        """
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
        wrong = [
            Fault(field, shown(sent[field]), wanted, "is not what confirms an erasure")
            for field, wanted in (("name", player.name), ("meant", MEANT))
            if sent[field] != wanted
        ]
        if wrong:
            raise InvalidError(wrong)
        erase_player(engine(), player.player_id)
        clear_caches()
        if (shared := shared_store()) is not None:
            shared.forget(player.player_id)
        _remove_own_baselines(own_baselines_folder(), player.player_id)
        response = Response(status=204)
        # What is noted next on this device is another player's, who must not be answered as the erased one.
        response.delete_cookie(cookie_name(), path="/", samesite="Strict", httponly=True, secure=request.is_secure)
        return response


def _remove_own_baselines(folder: Path, player_id: str) -> None:
    for name in own_ids(folder):
        file = folder / f"{name}.toml"
        if players_in(file) == {player_id}:
            file.with_suffix(".csv").unlink(missing_ok=True)
            file.unlink()
