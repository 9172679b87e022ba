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
from server.records.fold import PUT, Version, fold
from server.records.json_types import RecordBody
from server.records.new_shots import NewShots
from server.records.validation import load_stored
from server.store.engine import NewRow, insert_rows
from server.store.places import select_changes
from server.store.tables import CHANGE, KIND_TABLES, ROUND_HOLE

Typed = Mapping[str, RecordBody]
"""Typed fields of puts that were just validated, by change id: they need not be parsed again."""

_CHUNK: Final = 500

FOLD_COLUMNS: Final = (
    *(CHANGE.c[name] for name in ("record_id", "player_id", "kind", "change_id", "parents", "op", "effective_time")),
    sa.null().label("body"),
)
"""What the fold needs of a change, and no body."""

KEPT_WHEN_DELETED: Final = frozenset({"round", "club", "session"})
"""Kinds whose row stays, marked deleted, with its last body: shots that the deleting device had not seen still need
the holes of their round, practice balls the day of their session, and past shots the label of their club."""


def rederive(
    connection: sa.Connection, player_id: str, new_rows: Sequence[Any], known: Collection[str], typed: Typed
) -> None:
    """Write anew the rows of the records that `new_rows` of the change log speak of; see `rederived`."""
    for ids, kinds, rows in rederived(connection, player_id, new_rows, known, typed):
        remove(connection, ids, kinds)
        write(connection, rows)


def rederived(
    connection: sa.Connection, player_id: str, new_rows: Sequence[Any], known: Collection[str], typed: Typed
) -> Iterator[tuple[list[str], set[str], Iterator[tuple[sa.Table, NewRow]]]]:
    """What becomes of the records that `new_rows` speak of, whether the log holds those already or not: records whose
    rows go, of which kinds, and the rows that come.

    `known`: the records among them that the log spoke of before; all their changes are read again, without their
    bodies: a record that was edited often has as many of them, and only that of the head is needed.
    """
    fresh = [row for row in new_rows if row["record_id"] not in known]
    yield [], set(), derived(player_id, fresh, typed)
    again: dict[str, list[Any]] = defaultdict(list)
    for row in new_rows:
        if row["record_id"] in known:
            again[row["record_id"]].append(row)
    ids = sorted(again)
    for start in range(0, len(ids), _CHUNK):
        part = ids[start : start + _CHUNK]
        query = sa.select(*FOLD_COLUMNS).where(CHANGE.c.record_id.in_(part), CHANGE.c.player_id == player_id)
        stated = {row["change_id"]: row for row in connection.execute(query).mappings()}
        stated |= {row["change_id"]: row for record_id in part for row in again[record_id]}
        heads = _speakers(stated.values())
        unread = [head["change_id"] for _, _, head, _ in heads if head["change_id"] not in typed]
        columns = (CHANGE.c.change_id, CHANGE.c.body)
        found = select_changes(connection, columns, CHANGE.c.change_id, unread) if unread else []
        bodies = {row.change_id: row.body for row in found}
        yield part, {row["kind"] for row in stated.values()}, _rows_of(player_id, heads, typed, bodies)


def remove(
    connection: sa.Connection, record_ids: Collection[str], kinds: Collection[str], of: str | None = None
) -> None:
    """Take the rows of these records out of the tables of these kinds (the holes of a round go with it). `of`: their
    player, by whom they are looked for while the index by their ids is away."""
    for kind in kinds:
        table = KIND_TABLES[kind]
        gone = sa.delete(table).where(table.c.record_id.in_(record_ids))
        connection.execute(gone if of is None else gone.where(table.c.player_id == of))


def derived(player_id: str, rows: Collection[Any], typed: Typed) -> Iterator[tuple[sa.Table, NewRow]]:
    """The rows of all tables that follow from the changes of some records, as (table, row)."""
    heads = _speakers(rows)
    unread = (head for _, _, head, _ in heads if head["change_id"] not in typed)
    return _rows_of(player_id, heads, typed, {head["change_id"]: head["body"] for head in unread})


def _speakers(rows: Collection[Any]) -> list[tuple[str, str, Any, bool]]:
    """Of the changes of some records: record, kind, the put whose body fills its row, and whether it is deleted."""
    if len({row["record_id"] for row in rows}) == len(rows) and all(row["op"] == PUT for row in rows):
        return [(row["record_id"], row["kind"], row, False) for row in rows]
    records: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for row in rows:
        records[row["record_id"], row["kind"]].append(row)
    found = ((*key, *_winning(key[1], stated)) for key, stated in records.items())
    return [one for one in found if one[2] is not None]


