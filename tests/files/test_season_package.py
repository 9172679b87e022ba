"""The folder of a season: a Data Package that another library finds valid, whole or not at all, the same twice."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from freezegun import freeze_time
from frictionless import Package, Report, validate

from server import VERSION
from server.analysis.expected_strokes import files as baseline_files
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.files import shipped_ids
from server.files.season_tables import package
from server.files.season_tables.dictionary import tables
from server.files.season_tables.package import OtherSeasonError, earlier_baseline, write_tables
from server.files.season_tables.seasons import open_season
from server.files.season_tables.writing import MEDIA_TYPES
from server.questions.baseline_versions import OtherVersionError, baseline_or_file, versioned_baseline
from server.questions.valued_shots import baseline_by_id
from server.store.engine import reading
from tests.files.told import TOUR, told
from tests.records.made import named

NAMES = list(tables())


def write(engine: sa.Engine, folder: Path, baseline: Baseline = TOUR, players: set[str] | None = None) -> list[Path]:
    with reading(engine) as connection:
        season = open_season(connection, 2026, baseline, players)
        return write_tables(season, folder, NAMES, list(MEDIA_TYPES), package=True)


@pytest.fixture(scope="module")
def folder(season_engine: sa.Engine, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package of the season, written once."""
    place = tmp_path_factory.mktemp("package") / "new" / "folder"
    write(season_engine, place)
    return place


ASH = {named("Ash")}


