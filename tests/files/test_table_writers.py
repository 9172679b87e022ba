"""CSV, Parquet and XLSX of the season tables, read by other readers: same rows, types and units, harmless words."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from server import VERSION
from server.files.season_tables import xlsx_writer
from server.files.season_tables.chunks import even_chunks
from server.files.season_tables.csv_writer import csv_pieces
from server.files.season_tables.dictionary import tables
from server.files.season_tables.xlsx_writer import TooManyRowsError, xlsx_pieces
from server.files.spreadsheet_cells import freed, guarded, is_at_risk
from tests.files.told import told, written

NAMES = list(tables())
Held = Callable[[str, str], bytes]
RUNS = re.compile("(^|[;\t\r\n])[-=+@\t\r]")
"""What a spreadsheet may take for the start of a formula."""


@pytest.fixture(scope="module")
def held(season_engine: sa.Engine) -> Held:
    """The season's table of a name in a format, written once."""
    return cache(lambda name, format_: written(season_engine, name, format_))


def cells_of(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))


def plain(value: Any, type_: str, blank_for_no: bool) -> str:
    """A value as a CSV holds it."""
    if value is None or pd.isna(value):
        return ""
    if type_ == "boolean":
        return "yes" if value else ("" if blank_for_no else "no")
    return guarded(str(value)) if type_ == "string" else str(value)


@pytest.mark.parametrize("name", NAMES)
def test_the_csv_holds_the_rows_of_the_parquet(held: Held, name: str) -> None:
    table = tables()[name]
    rows = pq.read_table(io.BytesIO(held(name, "parquet"))).to_pylist()
    content = held(name, "csv")
    header, *lines = cells_of(content)
    assert header == list(table.names)
    assert len(lines) == len(rows)
    assert len(rows) > 1 or name == "course_effects", "one course cannot be separated from its player"
    for line, row in zip(lines, rows, strict=True):
        for cell, column in zip(line, table.columns, strict=True):
            value = row[column.name]
            if column.type == "number" and value is not None:
                assert float(cell) == value, "a number is written so that it reads back exactly"
                assert re.search("[.e]", cell)
            else:
                assert cell == plain(value, column.type, column.blank_for_no), column.name
    assert not content.startswith(b"\xef\xbb\xbf")
    assert content.endswith(b"\r\n")


def test_the_csv_is_rfc_4180(held: Held) -> None:
    """Lines end in CRLF, quotes only where there is a quote, a comma or a line end, and doubled inside."""
    content = held("rounds", "csv").decode("utf-8")
    assert '"Heath, ""the old"""' in content
    assert content.count("\n") == content.count("\r\n") == len(cells_of(content.encode()))
    assert content.startswith("player,player_id,")


@pytest.mark.parametrize("name", NAMES)
def test_no_cell_of_a_csv_runs_in_a_spreadsheet(held: Held, name: str) -> None:
    table = tables()[name]
    _, *lines = cells_of(held(name, "csv"))
    reported_free = 0
    for line in lines:
        for cell, column in zip(line, table.columns, strict=True):
            if column.type == "string":
                assert not RUNS.search(cell), f"{column.name}: {cell!r}"
                reported_free += cell != freed(cell)
            elif cell.startswith("-"):
                float(cell)
    none = {"clubs", "holes", "club_summary", "category_summary", "practice_balls", "players"}
    assert reported_free > 0 or name in none | {"courses", "course_effects", "squad_ranks", "hole_effects"}


ODD = st.text(alphabet="'=+-@\t\r\n;, aé", max_size=8)


@given(words=ODD)
def test_guarded_words_never_run_and_come_back_exactly(words: str) -> None:
    cell = guarded(words)
    assert freed(cell) == words
    assert not RUNS.search(cell)
    assert (cell == words) == (not is_at_risk(words))
    assert cell.replace("'", "") == words.replace("'", "")


@given(words=st.lists(ODD, min_size=1, max_size=4))
def test_any_words_survive_a_csv(words: list[str]) -> None:
    table = tables()["setups"]
    day = pd.Timestamp("2026-01-01")
    cells = {"loft_deg": 9.5, "since": day, "until": pd.NaT}
    rows = [{name: cells.get(name, f"x{place}") for name in table.names} for place in range(len(words))]
    frame = pd.DataFrame(rows).assign(note=words)
    content = b"".join(csv_pieces(table, even_chunks([frame], table)))
    place = table.names.index("note")
    assert [freed(line[place]) for line in cells_of(content)[1:]] == words


