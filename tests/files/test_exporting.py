"""Export writes what import reads, and import reads it back to the same numbers."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4, uuid5

import pandas as pd
import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.strokes_gained.scorecard import hole_scores
from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import open_season
from server.files.shots_columns import COMPUTED_COLUMNS, IMPORT_COLUMNS
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.game.categories import CategoryScheme
from server.questions.valued_shots import valued_shots
from server.store.engine import open_database, reading, writing
from server.store.frames import Selection
from server.store.log import push
from server.store.tables import KIND_TABLES, PLAYER
from tests.files.playing import rounds
from tests.files.tables import read_back, row, table
from tests.records.made import Season, body_of, default_clubs, par_four
from tests.tiers import count

EXACT = 1e-9
TOUR = load_baseline("tour")


def valued(engine: sa.Engine, baseline: Baseline = TOUR) -> pd.DataFrame:
    with reading(engine) as connection:
        return valued_shots(connection, Selection(), baseline, CategoryScheme())


def exported(engine: sa.Engine, folder: Path) -> bytes:
    return written(engine, folder).read_bytes()


def written(engine: sa.Engine, folder: Path) -> Path:
    with reading(engine) as connection:
        (path,) = write_tables(open_season(connection, 2026, TOUR), folder, ["shots"], ["csv"], package=False)
    return path


def without_ids(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    return [{name: cell for name, cell in one.items() if not name.endswith("_id")} for one in rows]


def forget_everything(engine: sa.Engine) -> None:
    """Empty every table, so that one database serves many examples."""
    with writing(engine) as connection:
        for table in KIND_TABLES.values():
            connection.execute(sa.delete(table))
        for name in ("change", "quarantine"):
            connection.exec_driver_sql(f"DELETE FROM {name}")
        connection.execute(sa.delete(PLAYER))


def by_hand(engine: sa.Engine) -> None:
    """A season from the phone: metres and feet, provisional, picked up, unfinished, two rounds of one day."""
    made = Season()
    clubs = default_clubs(made)
    morning = made.round("morning", {1: (4, 400.0), 2: (4, 366 / 0.9144), 3: (4, 400.0), 4: (5, 500.0)})
    par_four(made, morning, clubs)
    made.shot(morning, 2, 1, "tee", 366 / 0.9144, clubs["driver"], penalty_strokes=1, penalty_reason="lost")
    made.shot(morning, 2, 2, "tee", 366 / 0.9144, clubs["driver"], note='said "no",\nleft')
    made.shot(morning, 2, 3, "green", 3.3 / 0.9144, clubs["putter"], holed=True)
    made.shot(morning, 2, 1, "tee", 366 / 0.9144, clubs["driver"], ball=2, provisional=True, picked_up=True)
    made.shot(morning, 3, 1, "tee", 400, clubs["driver"], picked_up=True, end_lie="green", end_distance_yd=4.4 / 0.9144)
    made.shot(morning, 4, 1, "tee", 500, clubs["driver"])
    evening = made.round("evening")
    par_four(made, evening, clubs)
    assert push(engine, made.player_id, "phone", made.changes).quarantined == []


def test_the_table_has_the_import_columns_and_the_computed_ones(engine: sa.Engine, tmp_path: Path) -> None:
    by_hand(engine)
    path = written(engine, tmp_path / "new" / "folder")
    assert path.name == "shots_2026.csv"
    content = path.read_bytes()
    assert content.count(b"\r\n") == content.count(b"\n") - 1, "lines end as RFC 4180 has it; the note holds one more"
    rows = read_back(content)
    assert tuple(rows[0]) == IMPORT_COLUMNS + COMPUTED_COLUMNS
    assert len(rows) == 14
    evening = [one for one in rows if one["note"] == "" and one["hole"] == "1"][:4]
    assert [(one["distance"], one["unit"], one["holed"]) for one in evening] == [
        ("400.0", "yd", ""),
        ("150.0", "yd", ""),
        ("18.0", "ft", ""),
        ("2.0", "ft", "yes"),
    ]
    assert [float(one["strokes_gained"]) for one in evening] == pytest.approx(
        [3.99 - 2.945 - 1, 2.945 - 1.834 - 1, 1.834 - 1.01 - 1, 1.01 - 1], abs=EXACT
    )
    assert {one["baseline"] for one in rows} == {"tour 2012.1+2011.1"}
    assert list(path.parent.iterdir()) == [path]


def test_a_phone_season_comes_back_to_the_same_numbers(engine: sa.Engine, tmp_path: Path) -> None:
    by_hand(engine)
    first = exported(engine, tmp_path / "one")
    other = open_database(f"sqlite:///{tmp_path / 'other.sqlite'}")
    done = import_table(other, read_table(first))
    assert (done.rows, done.rounds, done.notes) == (14, 2, [])
    second = exported(other, tmp_path / "two")
    as_sets = [
        sorted(json.dumps(one, sort_keys=True) for one in without_ids(read_back(content)))
        for content in (first, second)
    ]
    assert as_sets[0] == as_sets[1]
    kept = ["hole", "ball", "order", "distance_yd", "strokes_gained", "entered_end_distance_yd"]
    frames = [valued(one)[kept].sort_values(kept).reset_index(drop=True) for one in (engine, other)]
    pd.testing.assert_frame_equal(*frames, check_exact=True)
    assert import_table(other, read_table(second)).changes == 0
    other.dispose()


def test_metres_on_the_green_survive_though_feet_would_not_hold_them(engine: sa.Engine, tmp_path: Path) -> None:
    metres = [number / 10 for number in range(1, 450)]
    lost = [length for length in metres if length / 0.9144 * 3 / 3 != length / 0.9144]
    assert len(lost) > 20, "the case that this test is about"
    rows = []
    for hole, start in enumerate(range(0, len(metres), 90), start=1):
        rows.append(row(hole=hole, unit="yd"))
        for number, length in enumerate(metres[start : start + 90], start=2):
            rows.append(row(hole=hole, shot=number, lie="green", distance=length, unit="m", club="putter"))
        rows[-1]["holed"] = "yes"
    import_table(engine, read_table(table(rows)))
    before = valued(engine)["distance_yd"].tolist()
    assert sorted(before)[: len(metres)] == sorted(length / 0.9144 for length in metres)
    content = exported(engine, tmp_path)
    again = [one["distance_yd"] for one in read_table(content).rows]
    assert again == before
    assert import_table(engine, read_table(content)).changes == 0


@pytest.mark.parametrize("note", ["=1+1", "-3", "'=1+1", "''-", "left;=1+1", "two\n+three", "don't"])
def test_words_that_a_spreadsheet_would_run_are_harmless_in_the_file_and_come_back_as_they_were(
    engine: sa.Engine, tmp_path: Path, note: str
) -> None:
    made = Season("@Wren")
    club = made.club("+driver", "driver")
    course = made.put("course", "heath", body_of("course", name="=Heath"))
    fields = {"course_id": course, "tees": "-", "closed": True}
    made.shot(made.round("one", **fields), 1, 1, "tee", 400, club, holed=True, note=note, right_yd=-3.5)
    assert push(engine, made.player_id, "phone", made.changes).quarantined == []
    content = exported(engine, tmp_path)
    (one,) = read_back(content)
    assert (one["player"], one["course"], one["tees"], one["club"]) == ("'@Wren", "'=Heath", "'-", "'+driver")
    assert not re.search("(^|[;\t\r\n])[-=+@\t\r]", one["note"])
    assert one["right_yd"] == "-3.5"
    (taken,) = read_table(content).rows
    assert (taken["player"], taken["course"], taken["tees"], taken["club"]) == ("@Wren", "=Heath", "-", "+driver")
    assert (taken["note"], taken["right_yd"]) == (note, -3.5)


@pytest.fixture(scope="module")
def two_databases(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Two databases, emptied before each example."""
    folder = tmp_path_factory.mktemp("examples")
    engines = [open_database(f"sqlite:///{folder / name}.sqlite") for name in ("first", "second")]
    yield *engines, folder
    for engine in engines:
        engine.dispose()


