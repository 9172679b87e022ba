"""trial: the planted truths of the invented season, the words for people, and bad input."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from demo_rounds.skills import load_truth
from server.__main__ import main
from server.store.engine import open_database
from server.store.log import push
from tests.files.tables import row, table
from tests.made_once import copy_demo
from tests.records.made import Season, default_clubs, par_four

BLADES = ("--a", "4 iron A", "--b", "4 iron B")
SETUPS = ("--a", "driver@2026-01-01", "--b", "driver@2026-06-22")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Result]:
    """The commands on a database that holds the invented season."""
    place = tmp_path_factory.mktemp("demo") / "demo.sqlite"

    def call(*arguments: str) -> Result:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place}")
            result = CliRunner().invoke(main, list(arguments))
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    copy_demo(place)
    return call


def refused(word: str) -> None:
    """NaN and Infinity are no JSON."""
    pytest.fail(f"{word} in the document")


def document(demo: Callable[..., Result], *options: str) -> dict[str, Any]:
    result = demo("trial", "--json", *options)
    assert (result.exit_code, result.stderr) == (0, "")
    found = json.loads(result.stdout, parse_constant=refused)
    assert isinstance(found, dict)
    return found


def test_the_iron_on_trial_that_is_truly_better_is_found(demo: Callable[..., Result]) -> None:
    better, rival = load_truth().trial
    found = document(demo, "--a", rival, "--b", better)
    assert (found["verdict"]["code"], found["verdict"]["side"]) == ("leaning", "b")
    assert found["difference"]["high"] < 0 < found["difference"]["always_high"]
    assert (found["design"]["code"], found["design"]["pairs"]) == ("paired", 79)
    assert found["chance_b_better"] > 0.95
    assert found["length"]["typical_b_yd"] < found["length"]["typical_a_yd"]
    assert found["length"]["p"] < 0.01


def test_the_change_of_the_driver_that_truly_helped_is_found(demo: Callable[..., Result]) -> None:
    (change,) = load_truth().changes
    since = change["since"].isoformat()
    found = document(demo, "--a", f"{change['club']}@{since}", "--b", f"{change['club']}@2026-01-01")
    assert (found["verdict"]["code"], found["verdict"]["side"]) == ("leaning", "a")
    assert (found["design"]["code"], found["design"]["shared_rounds"]) == ("before_and_after", 0)
    assert found["design"]["control_shots"] > 500
    assert found["a"]["name"] == f"driver since {since}"
    assert found["playable"]["low"] > 0
    assert found["length"]["p"] > 0.1, "the change narrowed the driver sideways, not in length"


def test_after_five_rounds_it_is_honestly_undecided(demo: Callable[..., Result]) -> None:
    found = document(demo, *BLADES, "--to", "2026-04-07")
    assert found["verdict"]["code"] == "cannot_tell"
    assert not found["verdict"]["settled"]
    assert found["shots_missing"] > 50
    assert found["shots_missing_low"] < found["shots_missing"] < found["shots_missing_high"]
    assert " would settle 0.3 a round" in found["verdict"]["words"]


def test_the_document_adds_up(demo: Callable[..., Result]) -> None:
    found = document(demo, *BLADES)
    assert set(found) == {
        "player", "player_id", "baseline", "from", "to", "level", "empty", "minimum_effect", "pairs_on_trial",
        "rounds", "short_rounds",
        "a", "b",
        "difference", "chance_a_better", "chance_b_better", "shots_needed", "shots_missing",
        "shots_missing_low", "shots_missing_high", "design_effect", "verdict",
        "design", "length", "playable", "make_rate", "places",
        "practice", "practice_balls", "practice_sessions", "source",
    }  # fmt: skip
    assert (found["from"], found["to"], found["rounds"]) == ("2026-03-07", "2026-10-11", 30)
    for side in ("a", "b"):
        assert sum(place[f"shots_{side}"] for place in found["places"]) == found[side]["matched_shots"]
        assert found[side]["matched_shots"] <= found[side]["shots"]
    weights = [place["weight"] for place in found["places"]]
    assert sum(weights) == pytest.approx(1)
    assert weights == sorted(weights, reverse=True)
    by_place = sum(place["weight"] * (place["mean_a"] - place["mean_b"]) for place in found["places"])
    difference = found["difference"]
    assert difference["per_shot"] == pytest.approx(by_place, abs=0.02), "but for the slope of distance within the bands"
    assert difference["per_round"] == pytest.approx(difference["per_shot"] * difference["shots_a_round"])
    assert difference["shots_a_round"] == pytest.approx(found["a"]["uses_a_round"] + found["b"]["uses_a_round"])
    assert found["chance_a_better"] + found["chance_b_better"] == pytest.approx(1)
    assert difference["low"] < difference["per_shot"] < difference["high"]
    wide = document(demo, *BLADES, "--level", "0.99")["difference"]
    assert wide["low"] < difference["low"] < difference["high"] < wide["high"]
    assert document(demo, *BLADES, "--minimum-effect", "0.6")["shots_needed"] < found["shots_needed"] / 3


def test_a_setup_by_its_name_in_the_summary_is_the_same_side(demo: Callable[..., Result]) -> None:
    rows = json.loads(demo("summary", "--by", "setup", "--json").stdout)["rows"]
    names = sorted(one["setup"] for one in rows if one["setup"].startswith("driver, "))
    assert len(names) == 2
    assert document(demo, "--a", names[0], "--b", names[1]) == document(demo, *SETUPS)


def test_the_text_for_people(demo: Callable[..., Result]) -> None:
    result = demo("trial", *BLADES)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Wren Quillfeather: 4 iron A against 4 iron B, 2026-03-07 to 2026-10-11, against tour ")
    assert lines[2].startswith("Leaning to 4 iron B, not settled: it gains 0.")
    assert max(map(len, lines)) <= 100
    words = [" ".join(line.split()) for line in lines]
    assert any(line.startswith("4 iron B, strokes gained a shot +0.") for line in words)
    assert any(line.startswith("4 iron B, strokes gained a round (3.3 such shots) +0.") for line in words)
    assert any(line.startswith("Paired: both were hit from the same spot 79 times") for line in words)
    assert any(line.startswith("Length: 4 iron B is tighter") for line in words)
    assert any(line.startswith("Playable: ") for line in words)
    assert "from 4 iron A a shot 4 iron B a shot weight" in words
    assert "nan" not in result.stdout.lower()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (
            ("--a", "putter", "--b", "driver"),
            "Not clear yet: the two were never used from the same lie and a similar distance",
        ),
        ((*BLADES, "--from", "2027-01-01"), "Not clear yet: there are no shots in these days."),
        ((*BLADES, "--to", "2026-03-07"), "Not clear yet: too few shots from the same lie and distance"),
        ((*SETUPS, "--to", "2026-06-01"), "Not clear yet: no shots with driver since 2026-06-22 in these days."),
        (
            ("--a", "driver@as it was", "--b", "driver@2026-06-22"),
            "Not clear yet: no shots with driver as it was in these days.",
        ),
    ],
)
def test_what_cannot_be_answered_is_a_plain_sentence(
    demo: Callable[..., Result], options: tuple[str, ...], words: str
) -> None:
    result = demo("trial", *options)
    assert (result.exit_code, result.stderr) == (0, "")
    assert words in " ".join(result.stdout.split())
    assert "nan" not in result.stdout.lower()
    found = document(demo, *options)
    assert (found["difference"], found["chance_a_better"], found["verdict"]["side"]) == (None, None, None)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--a", "driver", "--b", "driver"), "--b: 'driver' and 'driver' have the same shots: a trial needs two clubs"),
        (("--a", "driver", "--b", "driver@2026-06-22"), "have the same shots"),
        (
            ("--a", "ball:moon", "--b", "driver"),
            "--a: 'moon' is not one of the balls that the rounds name: white Curlew",
        ),
        (("--a", "moon", "--b", "driver"), "--a: 'moon' is not one of the player's clubs: 3 wood, 4 iron A, "),
        (("--a", "driver", "--b", "moon@2026-06-22"), "--b: 'moon@2026-06-22' is not one of the player's clubs"),
        (
            ("--a", "driver@2026-05-05", "--b", "putter"),
            "--a: driver has no setup that began on '2026-05-05'; it has 2026-01-01, 2026-06-22",
        ),
        ((*BLADES, "--from", "2026-06-01", "--to", "2026-05-01"), "--from: 2026-06-01 is after --to 2026-05-01"),
        ((*BLADES, "--level", "nan"), "--level: 'nan' is not a number, 0.5 to 0.99"),
        ((*BLADES, "--level", "1"), "--level: 1 is outside 0.5 to 0.99"),
        ((*BLADES, "--minimum-effect", "0"), "--minimum-effect: 0 is outside 0.05 to 5 strokes"),
        ((*BLADES, "--player", "Nobody"), "--player: 'Nobody' is not known"),
        ((*BLADES, "--baseline", "moon"), "baseline: 'moon' is neither a file nor one of tour"),
        (("--a", "driver"), "--b: is missing"),
    ],
)
def test_bad_input_is_one_clear_message(demo: Callable[..., Result], options: tuple[str, ...], words: str) -> None:
    result = demo("trial", *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr


def test_one_shot_each_of_a_player_without_setups(run: Callable[..., Result], file: Callable[..., Path]) -> None:
    run("import", file(table([row(end_lie="fairway", end_distance=150), row(hole=2, club="3 wood", holed="yes")])))
    result = run("trial", "--a", "driver", "--b", "3 wood")
    assert (result.exit_code, result.stderr) == (0, "")
    assert (
        "too few shots from the same lie and distance (1 with driver, 1 with 3 wood; at least 5 with each are needed)"
        in " ".join(result.stdout.split())
    )
    result = run("trial", "--a", "driver@2026-06-22", "--b", "3 wood")
    assert "--a: driver has no setup that began on '2026-06-22'; it has no setup" in result.stderr


def test_a_competition_round_that_is_open_locks_the_trial(run: Callable[..., Result]) -> None:
    season = Season()
    clubs = default_clubs(season)
    par_four(season, season.round("one", kind="competition"), clubs)
    engine = open_database(os.environ["PENCILBAG_DATABASE"])
    push(engine, season.player_id, "phone", season.changes, strict=True)
    engine.dispose()
    result = run("trial", "--a", "driver", "--b", "8 iron")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "rule 4.3a" in result.stderr


def test_summaries_of_the_season_have_intervals_around_their_means(demo: Callable[..., Result]) -> None:
    for by in ("club", "category", "lie", "hole", "month", "setup", "distance"):
        more = ("--balls", "of_record") if by in ("club", "setup") else ()
        found = json.loads(demo("summary", "--by", by, *more, "--json").stdout, parse_constant=refused)
        for one in [*found["rows"], found["total"]]:
            if one["too_few"]:
                assert (one["per_shot_low"], one["per_shot_high"]) == (None, None)
                assert one["rounds"] < 2 or one["shots"] < 5 or one["too_few"].startswith("all alike")
                continue
            assert one["per_shot_low"] < one["per_shot"] < one["per_shot_high"]
            assert one["per_round"] == pytest.approx(one["strokes_gained"] / one["of_rounds"])
            assert one["per_round_low"] < one["per_round"] < one["per_round_high"]
    by_club = json.loads(demo("summary", "--json").stdout)
    assert sum(one["per_round"] for one in by_club["rows"]) == pytest.approx(by_club["total"]["per_round"])
    by_category = json.loads(demo("summary", "--by", "category", "--json").stdout)
    assert by_club["total"]["extra_balls"]["shots"] > 100, "which are no part of a round"
    for name in ("per_round", "per_round_low", "per_round_high", "rounds", "short_rounds", "holes"):
        assert by_club["total"][name] == by_category["total"][name]
    irons = {one["club"]: one for one in by_club["rows"]}
    first, second = irons["4 iron A"], irons["4 iron B"]
    assert first["per_shot"] < first["shrunk"] < second["shrunk"] < second["per_shot"]
    wide = json.loads(demo("summary", "--json", "--level", "0.99").stdout)
    assert wide["level"] == 0.99
    assert wide["total"]["per_shot_low"] < by_club["total"]["per_shot_low"]
