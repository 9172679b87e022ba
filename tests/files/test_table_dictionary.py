"""The data dictionary is the one place that says what a column is, and every column is in it."""

from __future__ import annotations

import re

import pandas as pd
import pytest
import sqlalchemy as sa

from server.files.season_tables import seasons
from server.files.season_tables.chunks import to_arrow
from server.files.season_tables.dictionary import ARROW_TYPES, SOURCE, printed, read_dictionary, tables
from server.files.season_tables.frames import KINDS_OF, OF_PIECES, OF_SEASONS, frames
from server.files.season_tables.seasons import open_season
from server.files.season_tables.tallied_tables import OF_EVERYBODY
from server.files.shots_columns import COMPUTED_COLUMNS, IMPORT_COLUMNS
from server.records.schemas import SCHEMAS
from server.store.engine import reading
from server.store.tables import KIND_TABLES
from tests.files.told import TOUR

NAMES = ["shots", "holes", "rounds", "clubs", "setups", "club_summary", "category_summary"]
NAMES += ["practice_sessions", "practice_balls", "players", "courses", "course_effects", "squad_ranks", "hole_effects"]

TOLD = [
    ("player", "players"),
    ("course", "courses"),
    ("shot", "shots"),
    ("round", "rounds"),
    ("club", "clubs"),
    ("setup", "setups"),
    ("session", "practice_sessions"),
    ("practice_ball", "practice_balls"),
]

NOT_TOLD = {
    "shot": {"at"},
    "round": {"course_id", "bag", "closings", "holes_meant", "stopped", "hole_conditions"},
    "session": {"at"},
    "practice_ball": {"at"},
}
"""Fields of records that no table tells: when a shot was made, and when a round was closed, stays with the player's
own log. Where it was made is told of players who share positions; conditions of holes are columns of the table
holes."""

OTHER_NAME = {
    "plays": "hand",
    "shot_order": "shot",
    "label": "club",
    "ball": "golf_ball",
    "name": "player",
    "picked_up": "holed",
    "date": "practised_on",
    "ball_order": "order",
    "end_distance_yd": "end_distance",
}


def test_the_tables_and_how_they_are_made_are_the_same() -> None:
    assert list(tables()) == [*OF_PIECES, *OF_SEASONS, *OF_EVERYBODY] == NAMES


def test_the_shots_table_is_what_import_reads_and_export_adds() -> None:
    assert tables()["shots"].names == IMPORT_COLUMNS + COMPUTED_COLUMNS


@pytest.mark.parametrize(("kind", "told"), TOLD)
def test_every_field_of_a_record_is_exported_or_named_as_left_out(kind: str, told: str) -> None:
    columns = set(KIND_TABLES[kind].c.keys()) - {"record_id", "player_id"} - NOT_TOLD.get(kind, set())
    names = set(tables()[told].names)
    assert {name for name in columns if name not in names and OTHER_NAME.get(name) not in names} == set()


def test_ranges_are_those_of_the_records() -> None:
    seen = 0
    for kind, told in TOLD:
        for column in tables()[told].columns:
            field = SCHEMAS[kind].fields.get(column.name)
            metadata = field.metadata if field is not None else {}
            for name, bound in (("minimum", column.minimum), ("exclusiveMinimum", column.above)):
                if name in metadata:
                    assert bound == metadata[name], f"{told}.{column.name}"
                    assert column.maximum == metadata["maximum"], f"{told}.{column.name}"
                    seen += 1
    assert seen >= 17


@pytest.mark.parametrize("name", NAMES)
def test_every_column_has_a_type_and_a_meaning_and_lengths_have_a_unit(name: str) -> None:
    table = tables()[name]
    assert len(set(table.names)) == len(table.names)
    for column in table.columns:
        assert column.type in ARROW_TYPES
        assert column.meaning[0] != " "
        assert re.search(r"_(yd|mph|c|deg)$", column.name) is None or column.unit, column.name
        assert column.type != "number" or column.unit or column.name == "level", column.name
        assert not (column.one_of and column.type != "string")


@pytest.mark.parametrize("column", ["strokes_gained", "player", "bag_clubs"])
def test_a_column_that_is_not_described_is_named(column: str) -> None:
    words = SOURCE.read_text(encoding="utf-8")
    start = words.index(f"[columns.{column}]")
    cut = words[:start] + words[words.index("[", words.index("\n", start)) :]
    with pytest.raises(ValueError, match=rf"column .*{column}.* is not described"):
        read_dictionary(cut)


@pytest.mark.parametrize(
    ("spoilt", "words"),
    [
        (('[columns.tees]\ntype = "string"', '[columns.tees]\ntype = "words"'), "tees: type 'words' is not one of"),
        (('meaning = "the set of tees"', 'meaning = ""'), "tees: has no meaning"),
        (('one_of = "bases"', 'one_of = "hits"'), "basis: one_of 'hits' is not one of"),
        (('field = "carry_yd"\n\n', 'field = "hit"\n\n'), "carry_yd: 'hit' is no field of a shot"),
        (('field = "left_ft"', 'field = "hit"'), "left_ft: 'hit' is no field of a practice ball"),
        (('key = ["shot_id"]', 'key = ["shot", "moon"]'), "table shots: moon is no column of it"),
    ],
)
def test_what_is_wrong_with_a_dictionary_is_named(spoilt: tuple[str, str], words: str) -> None:
    source = SOURCE.read_text(encoding="utf-8")
    assert source.count(spoilt[0]) == 1
    with pytest.raises(ValueError, match=re.escape(words)):
        read_dictionary(source.replace(*spoilt))


@pytest.mark.parametrize("name", NAMES)
def test_every_frame_has_every_column_of_its_table(
    season_engine: sa.Engine, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tables()[name]
    monkeypatch.setattr(seasons, "PLAYERS_AT_ONCE", 1)
    with reading(season_engine) as connection:
        found = list(frames(open_season(connection, 2026, TOUR), name))
    # of records that only one of the players has there is one frame, and so of holes that only one course has and of
    # ranks; where each player has one course no course adds anything
    together = {*KINDS_OF, "hole_effects", "squad_ranks"}
    assert len(found) >= (1 if name in together else 0 if name == "course_effects" else 2)
    for frame in found:
        assert to_arrow(frame, table).schema.names == list(table.names)


def test_a_frame_that_lacks_a_column_or_a_needed_value_is_refused() -> None:
    table = tables()["setups"]
    day = pd.Timestamp("2026-01-01")
    cells = {"loft_deg": 9.5, "since": day, "until": day}
    frame = pd.DataFrame([{name: cells.get(name, "x") for name in table.names}])
    assert to_arrow(frame, table).num_rows == 1
    with pytest.raises(KeyError, match="table setups: no column shaft"):
        to_arrow(frame.drop(columns="shaft"), table)
    with pytest.raises(ValueError, match="table setups, note: 1 values are missing"):
        to_arrow(frame.assign(note=None), table)
    with pytest.raises(ValueError, match="x"):
        to_arrow(frame.assign(loft_deg="x"), table)


def test_the_printed_form_tells_every_column_of_every_table() -> None:
    words = printed()
    for table in tables().values():
        part = words.split(f"### {table.name}\n")[1].split("### ")[0]
        for column in table.columns:
            assert f"| `{column.name}` | {column.type}" in part
            assert column.meaning in part
