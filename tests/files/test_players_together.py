"""Seasons of several players read and valued together are, byte for byte, those of each player alone."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.files.season_tables import frames, seasons
from server.files.season_tables.dictionary import tables
from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import open_season
from server.files.season_tables.writing import CSV, PARQUET
from server.game.categories import THREE_PART
from server.store.engine import insert_rows, open_database, reading, writing
from server.store.tables import CLUB, PLAYER_RECORD, ROUND, SETUP, SHOT
from tests.bench import large_season

PLAYERS = 4


@pytest.fixture
def engine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> sa.Engine:
    """Four players as unlike each other as the tables allow: schemes, setups, names, positions, balls, open ends."""
    monkeypatch.setattr(large_season, "ROUNDS_A_PLAYER", 9)
    found = open_database(f"sqlite:///{tmp_path / 'together.sqlite'}")
    large_season.fill(found, PLAYERS)
    draw = np.random.default_rng(3)
    with writing(found) as connection:
        rows = [dict(row) for row in connection.execute(sa.select(SHOT)).mappings()]
        connection.execute(sa.delete(SHOT))
        for place, row in enumerate(rows):
            if place % 40 == 4:
                row |= {"holed": False, "end_lie": "green", "end_distance_yd": draw.uniform(0, 30), "picked_up": True}
            if place % 29 == 0:
                row |= {"club_id": "00000000-0000-4000-8000-00000000dead", "ball": 2, "note": "=1+1"}
            if place % 4 == 0:
                row |= {"lon": 25.1 + place / 1e5, "lat": 58.2, "accuracy_m": 4.0}
            if place % 83 == 0:
                row["shot_order"] = 1
        insert_rows(connection, SHOT, [rows[place] for place in draw.permutation(len(rows)) if place % 97])
        ids = (
            connection.execute(sa.select(PLAYER_RECORD.c.record_id).order_by(PLAYER_RECORD.c.record_id)).scalars().all()
        )
        for player_id, more in (
            (ids[1], {"category_scheme": THREE_PART, "short_game_yd": 80.0}),
            (ids[2], {"name": "Player 0003"}),
            (ids[3], {"category_scheme": THREE_PART}),
        ):
            connection.execute(sa.update(PLAYER_RECORD).where(PLAYER_RECORD.c.record_id == player_id).values(more))
        clubs = connection.execute(sa.select(CLUB.c.record_id, CLUB.c.player_id).order_by(CLUB.c.record_id)).all()
        setups = [(club, since) for club in clubs[::3] for since in (1, 6, 11)]
        insert_rows(
            connection,
            SETUP,
            [
                {"record_id": f"{place:08x}-0009-4000-8000-000000000000", "player_id": owner, "club_id": club_id}
                | {"since": date(large_season.YEAR, month, 5), "note": f"from {month}"}
                | {"loft_deg": None, "shaft": None, "ball": None}
                for place, ((club_id, owner), month) in enumerate(setups)
            ],
        )
        connection.execute(
            sa.update(ROUND)
            .where(ROUND.c.record_id.like("%bb8"))
            .values(deleted=True, holes_meant=9, hole_conditions='[{"hole": 2, "wind": "light", "wind_from_deg": 30}]')
        )
    return found


def written(engine: sa.Engine, folder: Path) -> dict[str, bytes]:
    with reading(engine) as connection:
        season = open_season(connection, large_season.YEAR, load_baseline("tour"))
        paths = write_tables(season, folder, list(tables()), [CSV, PARQUET], package=True)
    return {path.name: path.read_bytes() for path in paths}


def test_together_and_alone_are_the_same_bytes(
    engine: sa.Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(frames, "sharing_positions", lambda _, ids: {one for one in ids if int(one[:8], 16) % 2})
    together = written(engine, tmp_path / "together")
    monkeypatch.setattr(seasons, "PLAYERS_AT_ONCE", 1)
    assert written(engine, tmp_path / "alone") == together
    monkeypatch.setattr(seasons, "SHOTS_AT_ONCE", 100)
    assert written(engine, tmp_path / "by days") == together
    shots = together["shots_2026.csv"]
    words = (b"long_game", b"off_the_tee", b"from 1", b"58.2", b"'=1+1", b"shot_missing")
    assert [word for word in words if word not in shots] == []
    engine.dispose()
