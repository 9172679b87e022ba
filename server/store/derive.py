"""Deriving the typed records from the change log: fold the changes of a record, write its row.

A record can always be derived again from the log; nothing here is a second truth.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import canonical
from server.records.fold import PUT, Folded, Version, fold
from server.records.validation import load
from server.store.engine import insert_rows
from server.store.tables import CHANGE, KIND_TABLES, RECORD, ROUND_HOLE

Typed = Mapping[str, dict[str, Any]]
"""Typed fields of puts that were just validated, by change id: they need not be parsed again."""

_CHUNK: Final = 500

KEPT_WHEN_DELETED: Final = frozenset({"round", "club"})
"""Kinds whose row stays, marked deleted, with its last body: shots that the deleting device had not seen still need
the holes of their round, and past shots the label of their club."""


def rederive(
    connection: sa.Connection, player_id: str, new_rows: Sequence[Any], known: Collection[str], typed: Typed
) -> None:
    """Write anew the rows of the records that `new_rows` of the change log speak of.

    `known`: the records among them that the log spoke of before; all their changes are read again.
    """
    fresh = [row for row in new_rows if row["record_id"] not in known]
    write(connection, derived(player_id, fresh, typed))
    ids = sorted({row["record_id"] for row in new_rows} & set(known))
    for start in range(0, len(ids), _CHUNK):
        part = ids[start : start + _CHUNK]
        connection.execute(sa.delete(RECORD).where(RECORD.c.record_id.in_(part)))
        query = sa.select(CHANGE).where(CHANGE.c.record_id.in_(part), CHANGE.c.player_id == player_id)
        write(connection, derived(player_id, connection.execute(query).mappings().all(), typed))


def derived(player_id: str, rows: Collection[Any], typed: Typed) -> Iterator[tuple[sa.Table, dict[str, Any]]]:
    """The rows of all tables that follow from the changes of some records, as (table, row)."""
    versions: dict[tuple[str, str], list[Version]] = defaultdict(list)
    for row in rows:
        parents = () if row["parents"] == "[]" else tuple(json.loads(row["parents"]))
        version = Version(row["change_id"], parents, row["op"], row["effective_time"], row["body"])
        versions[row["record_id"], row["kind"]].append(version)
    for (record_id, kind), changes in versions.items():
        yield from _rows_of(player_id, record_id, kind, changes, typed)


def _rows_of(
    player_id: str, record_id: str, kind: str, changes: list[Version], typed: Typed
) -> Iterator[tuple[sa.Table, dict[str, Any]]]:
    folded = fold(changes)
    yield (
        RECORD,
        {
            "record_id": record_id,
            "player_id": player_id,
            "kind": kind,
            "head": folded.head.change_id,
            "deleted": folded.deleted,
            "leaves": len(folded.leaves),
        },
    )
    speaking = _speaking(kind, folded, changes)
    if speaking is None:
        return
    fields = typed.get(speaking.change_id) or load(kind, json.loads(speaking.body))
    row = _columns(kind, fields)
    row["record_id"], row["player_id"] = record_id, player_id
    if kind in KEPT_WHEN_DELETED:
        row["deleted"] = folded.deleted
    yield KIND_TABLES[kind], row
    if kind == "round":
        for hole in fields["holes"]:
            values = {name: hole[name] for name in ("number", "par", "length_yd")}
            yield ROUND_HOLE, values | {"record_id": record_id}


def _speaking(kind: str, folded: Folded, changes: list[Version]) -> Version | None:
    """The put whose body fills the row; None when there is none."""
    if not folded.deleted:
        return folded.head
    puts = [change for change in changes if change.op == PUT]
    if kind not in KEPT_WHEN_DELETED or not puts:
        return None
    return max(puts, key=lambda change: (change.effective_time, change.change_id))


def _columns(kind: str, fields: dict[str, Any]) -> dict[str, Any]:
    """The columns of a kind's table out of its typed fields, and what else those hold."""
    row = fields.copy()
    if kind == "shot":
        place: list[float | None] = fields["position"] or []
        lon, lat, accuracy = (place + [None] * 3)[:3]
        row |= {"shot_order": fields["order"], "lon": lon, "lat": lat, "accuracy_m": accuracy}
    elif kind == "round":
        row["bag"] = json.dumps(fields["bag"])
    elif kind == "course":
        row["tees"] = canonical(fields["tees"])
    elif kind == "hole_map":
        row["features"] = canonical(fields["features"])
    return row


def write(connection: sa.Connection, rows: Iterator[tuple[sa.Table, dict[str, Any]]]) -> None:
    """Insert derived rows, a statement a table; owners before what hangs on them."""
    batches: dict[sa.Table, list[dict[str, Any]]] = {table: [] for table in (RECORD, *KIND_TABLES.values(), ROUND_HOLE)}
    for table, row in rows:
        batches[table].append(row)
    for table, batch in batches.items():
        insert_rows(connection, table, batch)
