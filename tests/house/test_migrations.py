"""The numbered steps make exactly the tables that the code works with."""

from __future__ import annotations

import uuid
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.script import ScriptDirectory

from server.store import engine as opening
from server.store.engine import MIGRATIONS, alembic_config, open_database, reading, steps
from server.store.tables import CHANGE, KIND_TABLES, METADATA, PLAYER, ROUND, ROUND_HOLE, SHOT
from tests import kept_tables
from tests.conftest import DATABASES, POSTGRESQL
from tests.store.compared import differences


def test_the_steps_make_exactly_the_tables(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'made.sqlite'}")
    with engine.connect() as connection:
        assert differences(connection, defaults=True) == []
    engine.dispose()


def test_tables_that_tests_begin_with_are_those_of_the_steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`tests/kept_tables.py` against the steps, to the letter."""
    made = []
    for name, migrate in (("first", None), ("kept", None), ("steps", kept_tables.MAKING)):
        if migrate:
            monkeypatch.setattr(opening, "migrate", migrate)
        engine = open_database(f"sqlite:///{tmp_path / name}")
        with reading(engine) as connection:
            tables = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY rowid")
            made.append(([*tables], connection.exec_driver_sql("SELECT * FROM alembic_version").all()))
        engine.dispose()
    assert made[0] == made[1] == made[2]


def test_the_comparison_can_fail(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'made.sqlite'}")
    with engine.connect() as connection:
        connection.exec_driver_sql("ALTER TABLE shot ADD COLUMN moon TEXT")
        connection.exec_driver_sql("DROP INDEX shot_by_round")
        assert {step[0] for step in differences(connection)} == {"remove_column", "add_index"}
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
                # a column that a later step adds comes last, wherever it is described
                sorted((column["name"], column["nullable"]) for column in look.get_columns(name)),
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
    assert set(KIND_TABLES) == {
        "player",
        "club",
        "setup",
        "course",
        "hole_map",
        "round",
        "shot",
        "session",
        "practice_ball",
    }


@pytest.mark.parametrize("sort", DATABASES)
def test_older_tables_keep_every_row_and_index(sort: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    """Up to the second step, rows in random order of their ids, then the rest of the steps."""
    cluster = request.getfixturevalue("cluster") if sort == POSTGRESQL else None
    url = cluster.fresh(empty=True) if cluster else f"sqlite:///{tmp_path / 'older.sqlite'}"
    ids = [str(uuid.uuid4()) for _ in range(40)]
    engine = sa.create_engine(sa.make_url(url).set(drivername="postgresql+psycopg") if cluster else url)
    with engine.begin() as connection:
        _fill_the_second_step(connection, ids)
        names = ("change", "round", "shot")
        older, rounds, shots = (sa.Table(name, sa.MetaData(), autoload_with=connection) for name in names)
        before = [_rows(connection, table) for table in (older, shots, rounds, ROUND_HOLE)]
        assert [len(rows) for rows in before] == [45, 40, 40, 80]
    engine.dispose()
    newest = open_database(url)
    with newest.connect() as connection:
        as_before = sa.select(*(column for column in CHANGE.columns if column.name != "record_seq"))
        assert {tuple(row) for row in connection.execute(as_before)} == before[0]
        assert [_rows(connection, table) for table in (shots, rounds, ROUND_HOLE)] == before[1:]
        added = connection.execute(sa.select(ROUND.c.closings, ROUND.c.holes_meant, ROUND.c.stopped)).all()
        assert [tuple(row) for row in added] == [(None, None, False)] * 40
        told = sa.select(SHOT.c.planned_height, SHOT.c.carry_yd, ROUND.c.ball_label, ROUND.c.lengths_taken).where(
            SHOT.c.record_id == ROUND.c.record_id
        )
        assert [tuple(row) for row in connection.execute(told)] == [(None, None, None, None)] * 40
        numbers = connection.execute(sa.select(CHANGE.c.seq, CHANGE.c.record_seq).order_by(CHANGE.c.seq)).all()
        assert [tuple(row) for row in numbers] == [(seq, 1 if seq <= 40 else 2) for seq in range(1, 46)]
        assert "record" not in sa.inspect(connection).get_table_names()
        assert differences(connection) == []
        if not cluster:
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    newest.dispose()
    if cluster:
        cluster.drop(url)


def _fill_the_second_step(connection: sa.Connection, ids: list[str]) -> None:
    """Make the tables of step 2 with a shot, a round and its holes under each id; the first five have two changes."""
    config = alembic_config()
    config.attributes["connection"] = connection
    command.upgrade(config, "0002")
    older = ("change", "record", "round")
    change, record, rounds = (sa.Table(name, sa.MetaData(), autoload_with=connection) for name in older)
    connection.execute(sa.insert(PLAYER), {"player_id": "p", "last_seq": 45, "chain": "c", "created_at": "t"})
    said = {column.name: "x" for column in change.columns} | {"player_id": "p", "schema_version": 1}
    kept = {"player_id": "p", "played_on": date(2026, 5, 1), "kind": "practice", "bag": "[]", "closed": True}
    shot = {column.name: 1 if column.name in WHOLE else "x" for column in SHOT.columns if not column.nullable}
    shot |= {"player_id": "p", "holed": False, "picked_up": False, "provisional": False}
    for seq, record_id in enumerate([*ids, *ids[:5]], 1):
        connection.execute(change.insert(), said | {"change_id": f"c{seq}", "record_id": record_id, "seq": seq})
    for record_id in ids:
        named = {"record_id": record_id, "player_id": "p", "kind": "shot", "head": "h", "deleted": False, "leaves": 1}
        connection.execute(record.insert(), named)
        connection.execute(sa.insert(SHOT), shot | {"record_id": record_id})
        connection.execute(rounds.insert(), kept | {"record_id": record_id, "deleted": False})
        holes = [{"record_id": record_id, "number": hole, "par": 4, "length_yd": 400.0} for hole in (1, 2)]
        connection.execute(sa.insert(ROUND_HOLE), holes)


WHOLE = {"hole", "ball", "shot_order", "distance_yd", "penalty_strokes"}


def _rows(connection: sa.Connection, table: sa.Table) -> set[tuple[object, ...]]:
    return {tuple(row) for row in connection.execute(sa.select(table))}


def test_the_steps_that_are_looked_up_are_those_that_alembic_walks() -> None:
    script = ScriptDirectory.from_config(alembic_config())
    assert list(steps()) == [step.revision for step in script.walk_revisions()][::-1]
    assert script.get_current_head() == steps()[-1]
