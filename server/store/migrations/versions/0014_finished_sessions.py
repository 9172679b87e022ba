"""A practice session says whether the player finished it.

Phones have sent `closed` since there were sessions; the log kept it as a field that it did not know, and it is read
from there.
"""

import json

import sqlalchemy as sa
from alembic import op

from server.records.fold import Version, fold

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

AT_ONCE = 500

STATED = sa.text(
    "SELECT DISTINCT change.record_id FROM change JOIN player ON player.player_id = change.player_id "
    "WHERE change.kind = :kind AND change.body LIKE :closed AND player.erased_at IS NULL"
)
CHANGES = sa.text(
    "SELECT record_id, change_id, parents, op, effective_time, body FROM change WHERE record_id IN :ids"
).bindparams(sa.bindparam("ids", expanding=True))
WRITE = sa.text("UPDATE practice_session SET closed = :closed WHERE record_id = :record_id")


def upgrade() -> None:
    """Add the column, and fill it where the log already holds its value."""
    op.add_column("practice_session", sa.Column("closed", sa.Boolean(), nullable=False, server_default=sa.false()))
    connection = op.get_bind()
    ids = sorted(connection.execute(STATED, {"kind": "session", "closed": '%"closed"%'}).scalars())
    for start in range(0, len(ids), AT_ONCE):
        changes: dict[str, list[Version]] = {}
        for row in connection.execute(CHANGES, {"ids": ids[start : start + AT_ONCE]}).mappings():
            version = Version(
                row["change_id"], tuple(json.loads(row["parents"])), row["op"], row["effective_time"], row["body"]
            )
            changes.setdefault(row["record_id"], []).append(version)
        for record_id, versions in changes.items():
            speaks = fold(versions).speaks
            if speaks is not None and json.loads(speaks.body or "{}").get("closed") is True:
                connection.execute(WRITE, {"closed": True, "record_id": record_id})
