"""Databases of every earlier step, filled with everything, come up to the newest with every record equal; an upgrade
that is broken off anywhere leaves the database as it was, and the next one ends well."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from sqlalchemy.exc import DBAPIError

from server.store.accounts import add_account
from server.store.credentials import SESSION, TOKEN, give
from server.store.engine import MIGRATIONS, alembic_config, open_database, reading
from server.store.rebuild import check_database
from server.store.sharing import share
from server.store.tables import METADATA
from server.store.unavailable import FullError
from tests import tiers
from tests.conftest import DATABASES, POSTGRESQL, SQLITE
from tests.store.full_database import everything, filled

STEPS = sorted(path.name[:4] for path in (MIGRATIONS / "versions").glob("[0-9]*.py"))
ROOT = Path(__file__).parents[2]

Rows = dict[str, list[dict[str, Any]]]


@pytest.fixture(params=DATABASES)
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a quite empty database."""
    if request.param != POSTGRESQL:
        yield f"sqlite:///{tmp_path / 'older.sqlite'}"
        return
    cluster = request.getfixturevalue("cluster")
    url = cluster.fresh(empty=True)
    yield url
    cluster.drop(url)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Rows:
    """Every row of a database of the newest step with all kinds of records that an earlier step can hold in its log,
    accounts, tokens and shares."""
    engine = open_database(f"sqlite:///{tmp_path_factory.mktemp('newest') / 'log.sqlite'}")
    first, _ = filled(engine, practice=False)
    robin = add_account(engine, "Robin", "player", "correct horse battery", player_id=first.player_id)
    add_account(engine, "Ash", "coach", None, squads=("first",))
    share(engine, first.player_id, reader="Ash", squad=None)
    give(engine, "", robin.account_id, SESSION, label="phone")
    give(engine, "", robin.account_id, TOKEN, label="script", scopes=("read_own",))
    with reading(engine) as connection:
        rows = {
            table.name: [dict(row) for row in connection.execute(sa.select(table)).mappings()]
            for table in METADATA.sorted_tables
        }
    engine.dispose()
    assert all(rows[name] for name in ("change", "quarantine", "shot", "round_hole", "hole_map", "credential", "share"))
    return rows


def plain_engine(url: str) -> sa.Engine:
    """An engine that upgrades nothing."""
    place = sa.make_url(url)
    return sa.create_engine(
        place.set(drivername="postgresql+psycopg") if place.get_backend_name() == "postgresql" else place
    )


def make_older(url: str, step: str, rows: Rows) -> set[str]:
    """The tables of a step with these rows, as far as it had them; the names of its tables."""
    engine = plain_engine(url)
    with engine.begin() as connection:
        config = alembic_config()
        config.attributes["connection"] = connection
        command.upgrade(config, step)
        older = sa.MetaData()
        older.reflect(connection)
        for table in older.sorted_tables:
            _fill(connection, table, rows)
    engine.dispose()
    return set(older.tables)


def _fill(connection: sa.Connection, table: sa.Table, rows: Rows) -> None:
    given = _records(rows) if table.name == "record" else rows.get(table.name, [])
    # Dates and flags as the newest tables type them: what is reflected from SQLite knows neither.
    known = METADATA.tables.get(table.name, table)
    names = [column.name for column in table.columns]
    if given:
        typed = sa.table(table.name, *(sa.column(name, known.c[name].type) for name in names))
        connection.execute(sa.insert(typed), [{name: row[name] for name in names} for row in given])


def _records(rows: Rows) -> list[dict[str, Any]]:
    """The table of heads, which the first steps had."""
    found: dict[str, dict[str, Any]] = {}
    for row in rows["change"]:
        said = {"record_id": row["record_id"], "player_id": row["player_id"], "kind": row["kind"]}
        found[row["record_id"]] = said | {"head": row["change_id"], "deleted": False, "leaves": 1}
    return list(found.values())


def wanted(rows: Rows, tables: set[str]) -> dict[str, list[tuple[Any, ...]]]:
    """What the newest tables must hold after an upgrade from a step that had `tables`."""
    return {
        table.name: sorted(
            (tuple(row[column.name] for column in table.columns) for row in rows[table.name] if table.name in tables),
            key=repr,
        )
        for table in METADATA.sorted_tables
    }


