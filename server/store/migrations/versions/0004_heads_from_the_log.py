"""Heads and owners of records are read from the log itself: the table that repeated them goes.

The tables of the kinds referred to it. PostgreSQL drops such references with the table; SQLite writes the tables anew.
"""

import re

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

KINDS = ("player_record", "club", "setup", "course", "hole_map", "round", "shot")
REFERENCE = re.compile(r",\s*FOREIGN KEY\s*\(record_id\) REFERENCES record \(record_id\) ON DELETE CASCADE")


def upgrade() -> None:
    """Write the tables without the reference, then drop what they referred to."""
    if op.get_bind().dialect.name != "sqlite":
        op.execute("DROP TABLE record CASCADE")
        return
    # The holes refer to their round and would go with the old table of rounds: they step aside meanwhile.
    holes = _statements("round_hole")
    op.execute("CREATE TEMP TABLE holes_aside AS SELECT * FROM round_hole")
    op.execute("DROP TABLE round_hole")
    for table in KINDS:
        first, *indexes = _statements(table)
        named = re.sub(rf'CREATE TABLE "?{table}"?', f"CREATE TABLE {table}_anew", first, count=1)
        anew, times = REFERENCE.subn("", named)
        if times != 1:
            raise RuntimeError(f"the table {table} is not as the steps before this one make it")
        op.execute(anew)
        op.execute(f"INSERT INTO {table}_anew SELECT * FROM {table}")
        op.execute(f"DROP TABLE {table}")
        op.execute(f"ALTER TABLE {table}_anew RENAME TO {table}")
        for statement in indexes:
            op.execute(statement)
    for statement in holes:
        op.execute(statement)
    op.execute("INSERT INTO round_hole SELECT * FROM holes_aside")
    op.execute("DROP TABLE holes_aside")
    op.execute("DROP TABLE record")


def _statements(table: str) -> list[str]:
    """The statements that made a table and its indexes, the table first."""
    query = sa.text("SELECT type, sql FROM sqlite_master WHERE tbl_name = :table AND sql IS NOT NULL")
    found = op.get_bind().execute(query, {"table": table}).all()
    return [sql for _, sql in sorted(found, key=lambda one: one[0] != "table")]
