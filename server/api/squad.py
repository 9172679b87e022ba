"""What a coach opens first: the players with their latest rounds; and what a player's shots can be filtered by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate
from sqlalchemy import Connection

from server.analysis.evidence.tallies import Tally
from server.analysis.expected_strokes.baseline import Baseline
from server.api.authorization import visible_only
from server.api.baselines import known_ids, named_baseline
from server.api.bodies import StrictParser
from server.api.cache import cached_lines, cached_tallies
from server.api.database import engine
from server.api.paging import PageAsked, PageQuery, next_of, page_of
from server.api.players import by_name, known_player
from server.questions.competition_lock import LOCK, locked_players
from server.questions.sides import known_sides
from server.questions.squads import asked_of_many
from server.records.typed_schemas import schema_of
from server.reports.squad import Choices as Choices_
from server.reports.squad import ListedPlayer, SquadDocument, listed_player, rounds_of
from server.store.engine import reading
from server.store.frames import setups_frame
from server.store.players import Player, ball_labels, club_ids, players, rounds, rounds_of_players
from server.store.season_rows import log_marks
from server.store.sharing import latest_notes

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


class SquadAsked(PageAsked):
    """What `SquadQuery` reads."""

    last: int


@blueprint.route("/squad")
class Squad(MethodView):
    """The players that may be read."""

    @blueprint.arguments(SquadQuery, location="query")
    @blueprint.response(200, schema_of(SquadDocument))
    def get(self, query: SquadAsked) -> Any:
        """The players that may be read, by name in pages, each with the last round and strokes gained in the latest."""
        with reading(engine()) as connection:
            page, headers = page_of(visible_only(players(connection)), query, by_name)
            lines = _lines(connection, page, query["last"])
            notes = latest_notes(connection, [player.player_id for player in page])
        # a note leaves the log as it is: it is no part of a line that is kept
        listed: list[ListedPlayer] = [
            {**line, "last_note": None if line["locked"] else notes.get(line["player_id"])} for line in lines
        ]
        return {"players": listed, "next": next_of(headers)}, headers


def _lines(connection: Connection, page: Sequence[Player], last: int) -> list[ListedPlayer]:
    """The players of a page as they are listed, those who are not kept all at once. A player whose baseline the caller
    may not see has no strokes gained here, and keeps nobody else from being listed."""
    known = frozenset(known_ids())
    marks = dict(log_marks(connection, [player.player_id for player in page]))
    baselines = {one: named_baseline(one) if one in known else None for one in {player.baseline for player in page}}
    keys = {one.player_id: (marks.get(one.player_id), baselines[one.baseline], last) for one in page}
    found = {player_id: cached_lines().get((player_id, *key)) for player_id, key in keys.items()}
    lacking = [player for player in page if found[player.player_id] is None]
    for line in _made(connection, lacking, baselines, last):
        found[line["player_id"]] = line
        cached_lines().put((line["player_id"], *keys[line["player_id"]]), line)
    return [found[player.player_id] for player in page]


def _made(
    connection: Connection, players_: Sequence[Player], baselines: Mapping[str, Baseline | None], last: int
) -> Iterator[ListedPlayer]:
    ids = [player.player_id for player in players_]
    played = rounds_of_players(connection, ids) if ids else {}
    locked = locked_players(connection, ids) if ids else frozenset()
    for baseline_id, baseline in baselines.items():
        mine = [player for player in players_ if player.baseline == baseline_id]
        lacking = f"the baseline {baseline_id!r} is not here" if baseline is None else None
        tallies: dict[str, Tally | None] = {}
        if baseline is not None and mine:
            members = asked_of_many(connection, mine, baseline).members(cached_tallies())
            tallies = {member.player.player_id: member.tally for member in members}
        for player in mine:
            lock = LOCK if player.player_id in locked else None
            own = rounds_of(played[player.player_id])
            yield listed_player(player, own, tallies.get(player.player_id), last, lock=lock, lacking=lacking)


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
