"""Shots say how high they were planned, rounds which ball they are played with.

A newer phone may have sent both to an older server, which kept them in the log as fields that it did not know: they
are read from there.
"""

import json
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from alembic import op

from server.records.fold import Version, fold

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

HEIGHTS = ("low", "normal", "high")
LONGEST_LABEL = 60
AT_ONCE = 500

STATED = sa.text(
    "SELECT DISTINCT change.record_id FROM change JOIN player ON player.player_id = change.player_id "
    "WHERE change.kind = :kind AND change.body LIKE :mention AND player.erased_at IS NULL"
)
CHANGES = sa.text(
    "SELECT record_id, change_id, parents, op, effective_time, body FROM change WHERE record_id IN :ids"
).bindparams(sa.bindparam("ids", expanding=True))


def upgrade() -> None:
    """Add the columns, and fill them where the log already holds their values."""
    op.add_column("shot", sa.Column("planned_height", sa.String(6)))
    op.add_column("round", sa.Column("ball_label", sa.String(LONGEST_LABEL)))
    _fill("shot", "planned_height", lambda value: value in HEIGHTS)
    _fill("round", "ball_label", lambda value: isinstance(value, str) and 0 < len(value) <= LONGEST_LABEL)


def _fill(kind: str, name: str, sound: Callable[[Any], bool]) -> None:
    """Write the field of this name into the rows of the records whose winning version has it."""
    connection = op.get_bind()
    ids = sorted(connection.execute(STATED, {"kind": kind, "mention": f'%"{name}"%'}).scalars())
    write = sa.text(f'UPDATE "{kind}" SET {name} = :value WHERE record_id = :record_id')
    for start in range(0, len(ids), AT_ONCE):
        changes: dict[str, list[Version]] = {}
        for row in connection.execute(CHANGES, {"ids": ids[start : start + AT_ONCE]}).mappings():
            version = Version(
                row["change_id"], tuple(json.loads(row["parents"])), row["op"], row["effective_time"], row["body"]
            )
            changes.setdefault(row["record_id"], []).append(version)
        for record_id, versions in changes.items():
            speaks = fold(versions).speaks
            value = json.loads(speaks.body).get(name) if speaks is not None else None
            if sound(value):
                connection.execute(write, {"value": value, "record_id": record_id})
