"""A season's dataset: the rows of one machine, written again only where something changed, whole or not at all."""

from __future__ import annotations

import json
import stat
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa
from frictionless import validate

from server.files.season_dataset import datasets, partitions
from server.files.season_dataset.datasets import DatasetError, staged, staging_of
from server.files.season_dataset.partitions import Order, Receipt, bucket_of, write_partition
from server.files.season_tables.lock import LOCK
from server.questions.valued_shots import baseline_by_id
from server.store.engine import reading
from server.store.shared_states import SharedState, StateError, joined
from server.store.tables import PLAYER
from tests.files.datasets import (
    BUCKETS,
    NAMES,
    PLAYERS,
    assert_same_rows,
    change_a_shot,
    contents,
    export,
    fill,
    here,
    one_machine,
)

EXACT = 1e-9


@pytest.fixture
def season(engine: sa.Engine) -> sa.Engine:
    """A database with a season of four players."""
    fill(engine)
    return engine


def players_of(engine: sa.Engine) -> list[str]:
    with reading(engine) as connection:
        return list(connection.execute(sa.select(PLAYER.c.player_id)).scalars())


def test_a_dataset_holds_the_rows_of_one_machine_and_sums_hole_by_hole(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    plan = export(season, folder)
    one_machine(season, tmp_path / "one")
    assert_same_rows(folder, tmp_path / "one")
    assert len(plan.orders) == len({bucket_of(player, BUCKETS) for player in players_of(season)})
    assert not staging_of(folder).exists()
    assert all(stat.S_IMODE(path.stat().st_mode) == 0o600 for path in folder.rglob("*") if path.is_file())
    shots, holes, rounds = (ds.dataset(folder / name, partitioning="hive").to_table() for name in NAMES[:3])
    by_hole = (
        shots.group_by(["round_id", "hole"])
        .aggregate([("strokes_gained", "sum")])
        .sort_by([("round_id", "ascending"), ("hole", "ascending")])
    )
    holes = holes.sort_by([("round_id", "ascending"), ("hole", "ascending")])
    assert np.abs(by_hole["strokes_gained_sum"].to_numpy() - holes["strokes_gained"].to_numpy()).max() < EXACT
    by_round = holes.group_by("round_id").aggregate([("strokes_gained", "sum")]).sort_by("round_id")
    told = rounds.sort_by("round_id")["strokes_gained"].to_numpy()
    assert np.abs(by_round["strokes_gained_sum"].to_numpy() - told).max() < EXACT


def test_every_reader_finds_the_same(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export(season, folder)
    place = folder / "shots"
    whole = ds.dataset(place, partitioning="hive").to_table()
    total = float(np.sum(whole["strokes_gained"].to_numpy()))
    assert set(whole["season"].to_pylist()) == {2026}
    by_footers = ds.parquet_dataset(place / "_metadata", partitioning="hive")
    assert by_footers.count_rows() == whole.num_rows == PLAYERS * 90
    files = f"{place}/season=*/bucket=*/*.parquet"
    scanned = pl.scan_parquet(files, hive_partitioning=True).select(pl.len(), pl.col("strokes_gained").sum()).collect()
    assert scanned.row(0) == (whole.num_rows, pytest.approx(total, abs=EXACT))
    query = (
        f"SELECT count(*), sum(strokes_gained) FROM read_parquet('{files}', hive_partitioning=true) WHERE season = 2026"
    )
    assert duckdb.sql(query).fetchall()[0] == (whole.num_rows, pytest.approx(total, abs=EXACT))
    report = validate(str(folder / "datapackage.json"))
    assert (report.valid, report.errors) == (True, [])
    resources = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))["resources"]
    assert [resource["name"] for resource in resources] == [f"{name}_parquet" for name in NAMES]
    paths = [[found] if isinstance(found := resource["path"], str) else found for resource in resources]
    assert all((folder / path).is_file() for those in paths for path in those)


def test_a_partition_is_written_again_only_when_its_players_or_the_baseline_changed(
    season: sa.Engine, tmp_path: Path
) -> None:
    folder = tmp_path / "out"
    first = export(season, folder)
    again = export(season, folder)
    assert (len(again.orders), len(again.kept)) == (0, len(first.orders))
    before = contents(folder)
    player_id = players_of(season)[0]
    change_a_shot(season, player_id)
    third = export(season, folder, buckets=None)
    changed = bucket_of(player_id, BUCKETS)
    assert [order.bucket for order in third.orders] == [changed]
    other = {path for path in before if "/bucket=" in path and f"/bucket={changed}/" not in path}
    now = contents(folder)
    assert {path: now[path] for path in other} == {path: before[path] for path in other}
    one_machine(season, tmp_path / "one")
    assert_same_rows(folder, tmp_path / "one")
    club = replace(baseline_by_id("tour"), about=replace(baseline_by_id("tour").about, version="another"))
    assert len(export(season, folder, baseline=club).orders) == len(first.orders)


def broken_after(count: int, error: Exception) -> datasets.Run:
    """Writes some partitions and fails."""

    def run(orders: list[Order]) -> Iterator[Receipt]:
        yield from map(write_partition, orders[:count])
        raise error

    return run


