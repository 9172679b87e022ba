"""Verify: an exported season told again years later, and what differs named by table, column and row."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from server.__main__ import main
from server.analysis.expected_strokes import files as baseline_files
from server.files.season_dataset.datasets import staging_of
from server.files.season_tables.dictionary import tables
from server.files.season_tables.lock import LOCK, locked_baseline, read_lock, unlocked_baseline
from server.files.season_tables.tallied_tables import OF_EVERYBODY
from server.store.engine import open_database, writing
from server.store.tables import PLAYER, ROUND
from tests.files.datasets import change_a_shot, export, fill
from tests.files.told import TOUR

NAMES = list(tables())
Verify = Callable[..., Result]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory, new_database: Callable[[str, Path], str]) -> Path:
    """A folder with a database (log.sqlite) of two players, its package and its dataset."""
    place = tmp_path_factory.mktemp("written")
    engine = open_database(new_database("sqlite", place))
    fill(engine, players=2)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PENCILBAG_DATABASE", str(engine.url))
        words = ["export", "--season", "2026", "--to", str(place / "package"), "--package", "--format", "all"]
        assert CliRunner().invoke(main, words).exit_code == 0
    export(engine, place / "dataset")
    engine.dispose()
    return place


@pytest.fixture
def place(written: Path, tmp_path: Path) -> Path:
    """A copy of it, to be spoilt."""
    return Path(shutil.copytree(written, tmp_path / "copy"))


@pytest.fixture
def engine(place: Path) -> sa.Engine:
    """The copy's database."""
    return open_database(f"sqlite:///{place / 'log.sqlite'}")


@pytest.fixture
def verify(place: Path, monkeypatch: pytest.MonkeyPatch) -> Verify:
    """`verify` of a folder of the copy."""
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place / 'log.sqlite'}")

    def call(name: str) -> Result:
        result = CliRunner().invoke(main, ["verify", str(place / name)])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return call


