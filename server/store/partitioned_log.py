"""Partitioning the log on PostgreSQL, and making it one table again: an operator's step, all or nothing.

The table `change` is written anew, partitioned by a hash of the player, in one transaction in which nobody else reads
or writes. Every row is compared by a fingerprint before the old table goes. What the log promises over all players is
from then on held by `change_place` (`server.store.places`), which triggers keep.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from server.store.account_tables import ACCOUNT
from server.store.backup import alone
from server.store.engine import reading, writing
from server.store.places import FILL, KEEP_PLACES, PLACE_TABLE
from server.store.tables import CHANGE, METADATA
from server.store.unavailable import UnavailableError

MOST_PARTS: Final = 64
"""A choice of this tool: what reads the whole log opens every part, and holds a lock on each and on its indexes."""

PLACE_BYTES: Final = 200
"""What a change takes in `change_place` with both of its indexes, with room to spare: see server/README.md."""

assert ACCOUNT.metadata is METADATA, "tables of accounts are locked too"


class PartitionError(RuntimeError):
    """The log cannot be partitioned, with the reason. Nothing was changed."""


@dataclass(frozen=True)
class LogSize:
    """`parts`: 1 while the log is one table. `held`: bytes on disk with all indexes; `needed`: what writing it anew
    takes beside that until it is done, at most about."""

    parts: int
    changes: int
    held: int
    needed: int


_PARTS: Final = "SELECT greatest(count(*), 1) FROM pg_inherits WHERE inhparent = 'change'::regclass"
_BYTES: Final = f"""
    SELECT coalesce(sum(pg_total_relation_size(oid)), 0)::bigint FROM pg_class WHERE oid = to_regclass('{PLACE_TABLE}')
    OR oid IN (SELECT relid FROM pg_partition_tree('change'::regclass)) OR oid = 'change'::regclass
"""


def log_size(engine: sa.Engine) -> LogSize:
    """How large the log is. Raises PartitionError on SQLite, and UnavailableError."""
    _refuse_sqlite(engine)
    with reading(engine) as connection:
        parts, held = (int(connection.exec_driver_sql(words).scalar_one()) for words in (_PARTS, _BYTES))
        changes = int(connection.execute(sa.select(sa.func.count()).select_from(CHANGE)).scalar_one())
    return LogSize(parts, changes, held, held + PLACE_BYTES * changes)


def partition_log(engine: sa.Engine, parts: int) -> None:
    """Write the log anew in so many parts, 1 for one table, in one transaction; nothing is left of it when it fails.
    Raises PartitionError, UnavailableError while others hold the database, and BackupError while a server runs."""
    _refuse_sqlite(engine)
    if not 1 <= parts <= MOST_PARTS:
        raise PartitionError(f"parts: {parts} is outside 1 to {MOST_PARTS}")
    with alone(engine), _telling_what_is_in_the_way(), writing(engine) as connection:
        _write_anew(connection, parts)
    # a connection remembers what the log was
    engine.dispose()


def _refuse_sqlite(engine: sa.Engine) -> None:
    if engine.dialect.name != "postgresql":
        raise PartitionError("a log in SQLite is always one table; only PostgreSQL's can be partitioned")


@contextmanager
def _telling_what_is_in_the_way() -> Iterator[None]:
    try:
        yield
    except UnavailableError:
        raise
    except sa.exc.DBAPIError as error:
        words = str(error.orig).splitlines()[0]
        raise PartitionError(f"the log was left as it was: {words}") from error


def _write_anew(connection: sa.Connection, parts: int) -> None:
    run = connection.exec_driver_sql
    # Whoever has read anything of ours in a transaction that is still open is waited for: it would find no log.
    names = ", ".join(f'"{table.name}"' for table in METADATA.sorted_tables)
    run(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE")
    _check_ends(connection)
    before = _fingerprint(connection, "change")
    keys = run(
        "SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint "
        "WHERE conrelid = 'change'::regclass AND contype IN ('p', 'f', 'c') ORDER BY contype DESC, conname"
    ).all()
    rights = _rights(connection)
    _copy(connection, parts)
    if _fingerprint(connection, "change_anew") != before:
        raise PartitionError("the log was left as it was: its copy differs from it")
    run("DROP TABLE change")
    run(f"DROP TABLE IF EXISTS {PLACE_TABLE}")
    run(f"DROP FUNCTION IF EXISTS {KEEP_PLACES}()")
    run("ALTER TABLE change_anew RENAME TO change")
    for part in range(parts if parts > 1 else 0):
        run(f"ALTER TABLE change_anew_{part} RENAME TO change_part_{part}")
    for name, words in keys:
        run(f'ALTER TABLE change ADD CONSTRAINT "{name}" {words}')
    for index in sorted(CHANGE.indexes, key=lambda one: str(one.name)):
        columns = ", ".join(f'"{column.name}"' for column in index.columns)
        # Of a partitioned table an index can be unique only with the player in it: `change_place` is instead.
        unique = "UNIQUE " if index.unique and parts == 1 else ""
        run(f'CREATE {unique}INDEX "{index.name}" ON change ({columns})')
    if parts > 1:
        _make_places(connection)
    for words in rights:
        for table in ("change", PLACE_TABLE)[: 2 if parts > 1 else 1]:
            run(words.replace(" ON change TO ", f" ON {table} TO "))
    _check_ends(connection)
    run("ANALYZE change")


def _copy(connection: sa.Connection, parts: int) -> None:
    """All rows in a new table, each part's in their order."""
    run = connection.exec_driver_sql
    by = " PARTITION BY HASH (player_id)" if parts > 1 else ""
    run(f"CREATE TABLE change_anew (LIKE change INCLUDING DEFAULTS INCLUDING STORAGE INCLUDING COMMENTS){by}")
    for part in range(parts if parts > 1 else 0):
        of = f"FOR VALUES WITH (MODULUS {parts}, REMAINDER {part})"
        run(f"CREATE TABLE change_anew_{part} PARTITION OF change_anew {of}")
    run("INSERT INTO change_anew SELECT * FROM change")


