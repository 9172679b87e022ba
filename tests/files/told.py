"""A season for the tests of season tables: the demo player, and one who meets everything that a round can hold."""

from __future__ import annotations

import io
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.files.season_tables.seasons import open_season
from server.files.season_tables.writing import table_pieces
from server.store.engine import open_database, reading
from server.store.log import push
from tests.made_once import copy_demo
from tests.records.made import Season, body_of, default_clubs, par_four

TOUR = load_baseline("tour")
YEAR = 2026


def push_hand_made(engine: sa.Engine) -> Season:
    """Ash: three-part categories, two setups, a club lent and one retired, rounds finished, open, empty and of 2025."""
    made = Season("Ash", category_scheme="three_part")
    clubs = default_clubs(made)
    made.put("club", "club old", body_of("club", label="old iron", sort="iron", retired_on="2025-12-31"))
    made.put("club", "club late", body_of("club", label="late iron", sort="iron", retired_on="2026-03-01"))
    for since, note in (("2025-01-01", "first"), ("2025-06-01", "=second"), ("2026-06-01", "third")):
        body = body_of("setup", club_id=clubs["driver"], since=since, note=note, loft_deg=9.5)
        made.put("setup", f"setup {since}", body)
    holes = {1: (4, 400.0), 2: (4, 380.0), 3: (3, 150.0), 4: (5, 500.0)}
    course = made.put("course", "heath", body_of("course", name='Heath, "the old"'))
    fields = {
        "course_id": course,
        "tees": "white",
        "wind_mph": 12.0,
        "firmness": "firm",
        "note": "@dawn",
        "lengths_taken": "paced",
        "green_speed_ft": 10.5,
        "hole_conditions": [{"hole": 2, "wind": "fresh", "wind_from_deg": 90}, {"hole": 3, "pin_depth": "front"}],
        "closed": True,
    }
    one = made.round("one", holes, played_on="2026-05-01", bag=list(clubs.values()), **fields)
    par_four(made, one, clubs)
    made.shot(one, 2, 1, "tee", 380, clubs["driver"], penalty_strokes=1, penalty_reason="lost")
    made.shot(one, 2, 2, "tee", 380, clubs["driver"], note="-3 left;=1")
    made.shot(one, 2, 3, "green", 6, clubs["putter"], holed=True)
    made.shot(one, 2, 1, "tee", 380, clubs["driver"], ball=2, picked_up=True)
    made.shot(one, 3, 1, "tee", 150, clubs["8 iron"], picked_up=True, right_yd=-3.5)
    two = made.round("two", played_on="2026-07-01", kind="competition", closed=True)
    par_four(made, two, clubs)
    made.round("empty", played_on="2026-08-01")
    old = made.round("old", played_on="2025-08-01", closed=True)
    par_four(made, old, clubs)
    session = made.put("session", "range", body_of("session", note="=mats", closed=True, from_file="range.csv"))
    swing = body_of("practice_ball", session_id=session, club_id=clubs["driver"], carry_yd=231.5, right_yd=-12)
    made.put("practice_ball", "second", swing | {"order": 2, "swing": "full", "strike": "heel"})
    made.put("practice_ball", "first", swing | {"order": 1, "target_yd": 240, "total_yd": 250.0})
    putt = body_of("practice_ball", session_id=session, club_id=clubs["putter"], order=3)
    made.put("practice_ball", "putt", putt | {"length_ft": 8.5, "left_ft": 1.5})
    made.put("session", "chips", body_of("session", date="2026-08-02", place="short_game"))
    made.put("session", "last year", body_of("session", date="2025-12-31", place="putting_green"))
    assert push(engine, made.player_id, "phone", made.changes).quarantined == []
    return made


def season_database(folder: Path) -> sa.Engine:
    """A database with the demo season and Ash."""
    copy_demo(folder / "told.sqlite")
    engine = open_database(f"sqlite:///{folder / 'told.sqlite'}")
    push_hand_made(engine)
    return engine


def written(engine: sa.Engine, table: str, format_: str, year: int = YEAR, players: set[str] | None = None) -> bytes:
    """The file of a table."""
    with reading(engine) as connection:
        return b"".join(table_pieces(open_season(connection, year, TOUR, players), table, format_))


def told(engine: sa.Engine, table: str, **how: object) -> pd.DataFrame:
    """A table as an analyst loads it."""
    return pq.read_table(io.BytesIO(written(engine, table, "parquet", **how))).to_pandas()  # type: ignore[arg-type]
