"""Shots record how far they flew.

A newer phone may have sent it to an older server, which kept it in the log as a field that it did not know: it is read
from there.
"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

from server.records.fold import Version, fold

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

FARTHEST_YD = 400
AT_ONCE = 500

STATED = sa.text(
    "SELECT DISTINCT change.record_id FROM change JOIN player ON player.player_id = change.player_id "
    "WHERE change.kind = :kind AND change.body LIKE :mention AND player.erased_at IS NULL"
)
CHANGES = sa.text(
    "SELECT record_id, change_id, parents, op, effective_time, body FROM change WHERE record_id IN :ids"
).bindparams(sa.bindparam("ids", expanding=True))


def upgrade() -> None:
    """Add the column, and fill it where the log already holds its value."""
    op.add_column("shot", sa.Column("carry_yd", sa.Double()))
    connection = op.get_bind()
    ids = sorted(connection.execute(STATED, {"kind": "shot", "mention": '%"carry_yd"%'}).scalars())
    write = sa.text("UPDATE shot SET carry_yd = :value WHERE record_id = :record_id")
    for start in range(0, len(ids), AT_ONCE):
        changes: dict[str, list[Version]] = {}
        for row in connection.execute(CHANGES, {"ids": ids[start : start + AT_ONCE]}).mappings():
            version = Version(
                row["change_id"], tuple(json.loads(row["parents"])), row["op"], row["effective_time"], row["body"]
            )
            changes.setdefault(row["record_id"], []).append(version)
        for record_id, versions in changes.items():
            speaks = fold(versions).speaks
            value = _sound(json.loads(speaks.body).get("carry_yd")) if speaks is not None else None
            if value is not None:
                connection.execute(write, {"value": value, "record_id": record_id})


def _sound(value: Any) -> float | None:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return float(value) if number and 0 < value <= FARTHEST_YD else None