_STRANGE: Final = sa.text(
    "SELECT 1 FROM change WHERE change_id <> change_id::uuid::text OR record_id <> record_id::uuid::text"
    " OR player_id <> player_id::uuid::text LIMIT 1"
)


def _make_places(connection: sa.Connection) -> None:
    """`change_place` from the log, and the triggers that keep it from now on."""
    run = connection.exec_driver_sql
    columns = "change_id uuid NOT NULL, record_id uuid NOT NULL, player_id uuid NOT NULL, record_seq integer NOT NULL"
    run(f"CREATE TABLE {PLACE_TABLE} ({columns})")
    connection.execute(FILL)
    if connection.execute(_STRANGE).first() is not None:
        raise PartitionError("the log was left as it was: an id is not a UUID in lower case")
    run(f"ALTER TABLE {PLACE_TABLE} ADD PRIMARY KEY (change_id)")
    run(f"CREATE UNIQUE INDEX {PLACE_TABLE}_by_record ON {PLACE_TABLE} (record_id, record_seq)")
    # The schema is named: the function must not depend on where its caller looks for tables.
    schema = run(
        "SELECT quote_ident(nspname) FROM pg_namespace WHERE oid = (SELECT relnamespace FROM pg_class "
        "WHERE oid = 'change'::regclass)"
    ).scalar_one()
    run(f"""
        CREATE FUNCTION {schema}.{KEEP_PLACES}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF TG_OP <> 'INSERT' THEN
                DELETE FROM {schema}.{PLACE_TABLE} WHERE change_id = OLD.change_id::uuid;
            END IF;
            IF TG_OP <> 'DELETE' THEN
                INSERT INTO {schema}.{PLACE_TABLE} (change_id, record_id, player_id, record_seq)
                VALUES (NEW.change_id::uuid, NEW.record_id::uuid, NEW.player_id::uuid, NEW.record_seq);
            END IF;
            RETURN NULL;
        END $$
    """)
    run(
        f"CREATE TRIGGER {KEEP_PLACES} AFTER INSERT OR DELETE OR UPDATE OF change_id, record_id, player_id, record_seq "
        f"ON change FOR EACH ROW EXECUTE FUNCTION {schema}.{KEEP_PLACES}()"
    )
    run(f"ANALYZE {PLACE_TABLE}")


def _fingerprint(connection: sa.Connection, table: str) -> Any:
    """How many rows a table has and the sum of their hashes, whatever their order."""
    words = f"SELECT count(*), sum(hashtextextended(one::text, 0)) FROM {table} AS one"
    return tuple(connection.exec_driver_sql(words).one())


_BAD_ENDS: Final = """
    SELECT player.player_id FROM player
    LEFT JOIN (SELECT player_id, count(*) AS number, min(seq) AS lowest FROM change GROUP BY player_id) AS held
        ON held.player_id = player.player_id
    LEFT JOIN change AS final ON final.player_id = player.player_id AND final.seq = player.last_seq
    WHERE player.last_seq <> coalesce(held.number, 0) OR coalesce(held.lowest, 1) <> 1
        OR (player.last_seq > 0 AND final.chain IS DISTINCT FROM player.chain)
    ORDER BY player.player_id LIMIT 1
"""


def _check_ends(connection: sa.Connection) -> None:
    """Each player's log is numbered without a gap up to its end, and ends with the fingerprint that the player's row
    has."""
    player_id = connection.exec_driver_sql(_BAD_ENDS).scalar()
    if player_id is not None:
        raise PartitionError(f"player {player_id}: the log does not end as recorded; run check")


def _rights(connection: sa.Connection) -> list[str]:
    """What gives others than the owner their rights on the log."""
    words = """
        SELECT 'GRANT ' || privilege_type || ' ON change TO '
            || CASE WHEN grantee = 0 THEN 'PUBLIC' ELSE quote_ident(pg_get_userbyid(grantee)) END
            || CASE WHEN is_grantable THEN ' WITH GRANT OPTION' ELSE '' END
        FROM pg_class, aclexplode(relacl) WHERE oid = 'change'::regclass AND grantee <> relowner
    """
    return list(connection.exec_driver_sql(words).scalars())