@pytest.fixture(scope="module")
def small(season_engine: sa.Engine, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package of Ash alone."""
    place = tmp_path_factory.mktemp("small")
    write(season_engine, place, players=ASH)
    return place


@pytest.fixture
def spoilt(small: Path, tmp_path: Path) -> Path:
    """A copy of it, to be spoilt."""
    return Path(shutil.copytree(small, tmp_path / "copy"))


def shipped_baseline(asked: str) -> Baseline:
    return versioned_baseline(asked, shipped_ids(), baseline_by_id)


def descriptor_of(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return found


def errors(report: Report) -> dict[str, set[str]]:
    return {task.name: {error.type for error in task.errors} for task in report.tasks if task.errors}


def test_every_table_is_there_in_every_format_and_nothing_else(folder: Path) -> None:
    files = {f"{name}_2026.{format_}" for name in NAMES for format_ in MEDIA_TYPES}
    assert {path.name for path in folder.iterdir()} == files | {"datapackage.json", "season.lock.json"}


def test_frictionless_finds_the_package_valid(folder: Path) -> None:
    report = validate(str(folder / "datapackage.json"))
    assert (errors(report), report.errors, report.warnings) == ({}, [], [])
    rows = {task.name: task.stats.get("rows") for task in report.tasks}
    assert len(rows) == 3 * len(NAMES)
    for name in NAMES:
        assert rows[name] == rows[f"{name}_xlsx"]
        assert rows[name] is None if name == "course_effects" else rows[name] > 1, "one course adds nothing"


def test_frictionless_reads_the_rows_as_they_are_meant(folder: Path, season_engine: sa.Engine) -> None:
    package_ = Package(str(folder / "datapackage.json"))
    expected = told(season_engine, "rounds").to_dict("records")
    for name in ("rounds", "rounds_xlsx"):
        rows = package_.get_resource(name).read_rows()
        assert [row["played_on"] for row in rows] == [row["played_on"] for row in expected]
        assert [row["closed"] for row in rows] == [row["closed"] for row in expected]
        assert [row["bag_clubs"] for row in rows] == [row["bag_clubs"] for row in expected]


SPOILT = [
    # file, what is replaced by what, the resource that is wrong, its errors
    ("rounds_2026.csv", b",competition,", b",tournament,", "rounds", {"constraint-error", "hash-count"}),
    ("shots_2026.csv", b",tee,", b",teepee,", "shots", {"constraint-error", "hash-count", "byte-count"}),
    ("clubs_2026.csv", b",no,", b",perhaps,", "clubs", {"type-error", "hash-count", "byte-count"}),
    ("holes_2026.csv", b"played_on", b"played_at", "holes", {"incorrect-label", "hash-count"}),
    ("setups_2026.parquet", b"PAR1", b"PAR2", "setups_parquet", {"hash-count"}),
]


def test_what_is_spoilt_is_found(spoilt: Path) -> None:
    """Each file spoilt in its own way, and the errors of each by its own resource."""
    for name, old, new, _, _ in SPOILT:
        content = (spoilt / name).read_bytes()
        assert old in content
        (spoilt / name).write_bytes(content.replace(old, new, 1))
    wrong = errors(validate(str(spoilt / "datapackage.json")))
    for _, _, _, resource, found in SPOILT:
        assert found <= wrong[resource], resource


def test_a_shot_of_a_round_that_is_not_there_is_found(spoilt: Path) -> None:
    path = spoilt / "rounds_2026.csv"
    lines = path.read_bytes().split(b"\r\n")
    path.write_bytes(b"\r\n".join([lines[0], *lines[2:]]))
    wrong = errors(validate(str(spoilt / "datapackage.json")))
    assert "foreign-key" in wrong["shots"]
    assert "foreign-key" in wrong["holes"]


def test_the_descriptor_says_what_an_analyst_must_know(folder: Path) -> None:
    found = descriptor_of(folder)
    assert (found["season"], found["tool"]) == (2026, {"name": "Pencilbag", "version": VERSION})
    assert (found["baseline"]["id"], found["baseline"]["version"]) == ("tour", "2012.1+2011.1")
    assert "Interfaces 42(2)" in found["baseline"]["source"]
    assert any("Interfaces 42(2)" in source["title"] for source in found["sources"])
    assert found["licenses"][0]["name"] == "notspecified"
    for resource in found["resources"]:
        if resource["format"] == "parquet":
            continue
        table = tables()[resource["name"].removesuffix("_xlsx")]
        fields = resource["schema"]["fields"]
        assert [field["name"] for field in fields] == list(table.names)
        assert [field.get("unit", "") for field in fields] == [column.unit for column in table.columns]
        assert [field["description"] for field in fields] == [column.meaning for column in table.columns]
        assert resource["schema"]["primaryKey"] == list(table.key)
    assert not {"created", "modified"} & set(found)


def test_the_same_season_on_another_day_is_the_same_folder(
    small: Path, season_engine: sa.Engine, tmp_path: Path
) -> None:
    with freeze_time("2027-03-04 21:59:58"):
        write(season_engine, tmp_path, players=ASH)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        path.name: path.read_bytes() for path in small.iterdir()
    }


def test_a_write_that_fails_leaves_what_was_there(
    spoilt: Path, season_engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = {path.name: path.read_bytes() for path in spoilt.iterdir()}
    real = package.gathered_pieces
    reverse = lambda season, name, format_, place: real(season, name[::-1], format_, place)  # noqa: E731
    monkeypatch.setattr(package, "gathered_pieces", reverse)
    with pytest.raises(KeyError):
        write(season_engine, spoilt)

    def full(*_: Any) -> Any:
        yield b"a piece"
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(package, "gathered_pieces", full)
    with pytest.raises(OSError, match="No space left"):
        write(season_engine, spoilt)
    monkeypatch.setattr(package, "gathered", lambda *given: list(full(*given)))
    with pytest.raises(OSError, match="No space left"):
        write(season_engine, spoilt)
    assert {path.name: path.read_bytes() for path in spoilt.iterdir()} == before


def test_the_baseline_of_the_package_that_is_there_is_known(folder: Path, tmp_path: Path) -> None:
    assert earlier_baseline(folder, 2026) == ("tour", "2012.1+2011.1")
    assert earlier_baseline(tmp_path, 2026) is None
    with pytest.raises(OtherSeasonError, match=r"datapackage\.json is of season 2026; choose another folder for 2025"):
        earlier_baseline(folder, 2025)
    for words in ("", "[]", "{}", '{"season": 2026}', '{"season": 2026, "baseline": 5}', "\udcff"):
        (tmp_path / "datapackage.json").write_bytes(words.encode("utf-8", "surrogateescape"))
        assert earlier_baseline(tmp_path, 2026) is None


def shipped_with(monkeypatch: pytest.MonkeyPatch, folder: Path, versions: dict[str, tuple[str, float]]) -> None:
    """Ship baselines from `folder` beside the real ones: file name -> (version, extra strokes), all of the id club."""
    for path in baseline_files.FOLDER.iterdir():
        shutil.copy(path, folder / path.name)
    for name, (version, extra) in versions.items():
        rows = [
            f"{lie},{yards},yd,{2 + yards / 200 + extra}" for lie in ("tee", "fairway", "rough") for yards in (50, 600)
        ]
        rows += [f"{lie},{yards},yd,{2 + yards / 200 + extra}" for lie in ("sand", "recovery") for yards in (50, 600)]
        rows += [f"green,{feet},ft,{1 + feet / 100 + extra}" for feet in (3, 90)]
        (folder / f"{name}.csv").write_text("\n".join(["lie,distance,unit,expected_strokes", *rows]), encoding="utf-8")
        about = f'id = "club"\ntitle = "Club"\nsource = "invented"\nversion = "{version}"\n'
        (folder / f"{name}.toml").write_text(about, encoding="utf-8")
    monkeypatch.setattr(baseline_files, "FOLDER", folder)


def test_an_old_season_is_valued_again_with_the_baseline_it_was_reported_with(
    season_engine: sa.Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "baselines"
    place.mkdir()
    shipped_with(monkeypatch, place, {"club": ("2", 0.5), "club_before": ("1", 0.0)})
    assert (shipped_baseline("club").version, shipped_baseline("club@2").version) == ("2", "2")
    before = shipped_baseline("club@1")
    write(season_engine, tmp_path / "reported", before, ASH)
    write(season_engine, tmp_path / "now", shipped_baseline("club"), ASH)
    write(season_engine, tmp_path / "again", shipped_baseline("club@1"), ASH)
    for name in ("shots_2026.csv", "club_summary_2026.parquet", "rounds_2026.xlsx", "datapackage.json"):
        reported = (tmp_path / "reported" / name).read_bytes()
        assert (tmp_path / "again" / name).read_bytes() == reported
        assert (tmp_path / "now" / name).read_bytes() != reported
    assert descriptor_of(tmp_path / "again")["baseline"]["version"] == "1"


def test_a_version_that_is_not_here_is_refused(tmp_path: Path) -> None:
    with pytest.raises(
        OtherVersionError, match=r"baseline: tour is here in version 2012\.1\+2011\.1, not in 2009: its values"
    ):
        shipped_baseline("tour@2009")
    with pytest.raises(OtherVersionError, match="tour is here"):
        baseline_or_file("tour@2009")
    for unknown in ("nobody", "nobody@1", "../baselines/tour", "@", "tour@"):
        with pytest.raises(LookupError, match="baseline: "):
            shipped_baseline(unknown)
    file = tmp_path / "own@home.csv"
    file.write_text("lie,distance,unit,expected_strokes\ngreen,3,ft,1.1\ngreen,60,ft,2.2\n", encoding="utf-8")
    assert baseline_or_file(str(file)).id == "own@home"
