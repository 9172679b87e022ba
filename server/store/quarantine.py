"""The quarantine: changes that could not be taken, kept raw until they are mended and sent again."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import digest
from server.records.validation import Fault, shown
from server.store.engine import reading
from server.store.quotas import PAGE_BYTES, quarantine_bytes
from server.store.rows import QuarantineRow
from server.store.tables import QUARANTINE

_KEPT: Final = sa.select(QUARANTINE.c.quarantine_id).where(
    QUARANTINE.c.player_id == sa.bindparam("of"), QUARANTINE.c.digest == sa.bindparam("print_of")
)
_KEEP: Final = sa.insert(QUARANTINE)


def keep_raw(
    connection: sa.Connection,
    player_id: str,
    device_id: str,
    raw: Any,
    faults: Sequence[Fault],
    received_at: str,
    room: int,
) -> int:
    """Keep one bad change, once however often it is sent. Returns the bytes that it counts, 0 when it was kept before;
    -1 when it has more than `room` bytes and was not kept."""
    print_of = digest(raw)
    if connection.execute(_KEPT, {"of": player_id, "print_of": print_of}).first():
        return 0
    change_id = raw.get("change_id") if isinstance(raw, dict) else None
    row = {
        "player_id": player_id,
        "change_id": _keepable(change_id) if isinstance(change_id, str) else None,
        "raw": json.dumps(raw),
        "digest": print_of,
        "problem": json.dumps([fault.as_dict() for fault in faults]),
        "device_id": device_id,
        "received_at": received_at,
    }
    if (size := quarantine_bytes(row)) > room:
        return -1
    connection.execute(_KEEP, row)
    return size


def _keepable(change_id: str) -> str:
    """An id as any database keeps it, whatever characters it was sent with."""
    return shown(json.dumps(change_id)[1:-1])


_WAITING: Final = sa.select(QUARANTINE.c.change_id).where(
    QUARANTINE.c.player_id == sa.bindparam("of"), QUARANTINE.c.resolved_at.is_(None)
)


def resolve(connection: sa.Connection, player_id: str, change_ids: Sequence[str], now: str) -> None:
    """Mark what was mended: a change of the same id has been taken."""
    open_ones = {row[0] for row in connection.execute(_WAITING, {"of": player_id})}
    mended = open_ones.intersection(change_ids) if open_ones else None
    if mended:
        connection.execute(
            sa.update(QUARANTINE)
            .where(QUARANTINE.c.player_id == player_id, QUARANTINE.c.change_id.in_(mended))
            .values(resolved_at=now)
        )


def waiting(engine: sa.Engine) -> list[tuple[str, str, Any]]:
    """Every open entry of all players as (player, device, raw change), oldest first."""
    query = sa.select(QUARANTINE.c.player_id, QUARANTINE.c.device_id, QUARANTINE.c.raw)
    query = query.where(QUARANTINE.c.resolved_at.is_(None)).order_by(QUARANTINE.c.quarantine_id)
    with reading(engine) as connection:
        return [(row[0], row[1], json.loads(row[2])) for row in connection.execute(query)]


def quarantined(engine: sa.Engine, player_id: str) -> list[QuarantineRow]:
    """What waits to be mended, oldest first."""
    with reading(engine) as connection:
        return [_entry_out(row) for row in connection.execute(_open_entries(player_id)).mappings()]


def quarantine_page(engine: sa.Engine, player_id: str, after: int) -> tuple[list[QuarantineRow], bool]:
    """The same behind a number, as many as a page has bytes, and whether there are more."""
    found: list[QuarantineRow] = []
    size = 0
    query = _open_entries(player_id).where(QUARANTINE.c.quarantine_id > after)
    options = {"stream_results": True, "max_row_buffer": 1}
    with reading(engine) as connection, connection.execute(query, execution_options=options) as rows:
        for row in rows.mappings():
            size += quarantine_bytes(row)
            if found and size > PAGE_BYTES:
                return found, True
            found.append(_entry_out(row))
    return found, False


def _open_entries(player_id: str) -> sa.Select[Any]:
    query = sa.select(QUARANTINE).where(QUARANTINE.c.player_id == player_id, QUARANTINE.c.resolved_at.is_(None))
    return query.order_by(QUARANTINE.c.quarantine_id)


def _entry_out(row: sa.RowMapping) -> QuarantineRow:
    return {
        "quarantine_id": row["quarantine_id"],
        "change_id": row["change_id"],
        "raw": json.loads(row["raw"]),
        "errors": json.loads(row["problem"]),
        "device_id": row["device_id"],
        "received_at": row["received_at"],
    }
