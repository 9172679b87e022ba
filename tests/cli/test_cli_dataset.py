"""Answers read from a dataset are those of the database it was exported from; a folder that is none is named."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from server.__main__ import main
from server.files.season_dataset.partitions import bucket_of
from server.files.season_tables.lock import LOCK
from server.store.account_tables import SHARE
from server.store.engine import open_database, reading, writing
from server.store.players import players
from server.store.tables import COURSE, SHOT
from tests.bench import large_squad
from tests.bench.large_season import MOMENT
from tests.cli.conftest import Run
from tests.files.datasets import BUCKETS, EXACT, assert_same_rows, assert_sums, contents, export, one_machine

PLAYERS = 4
ROUNDS = 11
"""In all more than a fitted baseline leaves out one by one."""
TEES = [
    {
        "name": name,
        "rating": rating,
        "slope": 120,
        "holes": [{"number": number, "par": 4, "length_yd": yards} for number in range(1, 19)],
    }
    for name, rating, yards in (("back", 72.5, 400.0), ("forward", 68.0, 350.0))
]


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[sa.Engine, Path]]:
    """A squad on shared courses with gaps in the shots, and the dataset of it."""
    folder = tmp_path_factory.mktemp("exported")
    engine = open_database(f"sqlite:///{folder / 'season.sqlite'}")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(large_squad, "COURSES", 3)
        large_squad.fill_squad(engine, PLAYERS, ROUNDS)
    with writing(engine) as connection:
        connection.execute(COURSE.update().values(tees=json.dumps(TEES)))
        lost = sa.select(sa.func.min(SHOT.c.record_id)).where(SHOT.c.holed).scalar_subquery()
        connection.execute(SHOT.update().where(SHOT.c.record_id == lost).values(holed=False, picked_up=True))
    export(engine, folder / "tables")
    yield engine, folder / "tables"
    engine.dispose()


@pytest.fixture
def ask(season: tuple[sa.Engine, Path], run: Run, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command on the database of the season."""
    engine, _ = season
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{engine.url.database}")

    def call(*arguments: str | Path) -> Result:
        return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)

    return call


def names_of(engine: sa.Engine) -> list[str]:
    with reading(engine) as connection:
        return [player.name for player in players(connection)]


def assert_same(ours: Any, theirs: Any, place: str = "") -> None:
    """The same document, numbers to 1e-9."""
    assert type(ours) is type(theirs), place
    if isinstance(ours, dict):
        assert ours.keys() == theirs.keys(), place
        for name, value in ours.items():
            assert_same(value, theirs[name], f"{place}.{name}")
    elif isinstance(ours, list):
        assert len(ours) == len(theirs), place
        for number, value in enumerate(ours):
            assert_same(value, theirs[number], f"{place}[{number}]")
    elif isinstance(ours, float):
        assert ours == pytest.approx(theirs, abs=EXACT), place
    else:
        assert ours == theirs, place


def test_every_answer_is_that_of_the_database(season: tuple[sa.Engine, Path], ask: Run) -> None:
    engine, folder = season
    first, second, *_ = names_of(engine)
    groupings = ("club", "category", "lie", "distance", "hole", "course", "round", "month", "setup")
    course = json.loads(ask("holes", "--json").stdout)["courses"][0]["course"]
    asked: list[list[str]] = [
        ["squad"],
        ["squad", "--by", "putting", "--from", "2026-04-01", "--level", "0.8"],
        ["against", "--player", first],
        ["pair", "--player", first, "--other", second],
        ["holes"],
        ["holes", "--course", course],
        ["summary", "--everyone", "--baseline", "tour"],
        *(["summary", "--player", first, "--baseline", "tour", "--by", by] for by in groupings),
        [
            "summary",
            "--player",
            first,
            "--baseline",
            "tour",
            "--course",
            course,
            "--to",
            "2026-09-01",
            "--balls",
            "all",
        ],
        ["summary", "--player", second, "--baseline", "tour", "--from", "2026-12-31"],
    ]
    for words in asked:
        ours, theirs = ask(*words, "--json", "--dataset", folder), ask(*words, "--json")
        assert (ours.exit_code, theirs.exit_code) == (0, 0), [*words, ours.output, theirs.output]
        assert_same(json.loads(ours.stdout), json.loads(theirs.stdout), " ".join(words))


def test_one_machine_and_partitions_tell_the_same_which_adds_up(season: tuple[sa.Engine, Path], tmp_path: Path) -> None:
    engine, folder = season
    one_machine(engine, tmp_path / "one")
    assert_same_rows(folder, tmp_path / "one")
    for buckets in (1, 2):
        export(engine, tmp_path / str(buckets), buckets=buckets)
        assert_same_rows(tmp_path / str(buckets), tmp_path / "one")
    assert_sums(lambda name: pq.read_table(folder / name).to_pandas())
    ranks, holes, courses, effects = (
        pq.read_table(folder / name).to_pandas()
        for name in ("squad_ranks", "hole_effects", "courses", "course_effects")
    )
    assert (len(ranks), ranks["rank_low"].isna().sum()) == (5 * PLAYERS, 0)
    assert ranks["level"].eq(0.9).all()
    assert holes.groupby("course")["hole"].nunique().eq(18).all()
    assert set(courses["tees"]) == {"back", "forward"}
    assert (courses["difficulty"].groupby([courses["player_id"], courses["tees"]]).nunique() == 1).all()
    assert courses["difficulty"].groupby(courses["player_id"]).sum().abs().max() < EXACT, "beside their mean"
    assert set(effects["player_id"]) <= set(courses["player_id"])
    assert len(effects) > 0


