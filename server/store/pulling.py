"""Handing out the change log, a page at a time: so many changes and so many bytes, whichever ends first."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from server.store.cursors import cursor_at, sequence_of
from server.store.engine import reading
from server.store.log import ErasedError
from server.store.quotas import PAGE_BYTES, change_bytes
from server.store.rows import ChangeRow
from server.store.tables import CHANGE, PLAYER

DEFAULT_PAGE: Final = 500
LARGEST_PAGE: Final = 5000
ROWS_AT_ONCE: Final = 20
"""Rows that the database hands over ahead of what is needed."""


@dataclass(frozen=True)
class Page:
    """One page of the log, in the order of its numbers. `reset`: the cursor does not match this log."""

    changes: list[ChangeRow]
    cursor: str | None
    more: bool
    reset: bool


def pull(engine: sa.Engine, player_id: str, after: str | None, limit: int = DEFAULT_PAGE) -> Page | None:
    """The changes after a cursor, oldest first; None for a player that the log does not know. ErasedError for one who
    was erased.

    `after`: a cursor as the last page gave it (`server.store.cursors`), or None for the start. A cursor that does not
    match this log (a backup was restored, or it is another player's) gives `reset`: pull from the start and push again.
    """
    with reading(engine) as connection:
        player = connection.execute(sa.select(PLAYER.c.erased_at).where(PLAYER.c.player_id == player_id)).first()
        if player is None:
            return None
        if player.erased_at is not None:
            raise ErasedError(player_id)
        start = sequence_of(connection, player_id, after)
        if start is None:
            return Page([], None, False, True)
        taken, more = _rows(connection, player_id, start, limit)
    cursor = cursor_at(taken[-1]) if taken else after
    return Page([change_out(row) for row in taken], cursor, more, False)


def _rows(connection: sa.Connection, player_id: str, start: int, limit: int) -> tuple[list[Any], bool]:
    """The rows of the page behind a number, and whether there are more. No row beyond the page's bytes is kept."""
    query = sa.select(CHANGE).where(CHANGE.c.player_id == player_id, CHANGE.c.seq > start)
    query = query.order_by(CHANGE.c.seq).limit(limit + 1)
    taken: list[Any] = []
    size = 0
    options = {"stream_results": True, "max_row_buffer": ROWS_AT_ONCE}
    with connection.execute(query, execution_options=options) as found:
        for row in found.mappings():
            size += change_bytes(row)
            if len(taken) == limit or (taken and size > PAGE_BYTES):
                return taken, True
            taken.append(row)
    return taken, False


def change_out(row: Any) -> ChangeRow:
    """A change without what the store keeps for itself."""
    return {
        "seq": row["seq"],
        "change_id": row["change_id"],
        "record_id": row["record_id"],
        "kind": row["kind"],
        "parents": json.loads(row["parents"]),
        "op": row["op"],
        "body": None if row["body"] is None else json.loads(row["body"]),
        "device_id": row["device_id"],
        "client_time": row["client_time"],
        "effective_time": row["effective_time"],
        "received_at": row["received_at"],
        "schema_version": row["schema_version"],
    }