@pytest.mark.parametrize("name", NAMES)
def test_the_parquet_schema_and_its_metadata(held: Held, name: str) -> None:
    table = tables()[name]
    file = pq.ParquetFile(io.BytesIO(held(name, "parquet")))
    schema = file.schema_arrow
    assert schema.names == list(table.names)
    kinds = {"string": pa.string(), "integer": pa.int64(), "number": pa.float64(), "boolean": pa.bool_()}
    for column in table.columns:
        field = schema.field(column.name)
        assert field.type == kinds.get(column.type, pa.date32())
        assert field.nullable is not column.required
        said = {key.decode(): words.decode() for key, words in field.metadata.items()}
        assert (said["meaning"], said.get("unit", "")) == (column.meaning, column.unit)
    about = {key.decode(): words.decode() for key, words in schema.metadata.items()}
    assert about == {
        "title": table.title,
        "table": name,
        "season": "2026",
        "baseline_id": "tour",
        "baseline_version": "2012.1+2011.1",
        "baseline_title": "Tour players: 2012 table off the green, 2011 table on it",
        "tool": "Pencilbag",
        "tool_version": VERSION,
    }


@pytest.mark.parametrize("name", NAMES)
def test_the_xlsx_holds_the_rows_of_the_parquet(held: Held, name: str) -> None:
    table = tables()[name]
    rows = pq.read_table(io.BytesIO(held(name, "parquet"))).to_pylist()
    book = openpyxl.load_workbook(io.BytesIO(held(name, "xlsx")))
    sheet = book[name]
    assert sheet.freeze_panes == "A3"
    lines = list(sheet.iter_rows())
    assert [cell.value for cell in lines[0]] == list(table.names)
    assert [cell.value or "" for cell in lines[1]] == [column.unit for column in table.columns]
    assert len(lines) - 2 == len(rows)
    for cells, row in zip(lines[2:], rows, strict=True):
        for cell, column in zip(cells, table.columns, strict=True):
            value = row[column.name]
            if column.type == "date" and value is not None:
                assert cell.value == datetime(value.year, value.month, value.day)  # noqa: DTZ001
                assert cell.number_format == "yyyy-mm-dd"
            elif column.type == "number" and value is not None:
                # the file holds 16 digits
                assert math.isclose(cell.value, value, rel_tol=1e-15)
            elif value is not None:
                assert cell.value == value, column.name
            else:
                assert cell.value is None
            assert cell.data_type != "f", "no cell is a formula"
            if column.is_free_text and value is not None:
                assert bool(cell.quotePrefix) is is_at_risk(value)
    about = [[cell for cell in line if cell is not None] for line in book["about"].iter_rows(values_only=True)]
    assert ["baseline_version", "2012.1+2011.1"] in about
    assert [line[0] for line in about[-len(table.columns) :]] == list(table.names)


def test_the_xlsx_keeps_words_that_would_run_as_words(held: Held) -> None:
    sheet = openpyxl.load_workbook(io.BytesIO(held("setups", "xlsx")))["setups"]
    place = tables()["setups"].names.index("note") + 1
    found = [sheet.cell(row, place) for row in range(3, sheet.max_row + 1)]
    assert [cell.data_type for cell in found if cell.value == "=second"] == ["s"]


def test_more_rows_than_a_sheet_holds_are_refused(season_engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_writer, "MOST_ROWS", 3)
    assert written(season_engine, "rounds", "xlsx", players={told(season_engine, "rounds")["player_id"][0]})
    with pytest.raises(TooManyRowsError, match="a sheet holds 3 rows; take csv or parquet"):
        written(season_engine, "rounds", "xlsx")


@pytest.mark.parametrize("format_", ["csv", "parquet", "xlsx"])
def test_the_same_season_is_the_same_file_on_another_day(season_engine: sa.Engine, held: Held, format_: str) -> None:
    for name in ("shots", "rounds", "setups"):
        first = held(name, format_)
        with freeze_time("2027-03-04 21:59:58"):
            assert written(season_engine, name, format_) == first, name


def test_an_empty_table_is_a_header(season_engine: sa.Engine, tmp_path: Path) -> None:
    nobody: dict[str, Any] = {"players": set()}
    table = tables()["shots"]
    assert written(season_engine, "shots", "csv", **nobody) == (",".join(table.names) + "\r\n").encode()
    assert told(season_engine, "shots", **nobody).shape == (0, len(table.names))
    path = tmp_path / "empty.xlsx"
    path.write_bytes(written(season_engine, "shots", "xlsx", **nobody))
    assert openpyxl.load_workbook(path)["shots"].max_row == 2


def test_odd_characters_reach_the_sheet_unchanged() -> None:
    table = tables()["setups"]
    day = pd.Timestamp("2026-01-01")
    words = ["a\x01b", "<&>\"'", " two  spaces ", "line\nend", "_x000D_", "Ä\N{GOLFER}"]
    rows = [{name: {"loft_deg": 9.5, "since": day, "until": day}.get(name, "x") for name in table.names} for _ in words]
    frame = pd.DataFrame(rows).assign(note=words)
    content = b"".join(xlsx_pieces(table, even_chunks([frame], table), {}))
    sheet = openpyxl.load_workbook(io.BytesIO(content))["setups"]
    place = table.names.index("note") + 1
    assert [
        openpyxl.utils.escape.unescape(sheet.cell(row, place).value) for row in range(3, sheet.max_row + 1)
    ] == words