def test_squads_are_exported_and_a_change_of_them_writes_the_partition_again(
    season: tuple[sa.Engine, Path], ask: Run, tmp_path: Path
) -> None:
    engine, folder = season
    again = Path(shutil.copytree(folder, tmp_path / "again"))
    assert (export(engine, again).orders, contents(again)) == ([], contents(folder))
    with reading(engine) as connection:
        first, second, *_ = players(connection)
    with writing(engine) as connection:
        for number, (player, squad) in enumerate([(first, "ladies"), (second, "ladies"), (first, "county")]):
            share = {"share_id": f"{number:036d}", "player_id": player.player_id, "squad": squad, "since": MOMENT}
            connection.execute(SHARE.insert().values(**share))
    try:
        buckets = {bucket_of(player.player_id, BUCKETS) for player in (first, second)}
        assert {order.bucket for order in export(engine, again).orders} == buckets
        told = pq.read_table(again / "players").to_pandas().set_index("player_id")["squads"]
        assert told.dropna().to_dict() == {first.player_id: "county; ladies", second.player_id: "ladies"}
        ours, theirs = (
            json.loads(ask("squad", "--squad", "ladies", "--json", *more).stdout) for more in ([], ["--dataset", again])
        )
        assert_same(ours, theirs)
        assert {one["name"] for one in ours["players"]} == {first.name, second.name}
    finally:
        with writing(engine) as connection:
            connection.execute(SHARE.delete())


def test_a_baseline_is_fitted_to_the_same_rows(season: tuple[sa.Engine, Path], ask: Run, tmp_path: Path) -> None:
    _, folder = season
    for name, more in (("ours", ["--dataset", str(folder)]), ("theirs", [])):
        done = ask("baseline", "fit", "--from", "everyone", "--to", tmp_path / f"{name}.csv", *more)
        assert done.exit_code == 0, done.output
    for ending in (".csv", ".toml"):
        ours, theirs = ((tmp_path / name).with_suffix(ending).read_text("utf-8") for name in ("ours", "theirs"))
        assert ours.replace('id = "ours"', 'id = "theirs"') == theirs


@pytest.mark.parametrize("more", [[], ["--package"]], ids=["shots", "package"])
def test_a_dataset_is_not_overwritten_by_the_files_of_one_machine(
    season: tuple[sa.Engine, Path], ask: Run, tmp_path: Path, more: list[str]
) -> None:
    folder = shutil.copytree(season[1], tmp_path / "tables")
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    done = ask("export", "--season", "2026", "--to", folder, *more)
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"error: --to: {folder} contains a dataset; give --workers or --scheduler" in done.stderr
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_folder_that_cannot_answer_is_named(season: tuple[sa.Engine, Path], ask: Run, tmp_path: Path) -> None:
    engine, folder = season

    def refused(place: Path, *words: str) -> str:
        done = ask(*(words or ("squad",)), "--dataset", place)
        assert (done.exit_code, done.stdout) == (2, ""), done.output
        return done.stderr

    (tmp_path / "none").mkdir()
    assert f"--dataset: {tmp_path / 'none'} contains no season.lock.json: it is no package or dataset" in refused(
        tmp_path / "none"
    )
    one_machine(engine, tmp_path / "package")
    assert "contains a package of one machine; a dataset is written by export --workers" in refused(
        tmp_path / "package"
    )
    half = shutil.copytree(folder, tmp_path / "half")
    lost, cut = sorted(half.glob("shots/season=2026/*/rows.parquet"))[:2]
    cut.write_bytes(cut.read_bytes()[:-10])
    assert "is half a dataset: shots/season=2026/bucket=" in refused(half)
    assert "were written; export the season again" in refused(half, "summary", "--everyone")
    lost.unlink()
    assert f"{lost.relative_to(half)} is missing; export the season again" in refused(half, "holes")
    other = shutil.copytree(folder, tmp_path / "other")
    lock = json.loads((other / LOCK).read_text(encoding="utf-8"))
    spoilt = lock | {"dictionary": "sha256:0", "made_by": lock["made_by"] | {"tool": "0.0"}}
    (other / LOCK).write_text(json.dumps(spoilt), encoding="utf-8")
    assert "was written by another version (0.0, here " in refused(other)
    (other / LOCK).write_text(json.dumps(lock | {"format": 9}), encoding="utf-8")
    assert "is of format 9; this version reads 1" in refused(other, "baseline", "fit", "--from", "everyone")
    garbled = shutil.copytree(folder, tmp_path / "garbled")
    (place,) = garbled.glob("shots/season=2026/bucket=0/rows.parquet")
    place.write_bytes(b"x" * place.stat().st_size)
    assert "cannot be read: " in refused(garbled)
    assert "--baseline: the dataset was valued by tour " in refused(folder, "squad", "--baseline", "tour_2011_green")
    assert "--player: 'Nobody' is not in the dataset; there is " in refused(folder, "summary", "--player", "Nobody")
    assert "--squad: nobody in the dataset shares with a squad 'x'" in refused(folder, "holes", "--squad", "x")
    assert "is not one of the player's courses: " in refused(folder, "summary", "--everyone", "--course", "Moon")
