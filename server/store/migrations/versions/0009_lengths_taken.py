"""Rounds record how their lengths were taken.

A newer phone may have sent it to an older server, which kept it in the log as a field that it did not know: it is read
from there.
"""

import json

import sqlalchemy as sa
from alembic import op

from server.records.fold import Version, fold

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

WORDS = ("paced", "laser", "guessed", "position", "map")
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
    op.add_column("round", sa.Column("lengths_taken", sa.String(8)))
    connection = op.get_bind()
    ids = sorted(connection.execute(STATED, {"kind": "round", "mention": '%"lengths_taken"%'}).scalars())
    write = sa.text('UPDATE "round" SET lengths_taken = :value WHERE record_id = :record_id')
    for start in range(0, len(ids), AT_ONCE):
        changes: dict[str, list[Version]] = {}
        for row in connection.execute(CHANGES, {"ids": ids[start : start + AT_ONCE]}).mappings():
            version = Version(
                row["change_id"], tuple(json.loads(row["parents"])), row["op"], row["effective_time"], row["body"]
            )
            changes.setdefault(row["record_id"], []).append(version)
        for record_id, versions in changes.items():
            speaks = fold(versions).speaks
            value = json.loads(speaks.body).get("lengths_taken") if speaks is not None else None
            if value in WORDS:
                connection.execute(write, {"value": value, "record_id": record_id})