@settings(
    max_examples=count(8, 60), deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(rows=rounds())
def test_any_legal_round_survives_import_export_import(two_databases: Any, rows: list[dict[str, Any]]) -> None:
    """Import, export, import: the same tables, and on every holed ball of record strokes gained = E(first) - score."""
    first, second, folder = two_databases
    for engine in (first, second):
        forget_everything(engine)
    read = read_table(table(rows))
    import_table(first, read)
    once = exported(first, folder)
    import_table(second, read_table(once))
    twice = exported(second, folder)
    # the player is made with one id from one name, so that even the ids agree
    assert once == twice
    assert import_table(first, read_table(once)).changes == 0

    frame = valued(first)
    assert len(frame) == len(rows)
    key = ["hole", "ball", "order"]
    meant = sorted(
        (one["hole"], one["ball"], one["order"], one["distance_yd"], one["end_distance_yd"]) for one in read.rows
    )
    found = frame.sort_values(key)
    for kept, (*_, distance, end) in zip(found.to_dict("records"), meant, strict=True):
        assert kept["distance_yd"] == distance
        assert kept["entered_end_distance_yd"] == end or (end is None and pd.isna(kept["entered_end_distance_yd"]))

    scores = hole_scores(frame)
    for (_, hole), score in scores[scores["complete"] & scores["unvalued"].eq(0)].iterrows():
        ball = frame[frame["hole"].eq(hole) & frame["ball"].eq(1)].sort_values("order")
        start = float(TOUR.expected("tee", ball["distance_yd"].iloc[0])[0])
        strokes = len(ball) + int(ball["penalty_strokes"].sum())
        assert score["strokes"] == strokes
        assert float(ball["strokes_gained"].sum()) == pytest.approx(start - strokes, abs=EXACT)


def test_ids_follow_from_names(engine: sa.Engine) -> None:
    """The same table gives the same ids on any machine, so two databases can meet later."""
    import_table(engine, read_table(table([row(holed="yes")])))
    (shot,) = valued(engine).to_dict("records")
    player = uuid5(UUID("6f1b5a52-3c0e-5a0f-9d5e-0d2f6c1f7a11"), "player|Wren Quillfeather")
    assert shot["player_id"] == str(player)
    assert shot["round_id"] == str(uuid5(player, "round|2026-05-01|practice|None|None"))
    assert shot["player_id"] != str(uuid4())
