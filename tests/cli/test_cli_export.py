"""export and demo: what is written is read back to the same numbers, players apart."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from click.testing import Result

from server.store.engine import open_database
from server.store.log import push
from tests.files.tables import drive_and_putt, row, table
from tests.made_once import copy_demo
from tests.records.made import Season, body_of, change, default_clubs, par_four

Run = Callable[..., Result]
Write = Callable[..., Path]
EXACT = 1e-9


def use(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, name: str) -> str:
    """Point the commands at another database."""
    address = f"sqlite:///{tmp_path / name}.sqlite"
    monkeypatch.setenv("PENCILBAG_DATABASE", address)
    return address


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_demo_season_survives_export_and_import(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copy_demo(tmp_path / "cli.sqlite")
    before = {by: run("summary", "--by", by, "--json").stdout for by in ("club", "round", "category")}
    result = run("export", "--season", "2026", "--to", tmp_path / "out")
    path = tmp_path / "out" / "shots_2026.csv"
    found = rows_of(path)
    count = len({one["round_id"] for one in found})
    assert result.stdout == f"{len(found)} shots in {count} rounds written to {path}\n"
    use(monkeypatch, tmp_path, "other")
    taken = run("import", path)
    assert (taken.exit_code, f"{len(found)} shots in " in taken.stdout) == (0, True)
    assert {by: run("summary", "--by", by, "--json").stdout for by in before} == before
    run("export", "--season", "2026", "--to", tmp_path / "again")
    again = rows_of(tmp_path / "again" / "shots_2026.csv")
    # the clubs' setups are records of their own, which a shots table does not carry
    assert [one | {"setup": ""} for one in again] == [one | {"setup": ""} for one in found]
    assert {one["setup"] for one in again} == {""}
    assert len({one["setup"] for one in found}) > 1


def test_the_demo_twice_changes_nothing_and_steps_aside_for_a_player(run: Run, file: Write) -> None:
    first = run("demo")
    assert (first.exit_code, "loading the invented demo season" in first.stderr) == (0, True)
    before = run("summary", "--by", "setup", "--json").stdout
    assert run("demo").stdout.endswith("nothing new\n")
    aside = run("demo", "--if-empty")
    assert (aside.exit_code, aside.stdout) == (0, "")
    assert "the demo season was not loaded" in aside.stderr
    assert run("summary", "--by", "setup", "--json").stdout == before


def test_the_squad_of_the_demo_is_loaded_when_it_is_asked_for(run: Run) -> None:
    loaded = run("demo", "--squad")
    assert (loaded.exit_code, "of 5 players in 35 rounds read; stored" in loaded.stdout) == (0, True)
    ranked = json.loads(run("squad", "--json").stdout)
    assert len(ranked["players"]) == 6


def test_the_demo_is_not_loaded_beside_ones_own_rounds_unless_asked(run: Run, file: Write) -> None:
    run("import", file(table(drive_and_putt())))
    run("demo", "--if-empty")
    assert json.loads(run("summary", "--json").stdout)["player"] == "Wren Quillfeather"
    assert json.loads(run("summary", "--json").stdout)["total"]["shots"] == 2


def test_units_provisional_and_picked_up_balls_come_back(
    run: Run, file: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [
        row(distance=366, unit="m", penalty_strokes=1, penalty_reason="lost"),
        row(shot=2, distance=366, unit="m"),
        row(shot=3, lie="green", distance=3.3, unit="m", club="putter", holed="yes"),
        row(ball=2, provisional="yes", holed="no"),
        row(hole=2, holed="no", end_lie="green", end_distance=4.4, end_unit="m"),
        row(hole=3, holed="no"),
        row(hole=4, distance=1200, unit="ft"),
        row(hole=4, shot=2, lie="green", distance=7, club="putter", holed="y"),
    ]
    for cells in rows:
        cells["kind"] = "casual"
    run("import", file(table(rows)))
    before = run("summary", "--by", "hole", "--json").stdout
    run("export", "--season", "2026", "--to", tmp_path)
    first = rows_of(tmp_path / "shots_2026.csv")
    assert [(one["hole"], one["ball"], one["shot"], one["holed"], one["provisional"]) for one in first] == [
        ("1", "1", "1", "", ""),
        ("1", "1", "2", "", ""),
        ("1", "1", "3", "yes", ""),
        ("1", "2", "1", "no", "yes"),
        ("2", "1", "1", "no", ""),
        ("3", "1", "1", "no", ""),
        ("4", "1", "1", "", ""),
        ("4", "1", "2", "yes", ""),
    ]
    gained = [float(one["strokes_gained"] or "nan") for one in first]
    assert gained[0] == -2
    assert gained[7] == pytest.approx(1.43 - 1, abs=EXACT)
    use(monkeypatch, tmp_path, "other")
    assert run("import", tmp_path / "shots_2026.csv").exit_code == 0
    assert run("summary", "--by", "hole", "--json").stdout == before
    run("export", "--season", "2026", "--to", tmp_path / "again")
    assert rows_of(tmp_path / "again" / "shots_2026.csv") == first


def test_each_player_keeps_the_own_categories(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = open_database(use(monkeypatch, tmp_path, "players"))
    for name, scheme in (("Ash", "four_part"), ("Birch", "three_part")):
        season = Season(name, category_scheme=scheme)
        par_four(season, season.round("one"), default_clubs(season))
        push(engine, season.player_id, "phone", season.changes)
    engine.dispose()
    result = run("export", "--season", "2026", "--to", tmp_path)
    assert result.stdout == f"8 shots in 2 rounds written to {tmp_path / 'shots_2026.csv'}\n"
    categories = [(one["player"], one["category"]) for one in rows_of(tmp_path / "shots_2026.csv")]
    assert categories == [
        ("Ash", "off_the_tee"),
        ("Ash", "approach"),
        ("Ash", "putting"),
        ("Ash", "putting"),
        ("Birch", "long_game"),
        ("Birch", "long_game"),
        ("Birch", "putting"),
        ("Birch", "putting"),
    ]
    run("export", "--season", "2026", "--to", tmp_path / "one", "--player", "Birch")
    assert {one["player"] for one in rows_of(tmp_path / "one" / "shots_2026.csv")} == {"Birch"}


def test_two_clubs_of_one_label_stay_two_clubs(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = open_database(use(monkeypatch, tmp_path, "clubs"))
    season = Season()
    clubs = [season.club("7 iron", name=f"club {number}") for number in range(2)]
    round_id = season.round("one")
    season.shot(round_id, 1, 1, "tee", 400, clubs[0])
    season.shot(round_id, 1, 2, "fairway", 150, clubs[1], holed=True)
    push(engine, season.player_id, "phone", season.changes)
    engine.dispose()
    before = run("summary", "--json").stdout
    assert {one["club"] for one in json.loads(before)["rows"]} == {"7 iron", "7 iron (2)"}
    run("export", "--season", "2026", "--to", tmp_path)
    use(monkeypatch, tmp_path, "other")
    run("import", tmp_path / "shots_2026.csv")
    after = json.loads(run("summary", "--json").stdout)
    assert after["rows"] == json.loads(before)["rows"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--season", "2025"), "error: --season: there are no shots in 2025"),
        (("--season", "26"), "--season: 26 is outside 1900 to 2200"),
        (
            ("--season", "2026", "--player", "Nobody"),
            "error: --player: 'Nobody' is not known; there is Wren Quillfeather",
        ),
        (("--season", "2026", "--baseline", "nobody"), "error: baseline: 'nobody' is neither a file nor one of tour"),
    ],
)
def test_what_cannot_be_exported_is_named_and_nothing_is_written(
    run: Run, file: Write, tmp_path: Path, options: tuple[str, ...], words: str
) -> None:
    run("import", file(table(drive_and_putt())))
    result = run("export", *options, "--to", tmp_path / "out")
    assert (result.exit_code, words in result.stderr) == (2, True)
    assert not (tmp_path / "out").exists()


def test_a_folder_that_is_a_file_is_named(run: Run, file: Write, tmp_path: Path) -> None:
    path = file(table(drive_and_putt()))
    run("import", path)
    for place in (path, path / "below"):
        result = run("export", "--season", "2026", "--to", place)
        assert result.exit_code == 2
        assert str(path) in result.stderr


def test_an_empty_database_has_nothing_to_export_or_sum(run: Run, tmp_path: Path) -> None:
    open_database(f"sqlite:///{tmp_path / 'cli.sqlite'}").dispose()
    assert "there are no shots in 2026" in run("export", "--season", "2026", "--to", tmp_path).stderr
    result = run("summary")
    assert result.stderr == "error: --player: name one player: none yet; import a season or run demo\n"
    assert json.loads(run("summary", "--everyone", "--json").stdout) == []


def test_a_player_without_shots_has_an_empty_summary(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = open_database(use(monkeypatch, tmp_path, "empty"))
    player_id = str(uuid4())
    push(engine, player_id, "phone", [change("player", body_of("player", name="Ash"), player_id)])
    engine.dispose()
    found = json.loads(run("summary", "--json").stdout)
    assert (found["player"], found["rows"], found["from"], found["to"], found["incomplete"]) == (
        "Ash",
        [],
        None,
        None,
        [],
    )
    assert found["total"]["strokes_gained"] == 0
    result = run("summary")
    assert result.exit_code == 0
    assert "None" not in result.stdout
