"""On SQLite the ids of shots are kept unique by an index of their own, which an import can take away and make again.

The index that a primary key brings cannot be taken away. Ids come in no order, so that each shot of an import touched
another page of it: ten million were stored at a quarter of the pace of a hundred thousand.
"""

import re

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

KEY = re.compile(r",\s*(CONSTRAINT \w+ )?PRIMARY KEY \(record_id\)")


def upgrade() -> None:
    """Write the table anew, each row at its place, unless it is so already. No other table refers to it."""
    connection = op.get_bind()
    if connection.dialect.name != "sqlite":
        return
    query = sa.text("SELECT type, name, sql FROM sqlite_master WHERE tbl_name = 'shot' AND sql IS NOT NULL")
    found = connection.execute(query).all()
    if any(name == "shot_once" for _, name, _ in found):
        return
    statement = next(sql for kind, _, sql in found if kind == "table")
    columns, keys = KEY.subn("", statement)
    if keys != 1:
        raise RuntimeError(f"the table of shots is not as an earlier step made it: {statement}")
    op.execute(re.sub(r'^CREATE TABLE "?shot"?', "CREATE TABLE shot_anew", columns))
    names = ", ".join(row.name for row in connection.execute(sa.text("PRAGMA table_info(shot)")))
    op.execute(f"INSERT INTO shot_anew (rowid, {names}) SELECT rowid, {names} FROM shot")
    op.execute("DROP TABLE shot")
    op.execute("ALTER TABLE shot_anew RENAME TO shot")
    for kind, _, sql in found:
        if kind == "index":
            op.execute(sql)
    op.execute("CREATE UNIQUE INDEX shot_once ON shot (record_id)")