def _rows_of(
    player_id: str, heads: Sequence[tuple[str, str, Any, bool]], typed: Typed, bodies: Mapping[str, str]
) -> Iterator[tuple[sa.Table, NewRow]]:
    """The rows of all tables of records whose heads are known. `bodies`: those of heads that are not in `typed`."""
    for record_id, kind, head, deleted in heads:
        fields = typed.get(head["change_id"]) or load_stored(kind, json.loads(bodies[head["change_id"]]))
        made = _columns(kind, fields)
        made["record_id"], made["player_id"] = record_id, player_id
        if kind in KEPT_WHEN_DELETED:
            made["deleted"] = deleted
        yield KIND_TABLES[kind], made
        if kind == "round":
            for hole in fields["holes"]:
                values = {name: hole[name] for name in ("number", "par", "length_yd")}
                yield ROUND_HOLE, values | {"record_id": record_id}


def shot_columns(player_id: str, shots: NewShots) -> dict[str, Sequence[Any]]:
    """The columns of new shots, which nothing is held of: the table's, and the fields under their own names."""
    columns: dict[str, Sequence[Any]] = dict(shots.typed)
    nowhere = [None] * len(shots)
    columns |= dict.fromkeys(("lon", "lat", "accuracy_m"), nowhere)
    if any(columns["position"]):
        places = [(*(place or ()), None, None, None)[:3] for place in columns["position"]]
        columns["lon"], columns["lat"], columns["accuracy_m"] = zip(*places, strict=True)
    columns["shot_order"] = columns["order"]
    return columns | {"record_id": shots.record_ids, "player_id": [player_id] * len(shots)}


def version_of(row: Any) -> Version:
    """What the fold needs of a row of the log; the body stays text."""
    parents = () if row["parents"] == "[]" else tuple(json.loads(row["parents"]))
    return Version(row["change_id"], parents, row["op"], row["effective_time"], row["body"])


def _winning(kind: str, rows: list[Any]) -> tuple[Any, bool]:
    """Of the changes of one record the put whose body fills its row (None when there is none), and whether the record
    is deleted."""
    if len(rows) == 1 and rows[0]["op"] == PUT:
        return rows[0], False
    folded = fold(map(version_of, rows))
    if folded.speaks is None or (folded.deleted and kind not in KEPT_WHEN_DELETED):
        return None, folded.deleted
    return next(row for row in rows if row["change_id"] == folded.speaks.change_id), folded.deleted


def _columns(kind: str, fields: RecordBody) -> dict[str, object]:
    """The columns of a kind's table out of its typed fields, and what else those hold."""
    row: dict[str, object] = {**fields}
    if kind == "shot":
        row["shot_order"] = fields["order"]
        place = fields["position"] or ()
        row["lon"], row["lat"], row["accuracy_m"] = (*place, None, None, None)[:3]
    elif kind == "practice_ball":
        row["ball_order"] = fields["order"]
    elif kind == "round":
        row["bag"] = json.dumps(fields["bag"])
        row["closings"] = None if fields["closings"] is None else canonical(_times(fields["closings"]))
        row["hole_conditions"] = _of_holes(fields["hole_conditions"])
    elif kind == "course":
        row["tees"] = canonical(fields["tees"])
    elif kind == "hole_map":
        row["features"] = canonical(fields["features"])
    return row


def _times(closings: Sequence[RecordBody]) -> list[RecordBody]:
    return [{name: one[name] for name in ("closed_at", "reopened_at")} for one in closings]


def _of_holes(conditions: Sequence[RecordBody] | None) -> str | None:
    """What is recorded of holes, as the text of a column; without what a newer device may have added to it."""
    names = ("hole", "wind", "wind_from_deg", "pin_depth", "pin_side")
    recorded = [{name: one[name] for name in names if one[name] is not None} for one in conditions or ()]
    kept = [one for one in recorded if len(one) > 1]
    return canonical(kept) if kept else None


def write(connection: sa.Connection, rows: Iterator[tuple[sa.Table, NewRow]]) -> None:
    """Insert derived rows, a statement a table; owners before what hangs on them."""
    batches: dict[sa.Table, list[NewRow]] = {table: [] for table in (*KIND_TABLES.values(), ROUND_HOLE)}
    for table, row in rows:
        batches[table].append(row)
    for table, batch in batches.items():
        insert_rows(connection, table, batch)
