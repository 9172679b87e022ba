"""patterns, distances, plan and map on the command line: words for people, bad input in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from server.__main__ import main
from server.commands import plans
from server.commands.plan_tables import shape_lines
from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, to_geojson
from server.game.hole_maps import feature, oval
from server.store.engine import open_database, reading
from server.store.hole_maps import hole_map_texts
from server.store.log import push
from server.store.players import courses, players
from tests import tiers
from tests.made_once import copy_demo
from tests.records.made import change

Run = Callable[..., Result]


def call_on(address: str) -> Run:
    """Runs commands on one database."""

    def call(*arguments: str | Path) -> Result:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("PENCILBAG_DATABASE", address)
            result = CliRunner().invoke(main, [str(argument) for argument in arguments])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return call


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    return f"sqlite:///{tmp_path_factory.mktemp('plans') / 'demo.sqlite'}"


@pytest.fixture(scope="module")
def demo(address: str) -> Run:
    """The commands on a database that holds the invented season with its maps."""
    copy_demo(Path(address.removeprefix("sqlite:///")))
    return call_on(address)


def maps_in(address: str) -> dict[int, str]:
    """Hole -> features of the invented course."""
    engine = open_database(address)
    try:
        with reading(engine) as connection:
            (player,) = players(connection)
            ((course_id, _),) = courses(connection, player.player_id).values()
            return hole_map_texts(connection, player.player_id, course_id)
    finally:
        engine.dispose()


def shown(demo: Run, *arguments: str) -> str:
    result = demo(*arguments)
    assert result.exit_code == 0, result.output
    assert "nan" not in result.stdout.lower().split()
    assert max(map(len, result.stdout.splitlines())) <= 120
    return result.stdout


CLUBS_OF_THE_PAGE = () if tiers.LONG else ("--club", "driver", "--club", "5 iron", "--club", "8 iron")
"""A page of three clubs takes a quarter of the time of a page of the bag."""


def refused(demo: Run, *arguments: str | Path) -> str:
    result = demo(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    return result.stderr


def test_the_page_has_every_hole_of_the_round(demo: Run) -> None:
    result = demo("plan", "--tees", "middle", *CLUBS_OF_THE_PAGE)
    assert result.exit_code == 0
    assert result.stderr == ""
    assert len(result.stdout.splitlines()) <= 60
    assert max(map(len, result.stdout.splitlines())) <= 120
    rows = [line.split() for line in result.stdout.splitlines()[4:22]]
    assert [row[0] for row in rows] == [str(number) for number in range(1, 19)]
    clubs = {row[0]: row[3] for row in rows}
    assert clubs["3"] == "driver"
    assert clubs["12"] != "driver"
    assert "local rules come first" in " ".join(result.stdout.split())


def test_one_hole_in_full_and_as_json(demo: Run) -> None:
    words = shown(demo, "plan", "--hole", "13")
    assert "par 5" in words
    assert "all: from the player's own shots and what the other clubs have in common" in words
    assert "best in" in words
    assert "of 100" in words
    made = json.loads(shown_json(demo, "plan", "--hole", "13", "--json"))
    assert made["options"][0]["name"] == made["best"]["name"]
    # out of bounds right at 46 yd, trees left at 38: the driver goes no nearer to the right than the middle
    assert made["options"][0]["aim_yd"] <= 0
    approach = json.loads(shown_json(demo, "plan", "--hole", "17", "--from", "0,290", "--lie", "rough", "--json"))
    assert approach["lie"] == "rough"
    assert approach["to_hole_yd"] == pytest.approx(219, abs=2)


def shown_json(demo: Run, *arguments: str) -> str:
    result = demo(*arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def test_patterns_and_distances_in_words_and_as_json(demo: Run) -> None:
    words = shown(demo, "patterns")
    for club in ("driver, full", "9 iron, full", "driver, fade"):
        assert club in words
    assert "Sensors 22:9069" in words
    one = json.loads(shown_json(demo, "patterns", "--club", "driver", "--split", "setup", "--json"))
    assert {row["group"][:10] for row in one["patterns"]} == {"2026-01-01", "2026-06-22"}
    ladder = shown(demo, "distances")
    assert "not corrected for the air" in ladder
    assert "factor of about 2" in shown(demo, "distances", "--altitude", "1500")
    made = json.loads(shown_json(demo, "distances", "--json"))
    assert [rung["club"] for rung in made["clubs"]][:2] == ["driver", "3 wood"]
    flags = {step["longer"]: step["flag"] for step in made["steps"]}
    assert (flags["driver"], flags["4 iron A"]) == ("gap", "both on trial")


def test_strikes_in_words_and_as_json(demo: Run) -> None:
    words = shown(demo, "strikes")
    made = json.loads(shown_json(demo, "strikes", "--club", "driver", "--json"))
    (driver,) = made["clubs"]
    pooled = driver["fields"][0]["values"][-1]
    assert (driver["club"], pooled["value"]) == ("driver", "not centre")
    line = next(" ".join(one.split()) for one in words.splitlines() if one.startswith("strike: not centre"))
    yards, strokes = pooled["yards"], pooled["strokes"]
    assert line.split()[3] == str(pooled["shots"])
    assert f"{yards['difference']:+.1f} {yards['low']:+.1f} to {yards['high']:+.1f}" in line
    assert f"{strokes['difference']:+.3f} {strokes['low']:+.3f} to {strokes['high']:+.3f}" in line
    assert yards["high"] < 0, "the truth of the demo makes mishits fall short"
    assert "Recorded: strike 470 of 2406 shots" in words
    assert "no other recorded" in words


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("patterns", "--club", "9 wood"), "--club: there is no finish of '9 wood'; there is"),
        (("patterns", "--from", "2026-06-01", "--to", "2026-05-01"), "--from: 2026-06-01 is after --to 2026-05-01"),
        (("strikes", "--club", "9 wood"), "--club: '9 wood' is not one of the player's clubs: "),
        (("distances", "--gap", "0"), "--gap: 0 is outside 1 to 100 yd"),
        (("distances", "--temperature", "90"), "--temperature: 90 is outside -30 to 60 degrees C"),
        (("plan", "--course", "Nowhere"), "--course: 'Nowhere' is not known; there is Blottingham Heath"),
        (("plan", "--tees", "gold"), "has no tees 'gold'; there is middle, back"),
        (("plan", "--hole", "30"), "has no hole 30"),
        (("plan", "--hole", "1", "--from", "here"), "not two numbers with a comma"),
        (("plan", "--hole", "1", "--from", "0,5000"), "hole 1: from: (0, 5000) lies beyond the map"),
        (("plan", "--from", "0,100"), "--hole: name the hole"),
        (("plan", "--baseline", "nobody"), "'nobody' is neither a file nor one of tour"),
        (("plan", "--hole", "1", "--club", "putter"), "putter: 0 tapped full swings"),
    ],
)
def test_bad_input_is_one_clear_line(demo: Run, arguments: tuple[str, ...], words: str) -> None:
    assert words in refused(demo, *arguments).replace("hole 1 (1 of 18) ...\n", "")


def on_earth(number: int, length: float) -> dict[str, object]:
    features = [
        feature("tee", [(-3, -5), (3, -5), (3, 5), (-3, 5)]),
        feature("green", oval(0, length, 11, 13)),
    ]
    made = to_geojson(HoleMap(features, LocalFrame(-1.5, 52.3, 70.0)))
    for found in made["features"]:
        found["properties"]["hole"] = number
    return made


def test_a_map_of_one_hole_replaces_the_old_one_and_the_rest_stays(tmp_path: Path) -> None:
    copy_demo(tmp_path / "own.sqlite")
    address = f"sqlite:///{tmp_path / 'own.sqlite'}"
    own = call_on(address)
    before = maps_in(address)
    path = tmp_path / "hole.geojson"
    path.write_text(json.dumps(on_earth(12, 158.0)), encoding="utf-8")
    done = own("map", "import", path)
    assert done.stdout == "1 hole read (12); stored 1 new or changed map\n"
    after = maps_in(address)
    assert after[12] != before[12]
    assert {hole: text for hole, text in after.items() if hole != 12} == {
        hole: text for hole, text in before.items() if hole != 12
    }
    assert own("map", "import", path).stdout == "1 hole read (12); nothing new\n"
    assert own("plan", "--hole", "12").exit_code == 0


def test_files_that_are_no_maps_are_named_and_store_nothing(demo: Run, address: str, tmp_path: Path) -> None:
    before = maps_in(address)
    cloud = {"type": "FeatureCollection", "features": []}
    both = on_earth(12, 158.0)
    both["features"] += on_earth(4, 900.0)["features"]  # type: ignore[operator]
    cases = {
        "cloud": (json.dumps(cloud).encode(), "no polygon with a golf tag"),
        "words": (b"hole twelve", "the file is not JSON"),
        "bytes": (b"\xff\xfe\x00", "the file is not JSON"),
        "deep": (b"[" * 100_000, "the file is not JSON"),
        "half": (json.dumps(both).encode(), "hole 4: the green lies 900 yd from the origin"),
        "large": (b" " * 50_000_000, "the file has 50 MB; the most is 20 MB"),
    }
    for name, (content, words) in cases.items():
        path = tmp_path / f"{name}.geojson"
        path.write_bytes(content)
        said = refused(demo, "map", "import", path)
        assert words in said
        assert "nothing was stored" in said or name == "large"
    assert maps_in(address) == before


def test_an_open_competition_round_locks_all_three(tmp_path: Path) -> None:
    copy_demo(tmp_path / "open.sqlite")
    address = f"sqlite:///{tmp_path / 'open.sqlite'}"
    own = call_on(address)
    engine = open_database(address)
    with reading(engine) as connection:
        (player,) = players(connection)
    holes = [{"number": 1, "par": 4, "length_yd": 400}]
    body = {"played_on": "2026-10-30", "kind": "competition", "holes": holes, "bag": []}
    push(engine, player.player_id, "phone", [change("round", body)], strict=True)
    engine.dispose()
    for command in ("patterns", "distances", "plan"):
        assert "4.3a" in refused(own, command)


def test_a_course_without_maps_says_how_to_get_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copy_demo(tmp_path / "bare.sqlite")
    own = call_on(f"sqlite:///{tmp_path / 'bare.sqlite'}")
    monkeypatch.setattr(plans, "hole_map_texts", lambda *_: {})
    assert "map import FILE" in refused(own, "plan")


def test_the_shape_that_suits_is_a_line_of_the_plan() -> None:
    shape: Any = {
        "club": "driver",
        "shape": "straight",
        "against": "draw",
        "costs": 0.081,
        "low": 0.02,
        "high": 0.15,
        "chance": 0.998,
        "verdict": "suits a straight ball",
        "aim_yd": -6.0,
        "line": "the middle of the fairway",
        "miss_left_yd": 19.4,
        "miss_right_yd": 22.0,
    }
    document: Any = {"shapes": [shape]}
    (line,) = shape_lines(document)
    assert line == (
        "driver: suits a straight ball: a draw costs +0.08 strokes (+0.02 to +0.15); a straight ball is better in over "
        "99 of 100. Aim a straight ball 6 yd left of mid-fairway: eight in ten finish from 19 yd left to 22 yd right "
        "of that"
    )
