"""What is PostgreSQL's own: the same tables, started by many at once, its waits, its marks."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command

from server.store.accounts import add_account, any_account
from server.store.backup import BackupError, backup, restore, serving
from server.store.cursors import START
from server.store.engine import BUSY_WAIT_S, alembic_config, open_database, reading, steps, writing
from server.store.log import push
from server.store.tables import METADATA, PLAYER
from server.store.unavailable import UnreachableError
from tests.records.made import Season
from tests.store.cluster import Cluster, programs
from tests.store.compared import differences
from tests.tiers import some


@pytest.fixture
def empty(cluster: Cluster) -> Iterator[str]:
    """The address of a database without any table."""
    url = cluster.fresh(empty=True)
    yield url
    cluster.drop(url)


def shape(engine: sa.Engine) -> dict[str, object]:
    """Columns, keys and indexes of every table, as PostgreSQL describes them."""
    look = sa.inspect(engine)
    return {
        name: (
            # a column that a later step adds comes last, wherever it is described
            sorted((column["name"], str(column["type"]), column["nullable"]) for column in look.get_columns(name)),
            look.get_pk_constraint(name)["constrained_columns"],
            sorted((str(key["constrained_columns"]), str(key["options"])) for key in look.get_foreign_keys(name)),
            sorted((str(one["name"]), str(one["column_names"]), one["unique"]) for one in look.get_indexes(name)),
        )
        for name in look.get_table_names()
        if name != "alembic_version"
    }


def test_the_steps_make_exactly_the_tables_on_postgresql(empty: str, cluster: Cluster) -> None:
    engine = open_database(empty)
    with engine.connect() as connection:
        assert differences(connection, defaults=True) == []
        (version,) = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalars()
    assert version in steps()
    other = cluster.fresh(empty=True)
    direct = sa.create_engine(sa.make_url(other).set(drivername="postgresql+psycopg"))
    METADATA.create_all(direct)
    assert shape(engine) == shape(direct)
    assert shape(engine).keys() == METADATA.tables.keys()
    for one in (engine, direct):
        one.dispose()
    cluster.drop(other)


@pytest.mark.parametrize("step", some(sorted(steps()), 0, 6, -2))
def test_a_dump_of_every_earlier_step_is_restored_over_the_newest_tables(
    step: str, empty: str, cluster: Cluster, tmp_path: Path
) -> None:
    """Tables that are younger than the dump must not be in the way of the steps that make them."""
    older = sa.create_engine(sa.make_url(empty).set(drivername="postgresql+psycopg"))
    config = alembic_config()
    with older.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, step)
        moment = "2026-05-01T09:30:00.000Z"
        row = {"player_id": "p", "last_seq": 0, "chain": START, "created_at": moment}
        connection.execute(sa.insert(PLAYER), row)
    dump = tmp_path / "older.dump"
    backup(older, dump)
    older.dispose()
    newest = cluster.fresh()
    engine = open_database(newest)
    season = Season("Late")
    push(engine, season.player_id, "phone", season.changes)
    add_account(engine, "Coach", "coach", "a long password")
    restore(engine, dump)
    with reading(engine) as connection:
        assert connection.execute(sa.select(PLAYER.c.player_id)).scalars().all() == ["p"]
    assert any_account(engine) is False
    engine.dispose()
    again = open_database(newest)
    with again.connect() as connection:
        assert differences(connection) == []
    assert push(again, season.player_id, "phone", season.changes).new == len(season.changes)
    again.dispose()
    cluster.drop(newest)


def test_many_that_start_on_an_empty_database_make_its_tables_once(empty: str) -> None:
    with ThreadPoolExecutor(4) as pool:
        engines = list(pool.map(open_database, [empty] * 4))
    season = Season()
    assert push(engines[0], season.player_id, "phone", season.changes).new == 1
    with reading(engines[3]) as connection:
        assert connection.execute(sa.select(PLAYER.c.last_seq)).scalar() == 1
    for engine in engines:
        engine.dispose()


def test_a_writer_waits_as_long_as_set(empty: str) -> None:
    for wait_s, said in ((BUSY_WAIT_S, "30s"), (0.25, "250ms"), (0.0, "1ms")):
        engine = open_database(empty, wait_s)
        with reading(engine) as connection:
            assert connection.exec_driver_sql("SHOW lock_timeout").scalar() == said
        engine.dispose()


def test_reading_is_one_state_and_writes_nothing(empty: str) -> None:
    engine = open_database(empty)
    season = Season()
    push(engine, season.player_id, "phone", season.changes)
    with reading(engine) as connection:
        count = sa.select(sa.func.count()).select_from(PLAYER)
        assert connection.execute(count).scalar() == 1
        other = Season("Other Player")
        push(engine, other.player_id, "phone", other.changes)
        assert connection.execute(count).scalar() == 1
    with pytest.raises(sa.exc.InternalError, match="read-only"), reading(engine) as connection:
        connection.execute(sa.delete(PLAYER))
    with reading(engine) as connection:
        assert connection.execute(count).scalar() == 2
    engine.dispose()


def test_the_mark_of_a_server_ends_with_it_and_with_its_connection(empty: str) -> None:
    engine, other = open_database(empty), open_database(empty)
    here = "database = (SELECT oid FROM pg_database WHERE datname = current_database())"
    held = sa.text(f"SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND {here}")
    with serving(engine), reading(other) as connection:
        assert connection.execute(held).scalar() == 1
    with reading(other) as connection:
        assert connection.execute(held).scalar() == 0
    engine.dispose()
    other.dispose()


def test_a_server_that_went_away_is_reported_out_of_reach(empty: str) -> None:
    engine = open_database(empty)
    ends = sa.text("SELECT pg_terminate_backend(pg_backend_pid())")
    with pytest.raises(UnreachableError), writing(engine) as connection:
        connection.execute(ends)
    with pytest.raises(UnreachableError), reading(engine) as connection:
        connection.execute(ends)
    season = Season()
    assert push(engine, season.player_id, "phone", season.changes).new == 1
    engine.dispose()


def test_a_dump_needs_postgresqls_own_programs(empty: str, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = open_database(empty)
    monkeypatch.setenv("PATH", "/nowhere")
    with pytest.raises(BackupError, match="pg_restore is needed; install Debian's postgresql-client"):
        restore(engine, programs() / "initdb")
    engine.dispose()
