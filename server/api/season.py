"""Season tables: CSV, Parquet and XLSX in a stream, and the descriptor of the package."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any, Final, NotRequired, TypedDict
from uuid import UUID

import pyarrow
import xlsxwriter
from flask import Response, abort, request
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields

from server import VERSION
from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE, Baseline
from server.api.answers import Query
from server.api.authorization import caller
from server.api.baselines import known_ids, named_baseline
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.players import known_player
from server.api.problems import Problem
from server.files.season_tables.descriptor import DESCRIPTOR, DataPackage, descriptor
from server.files.season_tables.dictionary import tables
from server.files.season_tables.parquet_writer import FileFacts
from server.files.season_tables.seasons import Season, open_season
from server.files.season_tables.writing import CSV, MEDIA_TYPES, table_pieces
from server.files.season_tables.xlsx_writer import TooManyRowsError
from server.questions.baseline_versions import versioned_baseline
from server.questions.competition_lock import refuse_locked
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError
from server.store.engine import reading

blueprint = Blueprint("season", "season", url_prefix="/api/season", description="Season tables for programs")
blueprint.ARGUMENTS_PARSER = StrictParser()

YEARS: Final = (1900, 2200)


class Stream(Response):
    """An answer that is sent as it is made: never gathered to be measured, and without a length."""

    automatically_set_content_length = False
    implicit_sequence_conversion = False


class SeasonQuery(Query):
    """Whose season, measured against which baseline."""

    player = fields.UUID(metadata={"range": "a player's id", "description": "one player; default: all"})
    baseline = Text(
        120,
        1,
        load_default=DEFAULT_BASELINE,
        metadata={"description": "ID, or ID@VERSION: refused when the version here is another"},
    )


class SeasonAsked(TypedDict):
    """What `SeasonQuery` reads."""

    player: NotRequired[UUID]
    baseline: str


def asked_season(stack: ExitStack, year: int, query: SeasonAsked) -> Season:
    """The season on a connection that lives as long as `stack`. 404 and 422 for what cannot be answered."""
    if not YEARS[0] <= year <= YEARS[1]:
        raise InvalidError([Fault("year", str(year), f"{YEARS[0]} to {YEARS[1]}", "is outside its range")])
    connection = stack.enter_context(reading(engine()))
    allowed = caller().readable
    player: UUID | None = query.get("player")
    if player is not None:
        if allowed is not None and str(player) not in allowed:
            abort(404, description=f"There is no player {player} here.")
        allowed = {known_player(connection, player).player_id}
    season = open_season(connection, year, _baseline(query["baseline"]), allowed, with_squads=False)
    if not season.players:
        abort(404, description=f"There are no rounds in {year}.")
    return season


def _baseline(asked: str) -> Baseline:
    try:
        return versioned_baseline(asked, known_ids(), named_baseline)
    except LookupError as error:
        abort(404, description=str(error.args[0]))


def _tag(season: Season, *what: str) -> str:
    """A strong ETag: the same as long as the logs, the baseline and the tool are."""
    baseline = season.baseline
    rows = {lie: [distance.tolist(), value.tolist()] for lie, (distance, value) in baseline.about.rows.items()}
    made_by = [VERSION, pyarrow.__version__, xlsxwriter.__version__]
    stated = [*what, season.year, season.marks(), baseline.id, baseline.version, rows, made_by]
    return hashlib.sha256(json.dumps(stated).encode()).hexdigest()[:32]


@blueprint.route(f"/<int:year>/{DESCRIPTOR}")
class SeasonPackage(MethodView):
    """The descriptor of a season."""

    @blueprint.arguments(SeasonQuery, location="query")
    @blueprint.response(200, schema_of(DataPackage))
    @blueprint.alt_response(404, description="No such season, player or baseline")
    def get(self, query: SeasonAsked, year: int) -> Any:
        """The tables of a season as a Data Package: fields, units, meanings, sources, baseline."""
        with ExitStack() as stack:
            season = asked_season(stack, year, query)
            stated = f"?{request.query_string.decode()}" if request.query_string else ""
            files: list[tuple[str, str, str, FileFacts]] = [
                (name, CSV, f"{request.root_url}api/season/{year}/{name}.{CSV}{stated}", {}) for name in tables()
            ]
            return descriptor(season, files)


@blueprint.route("/<int:year>/<string:table>.<string:format_>")
class SeasonTable(MethodView):
    """One table of a season."""

    @blueprint.arguments(SeasonQuery, location="query")
    @blueprint.doc(
        responses={
            "200": {
                "description": "The table",
                "content": {kind.split(";", maxsplit=1)[0]: {} for kind in MEDIA_TYPES.values()},
            },
            "304": {"description": "Not changed"},
        }
    )
    @blueprint.alt_response(404, description="No such season, table, format, player or baseline")
    @blueprint.alt_response(
        422, schema=schema_of(Problem), description="A year out of range, or too many rows for a sheet"
    )
    @blueprint.alt_response(423, description="A competition round of one of the players is open (rule 4.3a)")
    def get(self, query: SeasonAsked, year: int, table: str, format_: str) -> Any:
        """A table as csv, parquet or xlsx: shots, holes, rounds, clubs, setups, club_summary, category_summary,
        practice_sessions, practice_balls, players, courses, course_effects, squad_ranks, hole_effects."""
        if table not in tables() or format_ not in MEDIA_TYPES:
            there = f"{', '.join(tables())}, each as {', '.join(MEDIA_TYPES)}"
            abort(404, description=f"There is no table {table}.{format_}; there is {there}.")
        with ExitStack() as stack:
            season = asked_season(stack, year, query)
            if tables()[table].holds_strokes_gained:
                refuse_locked(season.connection, season.players)
            response = Stream(iter(()), content_type=MEDIA_TYPES[format_])
            response.headers["Content-Disposition"] = f'attachment; filename="{table}_{year}.{format_}"'
            response.set_etag(_tag(season, table, format_))
            response.make_conditional(request)
            if response.status_code == 200 and request.method == "GET":
                response.response = _begun(table_pieces(season, table, format_))
                # the connection lives until the last piece is sent, or nobody waits for it any more
                response.call_on_close(stack.pop_all().close)
            return response


def _begun(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The same pieces, the first one made at once: what goes wrong before it is still reported as a problem."""
    try:
        first = next(pieces)
    except TooManyRowsError as error:
        abort(422, description=f"This season does not fit: {error}.")
    return _joined(first, pieces)


def _joined(first: bytes, rest: Iterator[bytes]) -> Iterator[bytes]:
    yield first
    yield from rest
