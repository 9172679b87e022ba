"""The shipped season is what the generator writes, byte for byte."""

import tomllib

import pytest

from demo_rounds import generate
from demo_rounds.course import load_course
from demo_rounds.skills import TRUTH, load_truth

SHIPPED = generate.FOLDER / "season_2026.csv"


def test_the_generator_writes_the_shipped_bytes_again(tmp_path, capsys):
    generate.main(["--to", str(tmp_path)])
    assert (tmp_path / "season_2026.csv").read_bytes() == SHIPPED.read_bytes()
    assert "shots written" in capsys.readouterr().out


def test_another_seed_gives_another_season(tmp_path):
    generate.main(["--seed", "7", "--to", str(tmp_path)])
    assert (tmp_path / "season_2026.csv").read_bytes() != SHIPPED.read_bytes()


def test_a_second_player_leaves_the_first_ones_season_alone(tmp_path):
    other = tmp_path / "truth.toml"
    text = TRUTH.read_text(encoding="utf-8")
    name = load_truth().player
    other.write_text(text.replace(name, "Ada Invented"), encoding="utf-8")
    calendar = tomllib.loads(generate.CALENDAR.read_text(encoding="utf-8"))
    calendar = {"rounds": calendar["rounds"][:3], "picked_up": []}
    alone = generate.season([load_truth()], load_course(), calendar)
    both = generate.season([load_truth(other), load_truth()], load_course(), calendar)
    assert [row for row in both if row["player"] == name] == alone
    assert {row["player"] for row in both} == {name, "Ada Invented"}


def test_files_say_that_all_is_invented():
    for name in ("about.toml", "player.toml", "course.toml", "truth.toml"):
        assert tomllib.loads((generate.FOLDER / name).read_text(encoding="utf-8"))["invented"] is True
    about = tomllib.loads((generate.FOLDER / "about.toml").read_text(encoding="utf-8"))
    data = {path.name for path in generate.FOLDER.iterdir() if path.suffix in {".csv", ".toml", ".geojson"}}
    assert set(about["files"]) == data - {"about.toml"}
    player = tomllib.loads((generate.FOLDER / "player.toml").read_text(encoding="utf-8"))
    truth = load_truth()
    assert player["name"] == truth.player


def test_a_hole_that_ends_before_its_pick_up_is_refused():
    calendar = {
        "rounds": [["2026-03-07", "practice", "middle", "both"]],
        "picked_up": [{"day": load_day("2026-03-07"), "hole": 1, "after_shot": 15, "end_entered": False}],
    }
    with pytest.raises(ValueError, match="hole 1 on 2026-03-07 was holed before it could be picked up"):
        generate.season([load_truth()], load_course(), calendar)


def load_day(text):
    """A day as TOML gives it."""
    return tomllib.loads(f"day = {text}")["day"]
