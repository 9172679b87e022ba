"""Heads and owners of records are read from the log itself: the table that repeated them goes.

Its key also kept a record from having two owners: now the changes of a record are numbered, each number once. The
tables of the kinds referred to it: PostgreSQL drops such references with the table, SQLite writes the tables anew.
"""

import re

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

KINDS = ("player_record", "club", "setup", "course", "hole_map", "round", "shot")
LAST_COLUMN = re.compile(r"(\bchain VARCHAR\(32\) NOT NULL)")
REFERENCE = re.compile(r",\s*FOREIGN KEY\s*\(record_id\) REFERENCES record \(record_id\) ON DELETE CASCADE")
NUMBER = "row_number() OVER (PARTITION BY record_id ORDER BY received_at, player_id, seq)"


def upgrade() -> None:
    """Number the changes of each record; write the tables without the reference, then drop what they referred to."""
    if op.get_bind().dialect.name != "sqlite":
        _upgrade_postgresql()
        return
    first, *indexes = _statements("change")
    anew, times = LAST_COLUMN.subn(r"\1, record_seq INTEGER NOT NULL", _renamed(first, "change"))
    if times != 1:
        raise RuntimeError("the table change is not as the steps before this one make it")
    _write_anew("change", anew, f"SELECT *, {NUMBER} FROM change ORDER BY player_id, seq", indexes)
    op.drop_index("change_by_record", "change")
    op.create_index("change_by_record", "change", ["record_id", "record_seq"], unique=True)
    # The holes refer to their round and would go with the old table of rounds: they step aside meanwhile.
    holes = _statements("round_hole")
    op.execute("CREATE TEMP TABLE holes_aside AS SELECT * FROM round_hole")
    op.execute("DROP TABLE round_hole")
    for table in KINDS:
        first, *indexes = _statements(table)
        anew, times = REFERENCE.subn("", _renamed(first, table))
        if times != 1:
            raise RuntimeError(f"the table {table} is not as the steps before this one make it")
        _write_anew(table, anew, f"SELECT * FROM {table}", indexes)
    for statement in holes:
        op.execute(statement)
    op.execute("INSERT INTO round_hole SELECT * FROM holes_aside")
    op.execute("DROP TABLE holes_aside")
    op.execute("DROP TABLE record")


def _upgrade_postgresql() -> None:
    op.add_column("change", sa.Column("record_seq", sa.Integer()))
    op.execute(
        f"UPDATE change SET record_seq = found.number FROM (SELECT change_id, {NUMBER} AS number FROM change) AS found "
        "WHERE found.change_id = change.change_id"
    )
    op.alter_column("change", "record_seq", nullable=False)
    op.drop_index("change_by_record", "change")
    op.create_index("change_by_record", "change", ["record_id", "record_seq"], unique=True)
    op.execute("DROP TABLE record CASCADE")


def _renamed(statement: str, table: str) -> str:
    return re.sub(rf'CREATE TABLE "?{table}"?', f"CREATE TABLE {table}_anew", statement, count=1)


def _write_anew(table: str, anew: str, rows: str, indexes: list[str]) -> None:
    """Make the table `anew` out of the old one's rows, in its place, with its indexes."""
    op.execute(anew)
    op.execute(f"INSERT INTO {table}_anew {rows}")
    op.execute(f"DROP TABLE {table}")
    op.execute(f"ALTER TABLE {table}_anew RENAME TO {table}")
    for statement in indexes:
        op.execute(statement)


def _statements(table: str) -> list[str]:
    """The statements that made a table and its indexes, the table first."""
    query = sa.text("SELECT type, sql FROM sqlite_master WHERE tbl_name = :table AND sql IS NOT NULL")
    found = op.get_bind().execute(query, {"table": table}).all()
    return [sql for _, sql in sorted(found, key=lambda one: one[0] != "table")]
