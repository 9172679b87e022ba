"""Players, their rounds, scorecards and records."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from uuid import UUID

from flask import abort, url_for
from flask.views import MethodView
from flask_smorest import Blueprint
from sqlalchemy import Connection

from server.api.answers import PlayerList, PlayerSettings, RoundList, RoundSeen, VersionsAsked, VersionsQuery
from server.api.authorization import visible_only
from server.api.baselines import named_baseline
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.hidden_positions import hides_positions, leaves_without
from server.api.paging import PageAsked, PageQuery, page_of
from server.questions.competition_lock import lock_of, refuse_locked
from server.questions.valued_shots import scheme_of, valued_shots
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError
from server.reports.scorecard_rows import RoundProblem
from server.reports.scorecard_rows import Scorecard as Scorecard_
from server.reports.summary import opened_again_words, public_closings, scorecard_document
from server.store.engine import reading
from server.store.frames import Selection
from server.store.players import Player, player_by_id, players, record_versions, round_by_id, rounds
from server.store.round_checks import round_problems
from server.store.rows import ListedRound, RecordVersions

blueprint = Blueprint("players", "players", url_prefix="/api/players", description="Players and their rounds")


blueprint.ARGUMENTS_PARSER = StrictParser()


def by_name(player: Player) -> tuple[str, ...]:
    """How players are sorted."""
    return player.name, player.player_id


def known_player(connection: Connection, player_id: UUID) -> Player:
    """The player, or a 404."""
    player = player_by_id(connection, str(player_id))
    if player is None:
        abort(404, description=f"There is no player {player_id} here.")
    return player


def open_to(connection: Connection, player_id: UUID) -> Player:
    """The player, 404 for none; 423 while a competition round of theirs is open."""
    player = known_player(connection, player_id)
    refuse_locked(connection, [player])
    return player


@blueprint.route("")
class Players(MethodView):
    """All players."""

    @blueprint.arguments(PageQuery, location="query")
    @blueprint.response(200, schema_of(PlayerList))
    def get(self, query: PageAsked) -> Any:
        """List the players by name; with `limit` in pages (Link: rel=next while there is more)."""
        with reading(engine()) as connection:
            visible = visible_only(players(connection))
        page, headers = page_of(visible, query, by_name)
        return {"players": [asdict(player) for player in page]}, headers


@blueprint.route("/<uuid:player_id>")
class OnePlayer(MethodView):
    """One player."""

    @blueprint.response(200, schema_of(PlayerSettings))
    @blueprint.alt_response(404, description="No such player")
    def get(self, player_id: UUID) -> Any:
        """A player with the settings that values depend on."""
        with reading(engine()) as connection:
            return asdict(known_player(connection, player_id))


@blueprint.route("/<uuid:player_id>/rounds")
class Rounds(MethodView):
    """A player's rounds."""

    @blueprint.arguments(PageQuery, location="query")
    @blueprint.response(200, schema_of(RoundList))
    @blueprint.alt_response(404, description="No such player")
    def get(self, query: PageAsked, player_id: UUID) -> Any:
        """List the rounds, latest first; with `limit` in pages (Link: rel=next while there is more)."""
        with reading(engine()) as connection:
            known_player(connection, player_id)
            found = rounds(connection, str(player_id))
        page, headers = page_of(found, query, lambda row: (row["played_on"].isoformat(), row["round_id"]), falling=True)
        return {"rounds": [_seen(row) for row in page]}, headers


def _seen(row: ListedRound) -> RoundSeen:
    return {
        "round_id": row["round_id"],
        "played_on": row["played_on"].isoformat(),
        "kind": row["kind"],
        "course": row["course"],
        "course_id": row["course_id"],
        "tees": row["tees"],
        "closed": row["closed"],
        "closings": public_closings(row),
        "opened_again": opened_again_words(row),
        "holes_meant": row["holes_meant"],
        "stopped": row["stopped"],
        "deleted": row["deleted"],
        "shots": row["shots"],
    }


@blueprint.route("/<uuid:player_id>/rounds/<uuid:round_id>/scorecard")
class Scorecard(MethodView):
    """The scorecard of a round."""

    @blueprint.response(200, schema_of(Scorecard_))
    @blueprint.alt_response(404, description="No such player, round or baseline")
    def get(self, player_id: UUID, round_id: UUID) -> Any:
        """Score and strokes gained per hole of the ball of record, totals, and what does not fit among the shots.

        While a competition round of the player is open `locked` says so, and every card holds scores alone."""
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
            found = round_by_id(connection, player.player_id, str(round_id))
            if found is None:
                abort(404, description=f"There is no round {round_id} of this player here.")
            selection = Selection(player_id=player.player_id, round_id=str(round_id))
            baseline = named_baseline(player.baseline)
            valued = valued_shots(connection, selection, baseline, scheme_of(player))
            problems: list[RoundProblem] = [
                {
                    "severity": problem.severity,
                    "field": problem.field,
                    "message": problem.message,
                    "hole": shot.get("hole"),
                    "ball": shot.get("ball"),
                    "order": shot.get("order"),
                }
                for problem, shot in round_problems(connection, player.player_id, str(round_id))
            ]
            lock = lock_of(connection, player.player_id)
        return scorecard_document(player, found, valued, baseline, problems, lock)


@blueprint.route("/<uuid:player_id>/records/<uuid:record_id>")
class Record(MethodView):
    """One record with all its leaves."""

    @blueprint.arguments(VersionsQuery, location="query")
    @blueprint.response(200, schema_of(RecordVersions))
    @blueprint.alt_response(404, description="No such player or record")
    def get(self, query: VersionsAsked, player_id: UUID, record_id: UUID) -> Any:
        """The versions of a record that nothing has replaced, best first, in pages of 4 MB (Link: rel=next while there
        is more): the first of all speaks for it.

        To keep another, push a put with its body whose parents are all of them.
        """
        with reading(engine()) as connection:
            known_player(connection, player_id)
            try:
                found = record_versions(connection, str(player_id), str(record_id), query.get("after"))
                hidden = hides_positions(connection, str(player_id))
            except LookupError as error:
                fault = Fault("after", query["after"], "the change_id of a version", "is no version of this record")
                raise InvalidError([fault]) from error
        if found is None:
            abort(404, description=f"There is no record {record_id} of this player here.")
        headers = {}
        if found["more"]:
            last = found["leaves"][-1]["change_id"]
            address = url_for("players.Record", player_id=player_id, record_id=record_id, after=last)
            headers["Link"] = f'<{address}>; rel="next"'
        return ({**found, "leaves": leaves_without(found["leaves"])} if hidden else found), headers
