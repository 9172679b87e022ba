"""A season read column by column is the same frame, to the bit, as the same season read row by row."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
import sqlalchemy as sa

from server.records.shot_fields import CHOICE, SHOT_FIELDS
from server.store import columns, season_shots
from server.store.columns import NotExactError, read_columns
from server.store.engine import insert_rows, reading, writing
from server.store.frames import Selection, shots_frame
from server.store.season_rows import holes_frame, rounds_frame
from server.store.season_shots import season_shots_frame
from server.store.tables import ROUND, SHOT
from tests.bench.large_season import fill

FIRST_DAY, LAST_DAY = date(2026, 1, 1), date(2026, 12, 31)
NOTES = ('he said "go", twice', "two\nlines, one\r\nshot", "", "õ ü 高", "1", None)
WORDS = {field.name: (None, *field.one_of) for field in SHOT_FIELDS if field.type == CHOICE and field.nullable}


def unequal(engine: sa.Engine) -> str:
    """One player's season, made as unlike the usual one as the tables allow; the player's id."""
    fill(engine, 2)
    draw = np.random.default_rng(52)
    with writing(engine) as connection:
        rows = [dict(row) for row in connection.execute(sa.select(SHOT)).mappings()][::7]
        connection.execute(sa.delete(SHOT))
        for place, row in enumerate(rows):
            row |= {name: words[place % len(words)] for name, words in WORDS.items()}
            row |= {"note": NOTES[place % len(NOTES)], "provisional": place % 7 == 0, "ball": 1 + (place % 11 == 0)}
            row |= {"distance_yd": float(10 ** draw.uniform(-3, 2.8)), "penalty_strokes": place % 3}
            row |= {"end_distance_yd": None if place % 2 else float(draw.uniform(0, 700)), "picked_up": place % 5 == 0}
            row |= {"right_yd": None if place % 4 else -float(draw.uniform(0, 99)), "long_yd": 0.0}
            if place % 13 == 0:
                # a second device gave the number once more
                row["shot_order"] = 1
        insert_rows(connection, SHOT, [rows[place] for place in draw.permutation(len(rows))])
        connection.execute(
            sa.update(ROUND).where(ROUND.c.record_id.like("%1")).values(kind="competition", wind_mph=7.3)
        )
    return str(rows[0]["player_id"])


def both(engine: sa.Engine, selection: Selection) -> tuple[pd.DataFrame, pd.DataFrame]:
    with reading(engine) as connection:
        rows = shots_frame(connection, selection).drop(columns="at")
        return rows, by_columns(connection, selection)[list(rows.columns)]


def by_columns(connection: sa.Connection, selection: Selection) -> pd.DataFrame:
    rounds = rounds_frame(connection, selection)
    return season_shots_frame(connection, selection, rounds, holes_frame(connection, selection, rounds))


def assert_same(rows: pd.DataFrame, found: pd.DataFrame) -> None:
    assert len(rows)
    for name in rows:
        if rows[name].dtype == "category":
            assert list(rows[name].cat.categories) == list(found[name].cat.categories), name
    pd.testing.assert_frame_equal(rows, found, check_dtype=False, check_categorical=False, check_exact=True)


def test_columns_are_the_rows_to_the_bit(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    player_id = unequal(engine)
    monkeypatch.delattr(season_shots, "shots_frame")
    for days in ((FIRST_DAY, LAST_DAY), (date(2026, 3, 1), date(2026, 3, 20))):
        rows, found = both(engine, Selection(player_id, *days))
        assert_same(rows, found)
    assert rows["note"].nunique() == len(NOTES) - 1


def test_several_players_stand_in_the_order_asked_for(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    unequal(engine)
    with reading(engine) as connection:
        ids = (
            connection.execute(sa.select(SHOT.c.player_id).distinct().order_by(SHOT.c.player_id.desc())).scalars().all()
        )
        alone = [shots_frame(connection, Selection(one, FIRST_DAY, LAST_DAY)) for one in ids]
        monkeypatch.delattr(season_shots, "shots_frame")
        found = by_columns(connection, Selection(None, FIRST_DAY, LAST_DAY, player_ids=tuple(ids)))
    assert len(ids) == 2
    start = 0
    for rows in alone:
        mine = found.iloc[start : start + len(rows)].reset_index(drop=True)
        start += len(rows)
        expected = rows[[name for name in found if name in rows]]
        for name in expected:
            assert [*expected[name].astype("object").fillna("")] == [*mine[name].astype("object").fillna("")], name
    assert start == len(found)


def test_what_does_not_go_by_columns_is_read_by_rows(engine: sa.Engine) -> None:
    player_id = unequal(engine)
    with writing(engine) as connection:
        first = sa.select(sa.func.min(SHOT.c.record_id)).where(SHOT.c.player_id == player_id).scalar_subquery()
        connection.execute(sa.update(SHOT).where(SHOT.c.record_id == first).values(carry_yd=5e9, shot_order=4000))
    assert_same(*both(engine, Selection(player_id, FIRST_DAY, LAST_DAY)))
    if engine.dialect.name == "sqlite":
        with reading(engine) as connection, pytest.raises(NotExactError):
            read_columns(connection, sa.select(SHOT.c.carry_yd))


def test_a_number_too_long_for_a_byte_is_read_all_the_same(engine: sa.Engine) -> None:
    player_id = unequal(engine)
    with writing(engine) as connection:
        connection.execute(sa.update(SHOT).where(SHOT.c.shot_order == 5).values(shot_order=1234))
    rows, found = both(engine, Selection(player_id, FIRST_DAY, LAST_DAY))
    assert_same(rows, found)
    assert found["order"].max() == 1234


def test_usual_lengths_go_as_one_integer_and_come_back_to_the_bit(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(engine, 1)
    draw = np.random.default_rng(8)
    with writing(engine) as connection:
        rows = [dict(row) for row in connection.execute(sa.select(SHOT)).mappings()][:900]
        connection.execute(sa.delete(SHOT))
        for place, row in enumerate(rows):
            row["distance_yd"] = (float(draw.uniform(0, 1)) + 0.004, float(draw.uniform(1, 1000)), 1.0, 0.5)[place % 4]
            row["right_yd"] = None if place % 3 else -row["distance_yd"]
            row["long_yd"] = (0.0, 1023.0, -0.00390625)[place % 3]
        insert_rows(connection, SHOT, rows)
    # what takes two integers, or rows, is not used
    monkeypatch.delattr(columns, "_cut_to_units")
    monkeypatch.delattr(season_shots, "shots_frame")
    assert_same(*both(engine, Selection(str(rows[0]["player_id"]), FIRST_DAY, LAST_DAY)))


def test_no_rows_have_the_columns(engine: sa.Engine) -> None:
    with reading(engine) as connection:
        found = read_columns(connection, sa.select(SHOT.c.hole, SHOT.c.distance_yd, SHOT.c.lie))
    assert (found.num_rows, found.column_names) == (0, ["hole", "distance_yd", "lie"])
    assert found.schema.field("distance_yd").type == pa.float64()
    none = both(engine, Selection("nobody", FIRST_DAY, LAST_DAY))
    assert [len(frame) for frame in none] == [0, 0]
