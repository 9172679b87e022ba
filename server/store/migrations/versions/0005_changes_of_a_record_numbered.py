"""The changes of each record are numbered, each number once: a record then has one owner, whoever brings it first."""

import re

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

LAST_COLUMN = re.compile(r"(\bchain VARCHAR\(32\) NOT NULL)")
NUMBER = "row_number() OVER (PARTITION BY record_id ORDER BY received_at, player_id, seq)"


def upgrade() -> None:
    """Add the column, number what is there, and let the index by record keep each number once."""
    if op.get_bind().dialect.name == "sqlite":
        _write_anew()
    else:
        op.add_column("change", sa.Column("record_seq", sa.Integer()))
        op.execute(
            f"UPDATE change SET record_seq = found.number FROM (SELECT change_id, {NUMBER} AS number FROM change) "
            "AS found WHERE found.change_id = change.change_id"
        )
        op.alter_column("change", "record_seq", nullable=False)
        op.drop_index("change_by_record", "change")
    op.create_index("change_by_record", "change", ["record_id", "record_seq"], unique=True)


def _write_anew() -> None:
    """SQLite adds no column that must be filled: write the log anew. No other table refers to it."""
    query = sa.text("SELECT sql FROM sqlite_master WHERE name = 'change'")
    statement = op.get_bind().execute(query).scalar_one()
    anew = re.sub(r'CREATE TABLE "?change"?', "CREATE TABLE change_anew", statement, count=1)
    anew, times = LAST_COLUMN.subn(r"\1, record_seq INTEGER NOT NULL", anew)
    if times != 1:
        raise RuntimeError("the table change is not as the steps before this one make it")
    op.execute(anew)
    op.execute(f"INSERT INTO change_anew SELECT *, {NUMBER} FROM change ORDER BY player_id, seq")
    op.execute("DROP TABLE change")
    op.execute("ALTER TABLE change_anew RENAME TO change")
    op.create_index("change_once", "change", ["change_id"], unique=True)
