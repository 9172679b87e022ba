"""Importing a shots table over HTTP: a preview first, then every row or none."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import asdict
from typing import Annotated, Any, Final, NotRequired, TypedDict
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields

from server.api.answers import Query
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.players import known_player
from server.files.decimal_marks import DECIMALS
from server.files.practice_import import ImportedPractice, import_practice
from server.files.practice_table import read_practice
from server.files.sheet_texts import SEPARATORS
from server.files.shots_import import import_table
from server.files.shots_rounds import Imported
from server.files.shots_rows import read_table
from server.files.spreadsheets import Reading
from server.files.table_days import FORMATS
from server.files.table_faults import TableError
from server.game.practice import PLACES
from server.game.units import UNITS
from server.records.fields import Choice, Text
from server.records.fields import Day as DayField
from server.records.typed_schemas import Day, schema_of
from server.records.validation import Fault, InvalidError
from server.store.engine import reading

blueprint = Blueprint("importing", "importing", url_prefix="/api/players", description="Importing a shots table")
blueprint.ARGUMENTS_PARSER = StrictParser()

LONGEST_TABLE: Final = 3_000_000
"""Characters of one table: about 30,000 shots, and below the size of a request."""
MOST_ROWS: Final = 30_000
"""They are stored in one transaction, for which every other writer waits: a second at the most."""

MOST_FAULTS: Final = 100
MOST_NOTES: Final = 100
LONGEST_NOTE: Final = 300


LARGEST_FILE: Final = 2_900_000
"""Bytes of one file: with base64 below the size of a request."""
LARGEST_SHEET: Final = 60_000_000
"""Bytes of a sheet when it is unpacked: twice what `MOST_ROWS` shots take."""
LONGEST_SHEET: Final = 31
"""Characters of the name of a sheet."""


class TableSchema(Query):
    """A shots table: its words as `table`, or the bytes of its file as `content`. What the file does not say itself may
    be chosen. `dry_run` (the default) checks and counts, and stores nothing."""

    table = Text(LONGEST_TABLE, 1, metadata={"description": "CSV with a header, see server/files/README.md"})
    content = Text(
        4 * (LARGEST_FILE // 3 + 1), 1, metadata={"description": "the bytes of a CSV or an XLSX, in base64 (RFC 4648)"}
    )
    separator = Choice(tuple(SEPARATORS), metadata={"description": "between cells; left out: by the header"})
    decimal = Choice(tuple(DECIMALS), metadata={"description": "decimal mark; left out: by the number cells"})
    date_format = Choice(tuple(FORMATS), metadata={"description": "how days are written besides YYYY-MM-DD"})
    sheet = Text(LONGEST_SHEET, 1, metadata={"description": "the sheet of a workbook with several"})
    dry_run = fields.Boolean(load_default=True, truthy={True}, falsy={False})


class TableSent(TypedDict):
    """What `TableSchema` reads."""

    table: NotRequired[str]
    content: NotRequired[str]
    separator: NotRequired[str]
    decimal: NotRequired[str]
    date_format: NotRequired[str]
    sheet: NotRequired[str]
    dry_run: bool


class ImportedRound(TypedDict):
    """A round of the table."""

    row: Annotated[int, "the row with which it begins"]
    played_on: Day
    kind: str
    course: str | None
    tees: str | None
    holes: int
    shots: int


class ImportedRecords(TypedDict):
    """What was stored of a table, or would be."""

    stored: bool
    taken: Annotated[str, "how the file was read, in words: make, character set, separator, decimal mark"]
    rows: int
    changes: int
    kept: Annotated[int, "records that were edited since an import of the same rows, and stay"]
    made: Annotated[list[str], "clubs, and courses of rounds, that the table names and the player does not have"]
    notes: list[str]


class ImportedTable(ImportedRecords):
    """What was stored of rounds, or would be."""

    rounds: list[ImportedRound]


def bounded(words: list[str]) -> list[str]:
    """At most so many notes, each cut to a length; the last counts the rest."""
    more = len(words) - MOST_NOTES
    return [one[:LONGEST_NOTE] for one in words[:MOST_NOTES]] + ([f"and {more} more"] if more > 0 else [])


def faults_of(error: TableError) -> InvalidError:
    """The faults of a table: each names row and column, value and range; equal ones are counted, the rest too."""
    groups = error.counts.groups()
    found = [
        Fault(
            f"row {one.first.row}, {one.first.column}",
            one.first.value,
            one.first.range,
            "; ".join(filter(None, (one.first.kind, one.first.message, one.more))),
        )
        for one in groups[:MOST_FAULTS]
    ]
    more = sum(one.count for one in groups[MOST_FAULTS:]) + error.counts.beyond
    if more:
        found.append(Fault("table", "", "", f"and {more} more"))
    return InvalidError(
        found or [Fault(error.option.replace("-", "_") or "table", "", "", str(error))], MOST_FAULTS + 1
    )


def _content(sent: Mapping[str, Any]) -> bytes:
    """The bytes of the table. InvalidError unless exactly one of `table` and `content` holds it."""
    words, encoded = sent.get("table"), sent.get("content")
    if (words is None) == (encoded is None):
        raise InvalidError([Fault("table", "", "", "give either table, the words of a CSV, or content, its bytes")])
    if encoded is None:
        return str(words).encode("utf-8")
    try:
        content = base64.b64decode(encoded, validate=True)
    except ValueError as error:
        raise InvalidError([Fault("content", "", "base64 (RFC 4648)", "is not base64")]) from error
    if len(content) > LARGEST_FILE:
        allowed = f"up to {LARGEST_FILE} bytes"
        raise InvalidError([Fault("content", f"{len(content)} bytes", allowed, "is too long; split it")])
    return content


def _reading(sent: Mapping[str, Any]) -> Reading:
    return Reading(
        sent.get("separator"), sent.get("decimal"), sent.get("date_format"), sent.get("sheet"), LARGEST_SHEET
    )


def _stored(done: Imported | ImportedPractice, taken: str, *, dry_run: bool) -> dict[str, Any]:
    return {
        "stored": not dry_run,
        "taken": taken,
        "rows": done.rows,
        "changes": done.changes,
        "kept": done.kept,
        "made": bounded(done.made),
        "notes": bounded(done.notes),
    }


@blueprint.route("/<uuid:player_id>/import")
class Import(MethodView):
    """A shots table of one player."""

    @blueprint.arguments(TableSchema)
    @blueprint.response(200, schema_of(ImportedTable))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(422, description="Rows that cannot be read, each named; nothing was stored")
    def post(self, sent: TableSent, player_id: UUID) -> Any:
        """Preview a shots table, or with `dry_run` false store every row or none.

        The rows belong to this player: the column `player` may be missing, and must not name another. The same table
        stored twice changes nothing.
        """
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
        try:
            table = read_table(_content(sent), player.name, _reading(sent))
            if len(table.rows) > MOST_ROWS:
                allowed = f"up to {MOST_ROWS} rows"
                raise InvalidError(
                    [Fault("table", f"{len(table.rows)} rows", allowed, "is too long; split it by rounds")]
                )
            done = import_table(engine(), table, dry_run=sent["dry_run"], player_id=player.player_id)
        except TableError as error:
            raise faults_of(error) from error
        rounds = [asdict(one) | {"played_on": one.played_on.isoformat()} for one in done.played]
        return _stored(done, done.taken, dry_run=sent["dry_run"]) | {"rounds": rounds}


class PracticeTableSchema(TableSchema):
    """A table of practice balls; `date`, `place` and `units` of rows that say none themselves."""

    file = Text(120, 1, allow_none=True, load_default=None, metadata={"description": "the name of the table"})
    date = DayField(allow_none=True, load_default=None)
    place = Choice(PLACES, allow_none=True, load_default=None)
    units = Choice(UNITS, allow_none=True, load_default=None)


class ImportedSessionSeen(TypedDict):
    """A practice session of the table."""

    row: Annotated[int, "the row with which it begins"]
    date: Day
    place: str
    balls: int
    clubs: int


class ImportedPracticeTable(ImportedRecords):
    """What was stored of practice, or would be."""

    sessions: list[ImportedSessionSeen]


@blueprint.route("/<uuid:player_id>/import-practice")
class ImportPractice(MethodView):
    """A table of practice balls of one player."""

    @blueprint.arguments(PracticeTableSchema)
    @blueprint.response(200, schema_of(ImportedPracticeTable))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(422, description="Rows that cannot be read, each named; nothing was stored")
    def post(self, sent: dict[str, Any], player_id: UUID) -> Any:
        """Preview a table of practice balls, or with `dry_run` false store every ball or none. The same table stored
        twice adds nothing."""
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
        try:
            of_rows = {"day": sent["date"], "place": sent["place"], "unit": sent["units"]}
            table = read_practice(_content(sent), reading=_reading(sent), **of_rows)
            done = import_practice(engine(), table, player.player_id, file=sent["file"], dry_run=sent["dry_run"])
        except TableError as error:
            raise faults_of(error) from error
        found = [asdict(one) | {"date": one.date.isoformat()} for one in done.sessions]
        return _stored(done, table.taken, dry_run=sent["dry_run"]) | {"sessions": found}
