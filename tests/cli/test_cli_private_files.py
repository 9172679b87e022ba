"""Whatever the commands write is its owner's alone, under every umask."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.store.backup import serving
from server.store.engine import open_database, reading
from server.store.log import push
from server.store.private_files import prepare_database_file
from tests.cli.conftest import Run
from tests.made_once import copy_demo
from tests.records.made import Season
from tests.tiers import count

OTHERS = stat.S_IRWXG | stat.S_IRWXO


@pytest.fixture(params=[0o000, 0o022, 0o277][: count(1, 3)], ids=oct)
def umask(request: pytest.FixtureRequest) -> Iterator[None]:
    before = os.umask(request.param)
    yield
    os.umask(before)


def open_to_others(folder: Path) -> dict[str, str]:
    """What group or others may touch below a folder, with its mode."""
    modes = {path.relative_to(folder).as_posix(): path.stat().st_mode for path in folder.rglob("*")}
    assert modes
    return {name: oct(stat.S_IMODE(mode)) for name, mode in modes.items() if mode & OTHERS}


def test_everything_that_is_written_is_the_owners_alone(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, umask: None
) -> None:
    place = tmp_path / "made" / "now"
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place / 'house.sqlite'}")
    out = tmp_path / "out" / "here"
    for arguments in (
        ("demo",),
        ("export", "--season", "2026", "--to", out, "--package", "--format", "all"),
        ("backup", place / "copy.sqlite"),
        ("map", "export", place / "maps.json", "--frame", "yards"),
        ("baseline", "fit", "--from", "Wren Quillfeather"),
        ("baseline", "fit", "--from", "Wren Quillfeather", "--to", place / "own" / "mine.csv"),
        ("restore", place / "copy.sqlite"),
    ):
        done = run(*arguments)
        assert done.exit_code == 0, (arguments, done.stderr)
    assert open_to_others(tmp_path) == {}
    assert {path.suffix for path in out.iterdir()} == {".csv", ".parquet", ".xlsx", ".json"}


def test_the_files_beside_a_served_database_are_the_owners_alone(tmp_path: Path, umask: None) -> None:
    place = tmp_path / "made"
    engine = open_database(f"sqlite:///{place / 'house.sqlite'}")
    season = Season()
    with serving(engine):
        push(engine, season.player_id, "phone", season.changes)
        with reading(engine) as connection:
            connection.exec_driver_sql("SELECT count(*) FROM change")
            names = {path.name for path in place.iterdir()}
            assert names == {f"house.sqlite{ending}" for ending in ("", "-wal", "-shm", ".serving")}
            assert open_to_others(tmp_path) == {}
    engine.dispose()


def test_a_database_that_was_open_to_others_is_closed_and_its_folder_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "shared"
    place.mkdir(mode=0o755)
    place.chmod(0o755)
    file = place / "house.sqlite"
    open_database(f"sqlite:///{file}").dispose()
    beside = place / "house.sqlite.serving"
    beside.touch()
    for path in (file, beside):
        path.chmod(0o664)
    open_database(f"sqlite:///{file}").dispose()
    assert open_to_others(place) == {}
    assert stat.S_IMODE(place.stat().st_mode) == 0o755
    prepare_database_file(file, own_folder=True)
    assert stat.S_IMODE(place.stat().st_mode) == 0o700


def test_a_file_written_again_is_closed_to_others(run: Run, tmp_path: Path) -> None:
    copy_demo(tmp_path / "cli.sqlite")
    file = tmp_path / "maps.json"
    file.touch()
    file.chmod(0o666)
    assert run("map", "export", file, "--frame", "yards").exit_code == 0
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
