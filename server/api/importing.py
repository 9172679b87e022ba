"""Importing a shots table over HTTP: a preview first, then every row or none."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, Final, TypedDict
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields

from server.api.answers import Query
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.players import known_player
from server.files.shots_import import import_table
from server.files.shots_rows import TableError, read_table
from server.records.fields import Text
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


class TableSchema(Query):
    """A shots table as CSV. `dry_run` (the default) checks and counts, and stores nothing."""

    table = Text(
        LONGEST_TABLE, 1, required=True, metadata={"description": "CSV with a header, see server/files/README.md"}
    )
    dry_run = fields.Boolean(load_default=True, truthy={True}, falsy={False})


class TableSent(TypedDict):
    """What `TableSchema` reads."""

    table: str
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


class ImportedTable(TypedDict):
    """What was stored, or would be."""

    stored: bool
    rows: int
    changes: int
    kept: Annotated[int, "records that were edited since an import of the same rows, and stay"]
    rounds: list[ImportedRound]
    made: Annotated[list[str], "clubs and courses that the table names and the player does not have"]
    notes: list[str]


def _bounded(words: list[str]) -> list[str]:
    more = len(words) - MOST_NOTES
    return [one[:LONGEST_NOTE] for one in words[:MOST_NOTES]] + ([f"and {more} more"] if more > 0 else [])


def _told(error: TableError) -> InvalidError:
    """The faults of a table: each names row and column, value and range; the rest is counted."""
    found = [
        Fault(f"row {fault.row}, {fault.column}", fault.value, fault.range, fault.message)
        for fault in error.faults[:MOST_FAULTS]
    ]
    more = len(error.faults) - len(found)
    if more > 0:
        found.append(Fault("table", "", "", f"and {more} more"))
    return InvalidError(found or [Fault("table", "", "", str(error))], MOST_FAULTS + 1)


@blueprint.route("/<uuid:player_id>/import")
class Import(MethodView):
    """A shots table of one player."""

    @blueprint.arguments(TableSchema)
    @blueprint.response(200, schema_of(ImportedTable))
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(422, description="Rows that cannot be taken, each named; nothing was stored")
    def post(self, sent: TableSent, player_id: UUID) -> Any:
        """Preview a shots table, or with `dry_run` false store every row or none.

        The rows belong to this player: the column `player` may be missing, and must not name another. The same table
        stored twice changes nothing.
        """
        with reading(engine()) as connection:
            player = known_player(connection, player_id)
        try:
            table = read_table(sent["table"].encode("utf-8"), player.name)
            if len(table.rows) > MOST_ROWS:
                allowed = f"up to {MOST_ROWS} rows"
                raise InvalidError(
                    [Fault("table", f"{len(table.rows)} rows", allowed, "is too long; split it by rounds")]
                )
            done = import_table(engine(), table, dry_run=sent["dry_run"], player_id=player.player_id)
        except TableError as error:
            raise _told(error) from error
        return {
            "stored": not sent["dry_run"],
            "rows": done.rows,
            "changes": done.changes,
            "kept": done.kept,
            "rounds": [asdict(one) | {"played_on": one.played_on.isoformat()} for one in done.played],
            "made": _bounded(done.made),
            "notes": _bounded(done.notes),
        }