def test_a_season_is_the_same_when_valued_again_by_the_baseline_it_keeps(
    verify: Verify, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Years later the shipped baseline may be another, or gone."""
    monkeypatch.setattr(baseline_files, "FOLDER", tmp_path)
    for name, files in (("package", 3 * len(NAMES)), ("dataset", 2 * len(NAMES) - len(OF_EVERYBODY))):
        done = verify(name)
        assert (done.exit_code, done.stderr) == (0, ""), done.output
        assert done.stdout.startswith(f"{files} files, ")
        assert done.stdout.endswith(" of season 2026: no difference\n")


def test_a_lock_gives_the_baseline_back_bit_for_bit(place: Path) -> None:
    back = unlocked_baseline(json.loads(json.dumps(locked_baseline(TOUR))))
    assert (back.id, back.version) == (TOUR.id, TOUR.version)
    assert {lie: [part.tolist() for part in rows] for lie, rows in back.about.rows.items()} == {
        lie: [part.tolist() for part in rows] for lie, rows in TOUR.about.rows.items()
    }
    lock = read_lock(place / "package")
    assert set(lock["made_by"]) >= {"tool", "python", "pyarrow", "pandas", "numpy"}
    assert len(lock["players"]) == 2
    shots = lock["files"]["shots_2026.parquet"]
    assert (shots["table"], shots["format"], shots["rows"]) == ("shots", "parquet", 180)


def test_a_cell_that_was_changed_is_named_by_table_column_and_row(verify: Verify, place: Path) -> None:
    path = place / "package" / "holes_2026.csv"
    head, first, *rest = path.read_bytes().split(b"\r\n")
    cells = dict(zip(head.decode().split(","), first.decode().split(","), strict=True))
    names = head.decode().split(",")
    old = first.decode().split(",")
    changed = [("9.5" if name == "strokes_gained" else cell) for name, cell in zip(names, old, strict=True)]
    path.write_bytes(b"\r\n".join([head, ",".join(changed).encode(), *rest]))
    done = verify("package")
    assert done.exit_code == 1
    row = ", ".join(f"{name} {cells[name]}" for name in tables()["holes"].key)
    assert (
        f"holes_2026.csv: table holes, column strokes_gained, row {row}: differs: "
        f"9.5 there, {cells['strokes_gained']} now\n"
    ) in done.stdout
    assert "holes_2026.csv: table holes: is not what was written" in done.stdout
    assert done.stdout.count("differs:") == 1


def test_a_log_that_changed_since_is_reported_with_what_it_changes(
    verify: Verify, place: Path, engine: sa.Engine
) -> None:
    first = next(iter(read_lock(place / "dataset")["players"]))
    shot_id = change_a_shot(engine, first)
    engine.dispose()
    done = verify("dataset")
    assert done.exit_code == 1
    assert done.stderr == "the log of Player 0000 has changed since\n"
    wanted = f"table shots, column distance, row shot_id {shot_id}: differs: "
    assert wanted in done.stdout.replace("player_id " + first + ", ", "")
    assert ", 333.25 now\n" in done.stdout
    assert "is not what was written" not in done.stdout


def test_other_bytes_of_the_same_values_are_no_difference_of_values(verify: Verify, place: Path) -> None:
    path = place / "package" / "clubs_2026.parquet"
    pq.write_table(pq.read_table(path), path, compression="none")
    done = verify("package")
    assert (done.exit_code, "differs:" in done.stdout) == (1, False)
    assert done.stdout.splitlines()[0].startswith("clubs_2026.parquet: table clubs: is not what was written")


def test_a_file_of_the_same_size_is_told_from_one_that_was_cut_off(verify: Verify, place: Path) -> None:
    path = place / "package" / "holes_2026.csv"
    written = path.read_bytes()
    path.write_bytes(written.replace(b"Player 0000", b"Player 9999", 1))
    assert f"is not what was written: as many bytes, {len(written)}, but other ones" in verify("package").stdout
    path.write_bytes(written[:-9])
    assert f"is not what was written: {len(written) - 9} bytes, written {len(written)}" in verify("package").stdout


def test_rows_and_columns_that_came_or_went_are_named(verify: Verify, place: Path) -> None:
    path = place / "package" / "rounds_2026.parquet"
    whole = pq.read_table(path)
    fewer = whole.slice(1).drop_columns(["score"]).append_column("wish", pa.array(["x"] * (whole.num_rows - 1)))
    pq.write_table(fewer, path)
    words = verify("package").stdout
    assert "rounds_2026.parquet: table rounds, column score: is new\n" in words
    assert "rounds_2026.parquet: table rounds, column wish: is in the file only\n" in words
    assert f"row round_id {whole['round_id'][0].as_py()}: is missing from the file" in words
    assert pc.count(whole["round_id"]).as_py() == 2


@pytest.mark.parametrize("name", ["package", "dataset"])
def test_half_a_package_is_named(verify: Verify, place: Path, name: str) -> None:
    gone, spoilt = sorted(path for path in (place / name).rglob("*.parquet"))[:2]
    gone.unlink()
    spoilt.write_bytes(b"PAR1 and no more")
    done = verify(name)
    assert done.exit_code == 1
    assert f"{gone.relative_to(place / name).as_posix()}: table category_summary: is missing\n" in done.stdout
    assert ": cannot be read: " in done.stdout
    (place / name / LOCK).unlink()
    done = verify(name)
    assert done.exit_code == 2
    assert (
        f"error: FOLDER: {place / name} contains no {LOCK}: it is no package or dataset, or an unfinished one"
        in done.stderr
    )


def test_a_lock_that_cannot_be_read_is_named(verify: Verify, place: Path) -> None:
    lock = place / "package" / LOCK
    for content, words in (
        (b"{", "is damaged: "),
        (b"[]", "is of format None; this version reads 1"),
        (b'{"format": 9}', "is of format 9; this version reads 1"),
        (b'{"format": 1}', "is damaged: season, baseline, players, files, made_by is missing"),
    ):
        lock.write_bytes(content)
        done = verify("package")
        assert (done.exit_code, done.stdout) == (2, "")
        assert words in done.stderr


def test_a_competition_round_that_is_open_locks_it(verify: Verify, place: Path, engine: sa.Engine) -> None:
    with writing(engine) as connection:
        connection.execute(ROUND.update().values(kind="competition", closed=False))
    engine.dispose()
    for name in ("package", "dataset"):
        done = verify(name)
        assert (done.exit_code, done.stdout) == (2, "")
        assert "have a competition round open" in done.stderr


def test_a_player_who_is_gone_is_named(verify: Verify, place: Path, engine: sa.Engine) -> None:
    gone = next(iter(read_lock(place / "dataset")["players"]))
    with writing(engine) as connection:
        connection.execute(PLAYER.update().where(PLAYER.c.player_id == gone).values(erased_at="2027-01-01"))
    engine.dispose()
    done = verify("dataset")
    assert done.exit_code == 1
    assert f"player {gone} is not here any more, or has no round in 2026" in done.stderr
    assert "cannot be checked: none of its players has a round here" in done.stdout
    assert not staging_of(place / "dataset").exists()