FROM = {SQLITE: tiers.some(STEPS[:-1], 0, 3, 6, 9, -1), POSTGRESQL: tiers.some(STEPS[:-1], 0, -1)}
"""An upgrade from the first step takes every step: of those in between some by default."""


@pytest.mark.parametrize(
    ("place", "step"), [(sort, step) for sort in DATABASES for step in FROM[sort]], indirect=["place"]
)
def test_every_earlier_step_comes_up_with_every_record_equal(place: str, step: str, whole: Rows) -> None:
    tables = make_older(place, step, whole)
    engine = open_database(place)
    assert everything(engine) == wanted(whole, tables)
    assert check_database(engine).faults == 0
    engine.dispose()


class PowerLossError(RuntimeError):
    """The power went."""


@contextmanager
def broken_at(number: int) -> Iterator[list[str]]:
    """The statement of this number is not made: PowerLossError comes instead."""
    seen: list[str] = []

    def count(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        seen.append(statement)
        if len(seen) == number:
            raise PowerLossError(statement)

    sa.event.listen(sa.Engine, "before_cursor_execute", count)
    try:
        yield seen
    finally:
        sa.event.remove(sa.Engine, "before_cursor_execute", count)


EVERY = tiers.count(8, 1)
"""Of the statements of an upgrade, which ones it is broken off at."""


def test_an_upgrade_that_ends_at_any_statement_leaves_all_as_it_was(place: str, whole: Rows) -> None:
    tables = make_older(place, STEPS[0], whole)
    before = _as_it_is(place)
    number, broken = 1 - EVERY, 0
    while True:
        number += EVERY
        try:
            with broken_at(number):
                open_database(place).dispose()
            break
        except (PowerLossError, DBAPIError):
            broken += 1
            assert _as_it_is(place) == before, number
    assert broken > 10 / EVERY
    engine = open_database(place)
    assert everything(engine) == wanted(whole, tables)
    engine.dispose()


def _as_it_is(url: str) -> dict[str, int | str]:
    """The step, and how many rows each table has."""
    engine = plain_engine(url)
    with engine.connect() as connection:
        names = sa.inspect(connection).get_table_names()
        found: dict[str, int | str] = {
            name: int(connection.execute(sa.text(f'SELECT count(*) FROM "{name}"')).scalar_one()) for name in names
        }
        found["step"] = str(connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar_one())
    engine.dispose()
    return found


KILLED = """
import os, signal, sys
import sqlalchemy as sa
from server.store.engine import open_database
seen = 0
def count(*_):
    global seen
    seen += 1
    if seen == int(sys.argv[2]):
        os.kill(os.getpid(), signal.SIGKILL)
sa.event.listen(sa.Engine, "after_cursor_execute", count)
open_database(sys.argv[1])
"""


@pytest.mark.parametrize(
    ("place", "number"),
    tiers.some([(sort, number) for sort in DATABASES for number in (12, 30)], 1, 2),
    indirect=["place"],
)
def test_a_process_that_is_killed_in_an_upgrade_loses_nothing(place: str, number: int, whole: Rows) -> None:
    tables = make_older(place, STEPS[0], whole)
    words = [sys.executable, "-c", KILLED, place, str(number)]
    done = subprocess.run(words, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False, timeout=60)
    assert done.returncode == -signal.SIGKILL
    engine = open_database(place)
    assert everything(engine) == wanted(whole, tables)
    assert check_database(engine).faults == 0
    engine.dispose()


def test_an_upgrade_without_room_on_the_disk_says_so_and_leaves_all_as_it_was(tmp_path: Path, whole: Rows) -> None:
    place = f"sqlite:///{tmp_path / 'older.sqlite'}"
    tables = make_older(place, STEPS[0], whole)
    before = _as_it_is(place)

    def no_room(connection: Any, _record: Any) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")

    sa.event.listen(sa.pool.Pool, "connect", no_room)
    try:
        with pytest.raises(FullError, match="no space"):
            open_database(place)
    finally:
        sa.event.remove(sa.pool.Pool, "connect", no_room)
    assert _as_it_is(place) == before
    engine = open_database(place)
    assert everything(engine) == wanted(whole, tables)
    engine.dispose()
