"""An import that is killed while the indexes of the log are away leaves nothing: it is as if it had not begun."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.files.shots_stream import import_files
from server.store.engine import open_database, reading
from server.store.rebuild import check_database
from server.store.tables import CHANGE
from tests.files.killed_imports import MOMENTS
from tests.files.tables import drive_and_putt, table

ROOT = Path(__file__).resolve().parents[2]


def held(engine: sa.Engine) -> tuple[list[tuple[str, str | None]], list[str]]:
    """The indexes of the database in its words, and the records that the log speaks of; asked through an index."""
    with reading(engine) as connection:
        assert connection.execute(sa.text("PRAGMA integrity_check")).scalars().all() == ["ok"]
        indexes = connection.execute(sa.text("SELECT name, sql FROM sqlite_master WHERE type = 'index' ORDER BY name"))
        records = sa.select(CHANGE.c.record_id).order_by(CHANGE.c.record_id)
        plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {records.compile(dialect=engine.dialect)}")
        assert "change_by_record" in plan.one()[-1]
        return [(row.name, row.sql) for row in indexes], list(connection.execute(records).scalars())


@pytest.mark.parametrize("into", ["some records", "nothing"])
def test_an_import_killed_while_indexes_are_away_is_as_if_it_had_not_begun(
    new_database: Callable[[str, Path], str], tmp_path: Path, into: str
) -> None:
    before, later = tmp_path / "before.csv", tmp_path / "later.csv"
    before.write_bytes(table(drive_and_putt()))
    shots = [one for hole in range(1, 19) for one in drive_and_putt(player="Ash", hole=hole, note="n" * 1500)]
    later.write_bytes(table(shots + [one | {"player": "Bramble"} for one in shots]))

    url, first = new_database("sqlite", tmp_path), tmp_path / "log.sqlite"
    engine = open_database(url)
    if into == "some records":
        import_files(engine, [before])
    as_before = held(engine)
    engine.dispose()
    databases = [tmp_path / f"{place}.sqlite" for place in range(len(MOMENTS))]
    for database in databases:
        shutil.copy(first, database)
    whole = open_database(url)
    import_files(whole, [later])
    as_whole = held(whole)
    whole.dispose()
    assert as_whole != as_before

    words = [sys.executable, "-m", "tests.files.killed_imports", str(later), *map(str, databases)]
    done = subprocess.run(
        words, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, check=True, timeout=60
    )
    there, for_readers, written = zip(*map(json.loads, done.stdout.splitlines()), strict=True)
    assert there == (0, 0, 1, 3)
    # whoever has records reads them meanwhile; an empty database is written itself
    assert for_readers == ((3, 3, 3, 3) if into == "some records" else (3, None, None, None))
    assert min(written[1:]) > written[0] + 100_000  # half an import was on disk
    assert list(tmp_path.glob(".pencilbag-import-*")) == []

    for database in databases:
        journals = [database.with_name(f"{database.name}-{of}").exists() for of in ("wal", "journal")]
        assert journals == [into == "some records", into == "nothing"]
        engine = open_database(f"sqlite:///{database}")
        assert held(engine) == as_before
        assert check_database(engine).faults == 0
        assert import_files(engine, [later]).rows == len(shots) * 2
        assert held(engine) == as_whole
        assert check_database(engine).faults == 0
        engine.dispose()