def test_an_export_that_breaks_off_publishes_nothing_and_is_taken_up_again(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    with pytest.raises(RuntimeError, match="gone"):
        export(season, folder, broken_after(2, RuntimeError("gone")))
    assert not folder.exists()
    plan = export(season, folder)
    assert (len(plan.resumed), len(plan.kept)) == (2, 0)
    before = contents(folder)
    for player_id in players_of(season):
        change_a_shot(season, player_id)
    with pytest.raises(OSError, match="No space"):
        export(season, folder, broken_after(1, OSError(28, "No space left on device")))
    assert contents(folder) == before
    assert len(export(season, folder).resumed) == 1
    one_machine(season, tmp_path / "one")
    assert_same_rows(folder, tmp_path / "one")


def test_a_full_disk_under_a_partition_leaves_no_half_of_it(
    season: sa.Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"

    def full(season: object, places: dict[str, Path]) -> None:
        places["shots"].write_bytes(b"PAR1")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(partitions, "parquet_together", full)
    with pytest.raises(OSError, match="No space"):
        export(season, folder)
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith((".part", "out"))] == []


def test_what_a_killed_writer_left_is_no_part_of_the_dataset(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    with pytest.raises(RuntimeError):
        export(season, folder, broken_after(1, RuntimeError("gone")))
    left = staging_of(folder) / "tree" / "shots" / "season=2026" / "bucket=0" / ".rows.parquet.1.part"
    left.parent.mkdir(parents=True, exist_ok=True)
    left.write_bytes(b"half")
    export(season, folder)
    assert not list(folder.rglob("*.part"))


def test_a_file_that_is_lost_or_cut_off_is_written_again(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export(season, folder)
    lost, cut = sorted(folder.glob("shots/season=2026/*/rows.parquet"))[:2]
    lost.unlink()
    cut.write_bytes(cut.read_bytes()[:-10])
    plan = export(season, folder)
    assert len(plan.orders) == 2
    assert sorted(folder / path for path in plan.mended) == [lost, cut]


def test_a_folder_that_holds_something_else_is_refused_and_stays(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "letters.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(DatasetError, match=r"contains no season\.lock\.json.*choose a new folder"):
        export(season, folder)
    (folder / "letters.txt").unlink()
    export(season, folder)
    (folder / "letters.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(DatasetError, match=r"contains letters\.txt, which is no part of the dataset"):
        export(season, folder)
    (folder / "letters.txt").unlink()
    with pytest.raises(DatasetError, match="has 4 buckets, not 8; choose another folder"):
        export(season, folder, buckets=8)
    lock = json.loads((folder / LOCK).read_text(encoding="utf-8"))
    for change, words in (
        ({"format": 2}, r"is of format 2; this version reads 1; choose a new folder"),
        ({"season": 2025}, r"is of season 2025; choose another folder for 2026"),
    ):
        (folder / LOCK).write_text(json.dumps(lock | change), encoding="utf-8")
        with pytest.raises(DatasetError, match=words):
            export(season, folder)
    one_machine(season, tmp_path / "one")
    with pytest.raises(DatasetError, match="contains a package of one machine"):
        export(season, tmp_path / "one")


def test_two_exports_to_one_place_do_not_meet(season: sa.Engine, tmp_path: Path) -> None:
    with staged(tmp_path / "out"), pytest.raises(DatasetError, match="another export is writing there"):
        export(season, tmp_path / "out")


def test_a_worker_with_another_database_or_folder_says_so(season: sa.Engine, tmp_path: Path) -> None:
    seen: list[Order] = []

    def look(orders: list[Order]) -> Iterator[Receipt]:
        seen.append(orders[0])
        yield from here(orders)

    export(season, tmp_path / "out", look)
    with pytest.raises(StateError, match="is not to be seen from here"):
        write_partition(seen[0])
    (tmp_path / "staging").mkdir()
    with pytest.raises(StateError, match=r"the copy of the database, .*state\.sqlite, is not to be seen from here"):
        write_partition(replace(seen[0], staging=str(tmp_path / "staging")))
    with (
        pytest.raises(StateError, match="its database is SQLite, the export's is PostgreSQL"),
        joined(SharedState(snapshot="1-2"), "sqlite:///here.sqlite"),
    ):
        pass
    stale = replace(
        seen[0],
        staging=str(tmp_path / "staging"),
        logs=dict.fromkeys(seen[0].logs, "older"),
        state=SharedState(copy=season.url.database),
    )
    with pytest.raises(StateError, match="the logs of the players differ"):
        write_partition(stale)


def test_footers_name_every_file(season: sa.Engine, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    export(season, folder)
    footer = pq.read_metadata(folder / "shots" / "_metadata")
    named = {footer.row_group(group).column(0).file_path for group in range(footer.num_row_groups)}
    assert {path.relative_to(folder / "shots").as_posix() for path in folder.glob("shots/*/*/*.parquet")} == named
    assert footer.metadata[b"baseline_id"] == b"tour"
