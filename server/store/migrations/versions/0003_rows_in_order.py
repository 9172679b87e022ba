"""On SQLite the log and the shots lie in the order in which they came, and not in trees by random ids.

Their keys stay; rows of 200 bytes and more no longer spread over as many pages as there are rows.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

ORDER = {"change": "player_id, seq", "shot": "player_id, round_id, hole, ball, shot_order"}


def upgrade() -> None:
    """Write both tables anew. No other table refers to them, so dropping the old one takes nothing with it."""
    connection = op.get_bind()
    if connection.dialect.name != "sqlite":
        return
    for table, order in ORDER.items():
        query = sa.text("SELECT type, sql FROM sqlite_master WHERE tbl_name = :table AND sql IS NOT NULL")
        found = connection.execute(query, {"table": table}).all()
        statement = next(sql for kind, sql in found if kind == "table")
        anew = statement.replace(f"CREATE TABLE {table}", f"CREATE TABLE {table}_anew", 1)
        op.execute(anew.replace("WITHOUT ROWID", ""))
        op.execute(f"INSERT INTO {table}_anew SELECT * FROM {table} ORDER BY {order}")
        op.execute(f"DROP TABLE {table}")
        op.execute(f"ALTER TABLE {table}_anew RENAME TO {table}")
        for kind, sql in found:
            if kind == "index":
                op.execute(sql)
