"""What a coach opens first: the players with their latest rounds; and what a player's shots can be filtered by."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate
from sqlalchemy import Connection

from server.api.asking import access
from server.api.authorization import visible_only
from server.api.baselines import known_ids
from server.api.bodies import StrictParser
from server.api.cache import cached_lines
from server.api.database import engine
from server.api.paging import PageQuery, next_of, page_of
from server.api.players import by_name, known_player
from server.questions.competition_lock import lock_of
from server.questions.question import Asked, Question
from server.questions.sides import known_sides
from server.records.typed_schemas import schema_of
from server.reports.squad import Choices as Choices_
from server.reports.squad import ListedPlayer, SquadDocument, listed_player
from server.store.engine import reading
from server.store.frames import setups_frame
from server.store.players import Player, ball_labels, club_ids, players, rounds

blueprint = Blueprint("squad", "squad", url_prefix="/api", description="Players at a glance")
blueprint.ARGUMENTS_PARSER = StrictParser()

DEFAULT_LAST: Final = 12
DEFAULT_PAGE: Final = 50


class SquadQuery(PageQuery):
    """How many of the latest rounds; a page of players."""

    last = fields.Integer(
        load_default=DEFAULT_LAST,
        validate=validate.Range(1, 60, error="is outside its range"),
        metadata={"range": "1 to 60", "description": "rounds a player"},
    )
    limit = fields.Integer(
        load_default=DEFAULT_PAGE,
        validate=validate.Range(1, 200, error="is outside its range"),
        metadata={"range": "1 to 200", "description": "players a page"},
    )


@blueprint.route("/squad")
class Squad(MethodView):
    """The players that may be read."""

    @blueprint.arguments(SquadQuery, location="query")
    @blueprint.response(200, schema_of(SquadDocument))
    def get(self, query: dict[str, Any]) -> Any:
        """The players that may be read, by name in pages, each with the last round and strokes gained in the latest."""
        with reading(engine()) as connection:
            page, headers = page_of(visible_only(players(connection)), query, by_name)
            known = frozenset(known_ids())
            found = [_listed(connection, player, query["last"], known) for player in page]
        return {"players": found, "next": next_of(headers)}, headers


def _listed(connection: Connection, player: Player, last: int, known: frozenset[str]) -> ListedPlayer:
    """A player of the list. `known`: the baselines that the caller may see; a player whose own is none of them has no
    strokes gained here, and keeps nobody else from being listed."""
    # a list of many players would push every frame of a page that is being read out of the cache
    put = Asked(connection, player, Question(rounds=True), replace(access(), frames=None))
    key = (put.mark, put.baseline if player.baseline in known else None, last)
    found: ListedPlayer = cached_lines().get_or_make(key, lambda: _line(put, last, player.baseline in known))
    return found


def _line(put: Asked, last: int, valued: bool) -> ListedPlayer:
    player = put.player
    if not valued:
        lacking = f"the baseline {player.baseline!r} is not here"
        lock, played = lock_of(put.connection, player.player_id), rounds(put.connection, player.player_id)
        return listed_player(player, played, None, last, lock=lock, lacking=lacking)
    found = put.snapshot(locked_too=True)
    return listed_player(player, found.rounds, found.valued, last, lock=found.lock)


@blueprint.route("/players/<uuid:player_id>/choices")
class Choices(MethodView):
    """What a player's shots can be filtered by."""

    @blueprint.response(200, schema_of(Choices_))
    @blueprint.alt_response(404, description="No such player")
    def get(self, player_id: UUID) -> Any:
        """The first and last day with a round, courses, kinds of round, clubs, setups as a query names them, balls."""
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            played = rounds(connection, player.player_id)
            balls = ball_labels(connection, player.player_id)
            sides = known_sides(club_ids(connection, player.player_id), setups_frame(connection, player.player_id))
        days = sorted(round_["played_on"].isoformat() for round_ in played)
        return {
            "first_day": days[0] if days else None,
            "last_day": days[-1] if days else None,
            "days": days,
            "courses": sorted({round_["course"] for round_ in played if round_["course"]}),
            "kinds": sorted({round_["kind"] for round_ in played}),
            "clubs": list(sides),
            "setups": [
                {"setup": f"{club}@{setup[:10]}", "club": club, "since": setup[:10], "note": setup[11:]}
                for club, setups in sides.items()
                for setup in setups
            ],
            "balls": balls,
        }
