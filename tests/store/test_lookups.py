"""Lookups by ids find their rows by an index, however many rows other players have."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store.engine import listed, open_database, reading
from server.store.tables import CHANGE, SHOT


@pytest.mark.parametrize(
    ("key", "of_player"), [(SHOT.c.round_id, True), (SHOT.c.record_id, False), (CHANGE.c.record_id, False)]
)
def test_a_lookup_reads_no_table_from_end_to_end(tmp_path: Path, key: sa.Column[str], of_player: bool) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'log.sqlite'}")
    query = listed(tuple(key.table.c), key, True, of_player).compile(engine)
    with reading(engine) as connection:
        values = {"ids": "[]", "of": "nobody"}
        plan = connection.exec_driver_sql(
            f"EXPLAIN QUERY PLAN {query}", tuple(values[name] for name in query.positiontup or ())
        )
        steps = [row[3] for row in plan]
    engine.dispose()
    assert any(step.startswith(f"SEARCH {key.table.name} USING") for step in steps), steps
    assert not any(step.startswith(f"SCAN {key.table.name}") for step in steps), steps
