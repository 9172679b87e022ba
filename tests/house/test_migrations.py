"""The numbered steps make exactly the tables that the code works with."""

from __future__ import annotations

import uuid
from datetime import date
from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from server.store.engine import MIGRATIONS, _alembic, open_database, reading
from server.store.tables import CHANGE, KIND_TABLES, METADATA, PLAYER, ROUND, ROUND_HOLE, SHOT


def test_the_steps_make_exactly_the_tables(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'made.sqlite'}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, METADATA) == []
    engine.dispose()


def test_the_comparison_can_fail(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'made.sqlite'}")
    with engine.connect() as connection:
        connection.exec_driver_sql("ALTER TABLE shot ADD COLUMN moon TEXT")
        connection.exec_driver_sql("DROP INDEX shot_by_round")
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert {step[0] for step in compare_metadata(context, METADATA)} == {"remove_column", "add_index"}
    engine.dispose()


def test_keys_and_the_way_tables_are_kept_agree_too(tmp_path: Path) -> None:
    """alembic compares neither primary keys nor WITHOUT ROWID."""
    engine = open_database(f"sqlite:///{tmp_path / 'made.sqlite'}")
    direct = sa.create_engine("sqlite://")
    METADATA.create_all(direct)
    described = []
    for one in (engine, direct):
        look = sa.inspect(one)
        with one.connect() as connection:
            sql = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'table'").all()
        rowless = {name: "WITHOUT ROWID" in words for name, words in sql if name != "alembic_version"}
        keys = {
            name: (
                look.get_pk_constraint(name)["constrained_columns"],
                sorted(str(key["constrained_columns"]) + str(key["options"]) for key in look.get_foreign_keys(name)),
                [(column["name"], column["nullable"]) for column in look.get_columns(name)],
            )
            for name in METADATA.tables
        }
        described.append((rowless, keys))
        one.dispose()
    assert described[0] == described[1]


def test_steps_are_numbered_in_one_line(tmp_path: Path) -> None:
    files = sorted((MIGRATIONS / "versions").glob("[0-9]*.py"))
    numbers = [path.name[:4] for path in files]
    assert numbers == [f"{number:04d}" for number in range(1, len(files) + 1)]
    engine = open_database(f"sqlite:///{tmp_path / 'made.sqlite'}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() == numbers[-1]
    engine.dispose()


def test_opening_again_changes_nothing_and_the_promises_of_sqlite_hold(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'deep' / 'made.sqlite'}"
    for _ in range(2):
        engine = open_database(address)
        with reading(engine) as connection:
            pragmas = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("journal_mode", "synchronous", "foreign_keys")
            }
        engine.dispose()
        # synchronous 2 is FULL
        assert pragmas == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_every_kind_of_record_has_its_table() -> None:
    assert set(KIND_TABLES) == {"player", "club", "setup", "course", "hole_map", "round", "shot"}


def test_an_older_file_keeps_every_row_and_index(tmp_path: Path) -> None:
    """Up to the second step, rows in random order of their ids, then the rest of the steps."""
    url = f"sqlite:///{tmp_path / 'older.sqlite'}"
    engine = sa.create_engine(url)
    config = _alembic()
    ids = [str(uuid.uuid4()) for _ in range(40)]
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0002")
        record_table = sa.Table("record", sa.MetaData(), autoload_with=connection)
        for number, record_id in enumerate(ids, 1):
            if number == 1:
                connection.execute(
                    sa.insert(PLAYER), {"player_id": "p", "last_seq": 40, "chain": "c", "created_at": "t"}
                )
            row = {column.name: "x" for column in CHANGE.columns} | {"player_id": "p", "seq": number}
            connection.execute(sa.insert(CHANGE), row | {"change_id": record_id, "schema_version": 1})
            record = {"record_id": record_id, "player_id": "p", "kind": "shot", "head": "h", "deleted": False}
            connection.execute(record_table.insert(), record | {"leaves": 1})
            shot = {column.name: 1 if column.name in WHOLE else "x" for column in SHOT.columns if not column.nullable}
            flags = {"holed": False, "picked_up": False, "provisional": False}
            connection.execute(sa.insert(SHOT), shot | flags | {"record_id": record_id, "player_id": "p"})
            kept = {"record_id": record_id, "player_id": "p", "played_on": date(2026, 5, 1), "kind": "practice"}
            connection.execute(sa.insert(ROUND), kept | {"bag": "[]", "closed": True, "deleted": False})
            holes = [{"record_id": record_id, "number": hole, "par": 4, "length_yd": 400.0} for hole in (1, 2)]
            connection.execute(sa.insert(ROUND_HOLE), holes)
        before = [_rows(connection, table) for table in (CHANGE, SHOT, ROUND, ROUND_HOLE)]
        assert [len(rows) for rows in before] == [40, 40, 40, 80]
    engine.dispose()
    newest = open_database(url)
    with newest.connect() as connection:
        assert [_rows(connection, table) for table in (CHANGE, SHOT, ROUND, ROUND_HOLE)] == before
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []
        assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
        assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    newest.dispose()


WHOLE = {"hole", "ball", "shot_order", "distance_yd", "penalty_strokes"}


def _rows(connection: sa.Connection, table: sa.Table) -> set[tuple[object, ...]]:
    return {tuple(row) for row in connection.execute(sa.select(table))}
