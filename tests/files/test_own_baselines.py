"""Own baselines: where they lie, their ids, who shares with a squad, and what the TOML may hold."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.expected_strokes.files import read_baseline
from server.analysis.expected_strokes.own_table import OwnTable
from server.questions.own_baselines import (
    INSTANCE,
    about_text,
    own_file,
    own_folder,
    own_id,
    own_ids,
    own_of,
    players_in,
    table_text,
    write_own,
)
from server.store.account_tables import SHARE
from server.store.engine import reading, writing
from server.store.squads import squad_players


def test_the_folder_lies_beside_the_database_unless_it_is_named():
    assert own_folder("sqlite:////srv/log.sqlite") == Path("/srv/baselines")
    assert own_folder("postgresql://pencilbag@/pencilbag") == INSTANCE / "baselines"
    assert own_folder("sqlite:///:memory:") == INSTANCE / "baselines"
    assert own_folder("sqlite:////srv/log.sqlite", "/elsewhere") == Path("/elsewhere")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Wren Quillfeather", "wren-quillfeather"),
        ("tour", "tour-own"),
        ("../../etc/passwd", "etc-passwd"),
        ("A" * 200, "a" * 40),
    ],
)
def test_ids_from_names(name: str, expected: str):
    assert own_id(name) == expected


def test_a_name_without_a_letter_still_gets_an_id():
    assert own_id("…") != own_id("!!")
    assert own_id("…").startswith("player-")


def small_table() -> OwnTable:
    rows = pd.DataFrame(
        {
            "lie": ["tee", "tee", "green"],
            "distance_yd": [100.0, 200.0, 8 / 3],
            "expected": [3.0, 3.25, 1.55],
            "published": [2.92, 3.12, 1.5],
            "known": ["published", "data", "data"],
            "low": [2.9, 3.2, 1.5],
            "high": [3.1, 3.3, 1.6],
            "near": [0, 41, 33],
        }
    )
    return OwnTable(rows, 0.1, 500, 120, 7, {"tee": (150.0, 450.0), "green": (1.0, 10.0)})


def test_written_files_read_back(tmp_path: Path):
    tour = load_baseline("tour")
    whose = 'The "A" squad \\ north\x7f\n'
    about = about_text(
        small_table(), tour, "a-squad", whose, ["one", "two"], (date(2026, 3, 1), date(2026, 9, 1)), date(2026, 9, 2)
    )
    path = write_own(tmp_path / "deep" / "a-squad", table_text(small_table()), about)
    assert path == tmp_path / "deep" / "a-squad.csv"
    read = read_baseline(path)
    assert (read.id, read.about["population"], read.about["players"]) == ("a-squad", whose, ["one", "two"])
    assert read.rows["green"][0].tolist() == pytest.approx([8 / 3])
    assert read.rows["tee"][1].tolist() == [3.0, 3.25]
    assert tomllib.loads(about)["data_range"]["green"] == "3 to 30 ft"
    assert players_in(path) == {"one", "two"}
    assert sorted(file.name for file in path.parent.iterdir()) == ["a-squad.csv", "a-squad.toml"]


def test_only_sound_ids_are_listed(tmp_path: Path):
    for name in ("mine", "tour", "With Spaces", ".hidden"):
        (tmp_path / f"{name}.toml").write_text("", encoding="utf-8")
    assert own_ids(tmp_path) == ["mine"]
    assert own_file(tmp_path, "mine") == tmp_path / "mine.toml"
    for name in ("tour", "../mine", str(tmp_path / "mine"), "nobody", ""):
        assert own_file(tmp_path, name) is None
    assert own_ids(tmp_path / "missing") == []


def test_a_players_own_baseline_holds_that_player_alone(tmp_path: Path):
    def lay(name: str, players: str, made_on: str) -> None:
        (tmp_path / f"{name}.toml").write_text(f"players = {players}\n[fit]\nmade_on = {made_on}\n", encoding="utf-8")

    assert own_of(tmp_path, "p1", "Robin") is None
    lay("squad", '["p1", "p2"]', "2026-09-09")
    (tmp_path / "broken.toml").write_text("players = [", encoding="utf-8")
    assert own_of(tmp_path, "p1", "Robin") is None
    lay("spring", '["p1"]', "2026-05-01")
    lay("autumn", '["p1"]', "2026-09-01")
    assert own_of(tmp_path, "p1", "Robin") == "autumn"
    lay("robin", '["p1"]', "2026-01-01")
    assert own_of(tmp_path, "p1", "Robin") == "robin"
    assert own_of(tmp_path, "p2", "Robin") is None


def test_a_squad_is_those_who_share_with_it_now(engine: sa.Engine):
    rows = [("p2", "North", None), ("p1", "North", None), ("p3", "North", "2026-05-01"), ("p4", "South", None)]
    with writing(engine) as connection:
        for number, (player, squad, ended) in enumerate(rows):
            connection.execute(
                sa.insert(SHARE).values(
                    share_id=f"s{number}", player_id=player, squad=squad, since="2026-01-01", ended_at=ended
                )
            )
    with reading(engine) as connection:
        assert squad_players(connection, "North") == ["p1", "p2"]
        assert squad_players(connection, "East") == []
