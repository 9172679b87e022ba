"""Rows go to the driver column by column, and arrive as they were given, on both databases."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa

from server.store.engine import insert_rows, open_database, reading, writing
from server.store.tables import CLUB, SHOT

BARE_SHOT: dict[str, Any] = {column.name: None for column in SHOT.columns} | {
    "player_id": "p",
    "round_id": "r",
    "hole": 1,
    "ball": 1,
    "shot_order": 1,
    "lie": "tee",
    "distance_yd": 400.5,
    "club_id": "c",
    "holed": False,
    "penalty_strokes": 0,
    "picked_up": True,
    "provisional": False,
}


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    """An empty database."""
    found = open_database(database_url)
    yield found
    found.dispose()


def held(engine: sa.Engine, table: sa.Table) -> list[dict[str, Any]]:
    with reading(engine) as connection:
        return [dict(row) for row in connection.execute(sa.select(table).order_by(table.c.record_id)).mappings()]


@pytest.mark.parametrize(
    "filled",
    [[{}, {}], [{"note": "in"}, {}], [{}, {"lon": -3.5, "lat": 56.25}], [{"end_lie": "green"}, {"swing": "full"}]],
    ids=["no row", "the first", "the last", "one each"],
)
def test_columns_that_no_row_some_rows_or_all_fill(engine: sa.Engine, filled: list[dict[str, Any]]) -> None:
    rows = [BARE_SHOT | {"record_id": str(place)} | more for place, more in enumerate(filled)]
    with writing(engine) as connection:
        insert_rows(connection, SHOT, rows)
    found = held(engine, SHOT)
    assert found == rows
    assert {type(row[name]) for row in found for name in ("holed", "picked_up")} == {bool}


def test_days_and_what_is_no_column(engine: sa.Engine) -> None:
    club = {"player_id": "p", "label": "x", "sort": "iron", "loft_deg": None, "on_trial": True, "deleted": False}
    rows = [club | {"record_id": "1", "retired_on": date(2026, 5, 1)}, club | {"record_id": "2", "retired_on": None}]
    with writing(engine) as connection:
        insert_rows(connection, CLUB, [row | {"moon": "full"} for row in rows])
        insert_rows(connection, CLUB, [])
    assert held(engine, CLUB) == rows


@pytest.mark.parametrize("name", ["lie", "holed", "round_id", "distance_yd"])
def test_what_must_be_there_is_still_missed(engine: sa.Engine, name: str) -> None:
    row = BARE_SHOT | {"record_id": "1", name: None}
    with pytest.raises(sa.exc.IntegrityError), writing(engine) as connection:
        insert_rows(connection, SHOT, [row])
    assert held(engine, SHOT) == []


def test_a_row_that_does_not_name_every_column_is_a_mistake(engine: sa.Engine) -> None:
    row = BARE_SHOT | {"record_id": "1"}
    del row["note"]
    with pytest.raises(KeyError), writing(engine) as connection:
        insert_rows(connection, SHOT, [row])
