"""export --package and --format, baselines by version, and the printed dictionary."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from click.testing import Result
from frictionless import validate

from server.files.season_tables import xlsx_writer
from server.files.season_tables.dictionary import tables
from tests.files.tables import drive_and_putt, row, table

Run = Callable[..., Result]
Write = Callable[..., Path]
EXACT = 1e-9
FORMATS = ("csv", "parquet", "xlsx")


@pytest.fixture
def played(run: Run, file: Write) -> Run:
    """Two players with a round each."""
    rows = [*drive_and_putt(), *drive_and_putt(player="Birch", played_on="2026-06-01")]
    assert run("import", file(table(rows))).exit_code == 0
    return run


def test_the_package_is_valid_and_its_tables_give_the_summaries(played: Run, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    done = played("export", "--season", "2026", "--to", folder, "--package", "--format", "all")
    assert (done.exit_code, done.stderr) == (0, "")
    first, *others = done.stdout.splitlines()
    assert first == f"4 shots in 2 rounds written to {folder / 'shots_2026.csv'}"
    assert len(others) == 3 * len(tables()) + 1
    assert {path.name for path in folder.iterdir()} == {
        "datapackage.json",
        "season.lock.json",
        *(f"{name}_2026.{format_}" for name in tables() for format_ in FORMATS),
    }
    assert validate(str(folder / "datapackage.json")).valid
    for by in ("club", "category"):
        documents = json.loads(played("summary", "--everyone", "--by", by, "--json").stdout)
        expected = {
            (document["player"], line[by]): line["strokes_gained"]
            for document in documents
            for line in document["rows"]
        }
        assert len(expected) == 4
        for found in (
            pd.read_csv(folder / f"{by}_summary_2026.csv"),
            pd.read_parquet(folder / f"{by}_summary_2026.parquet"),
            pd.read_excel(folder / f"{by}_summary_2026.xlsx", skiprows=[1]),
        ):
            told = found.set_index(["player", by])["strokes_gained"].to_dict()
            assert told == pytest.approx(expected, abs=EXACT)


@pytest.mark.parametrize("format_", FORMATS)
def test_without_package_the_shots_alone_are_written(played: Run, tmp_path: Path, format_: str) -> None:
    folder = tmp_path / "out"
    done = played("export", "--season", "2026", "--to", folder, "--format", format_, "--player", "Birch")
    assert done.stdout == f"2 shots in 1 rounds written to {folder / f'shots_2026.{format_}'}\n"
    assert [path.name for path in folder.iterdir()] == [f"shots_2026.{format_}"]


def test_a_package_twice_is_the_same_and_another_season_keeps_out(played: Run, file: Write, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    how = ("--to", folder, "--package", "--format", "all")
    played("export", "--season", "2026", *how)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert played("export", "--season", "2026", *how).stderr == ""
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    played("import", file(table([row(played_on="2025-05-01", holed="yes")])))
    refused = played("export", "--season", "2025", *how)
    assert refused.exit_code == 2
    assert f"--to: {folder / 'datapackage.json'} is of season 2026; choose another folder for 2025" in refused.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_another_version_of_the_baseline_is_refused_or_reported(played: Run, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    named = played("export", "--season", "2026", "--to", folder, "--baseline", "tour@2012.1+2011.1")
    assert named.exit_code == 0
    wrong = played("export", "--season", "2026", "--to", folder, "--baseline", "tour@2009")
    assert (wrong.exit_code, wrong.stdout) == (2, "")
    assert "baseline: tour is here in version 2012.1+2011.1, not in 2009: its values may differ" in wrong.stderr
    own = tmp_path / "own.csv"
    lies = [f"{lie},{yards},yd,{2 + yards / 200}" for lie in ("tee", "fairway") for yards in (50, 600)]
    lines = ["lie,distance,unit,expected_strokes", *lies, "green,3,ft,1.1", "green,90,ft,2.4"]
    own.write_text("\n".join(lines), encoding="utf-8")
    played("export", "--season", "2026", "--to", folder, "--package")
    done = played("export", "--season", "2026", "--to", folder, "--package", "--baseline", own)
    assert done.exit_code == 0
    assert done.stderr.startswith("the package there was made with tour 2012.1+2011.1; now it is own ")
    found = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    assert found["baseline"]["id"] == "own"
    assert {cell.split()[0] for cell in pd.read_csv(folder / "shots_2026.csv")["baseline"]} == {"own"}


def test_a_sheet_that_is_too_small_is_named_and_nothing_is_written(
    played: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xlsx_writer, "MOST_ROWS", 1)
    refused = played("export", "--season", "2026", "--to", tmp_path / "out", "--format", "xlsx")
    assert refused.exit_code == 2
    assert refused.stderr == "error: --format: a sheet holds 1 rows; take csv or parquet\n"
    assert list((tmp_path / "out").iterdir()) == []


def test_the_dictionary_is_printed(run: Run) -> None:
    done = run("dictionary")
    assert (done.exit_code, done.stderr) == (0, "")
    for name, told in tables().items():
        assert f"### {name}\n" in done.stdout
        assert all(f"| `{column}` |" in done.stdout for column in told.names)
