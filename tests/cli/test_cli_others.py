"""The commands against, pair and holes: players beside others, in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from server.questions.competition_lock import LOCK
from server.store.engine import open_database, reading
from server.store.log import push
from server.store.players import players_by_name
from server.store.sharing import share
from tests.cli.conftest import Run
from tests.files.tables import nine_par_fours, table
from tests.records.made import Season

PUTTED_TWICE = {
    "Ash Thimble": (1, 2, 1, 2, 1, 0),
    "Birch Tansy": (7, 8, 7, 8, 7, 8),
    "Cedar Plum": (4, 3, 4, 5, 3, 4),
    "Dale Finch": (5, 4, 6, 5, 5, 4),
}
COURSES = ("North", "South")


def season(player: str, rounds: int = 6, courses: tuple[str, ...] = COURSES) -> list[dict[str, Any]]:
    """Rounds of nine par 4, four days apart, with two putts on some of the holes."""
    return [
        shot
        for number in range(rounds)
        for shot in nine_par_fours(
            PUTTED_TWICE[player][number],
            player=player,
            played_on=f"2026-04-{1 + 4 * number:02}",
            course=courses[number % len(courses)],
        )
    ]


@pytest.fixture
def played(run: Run, file: Callable[..., Path]) -> Run:
    rows = [shot for player in PUTTED_TWICE for shot in season(player)]
    assert run("import", file(table(rows))).exit_code == 0
    return run


@pytest.fixture
def database(tmp_path: Path) -> Any:
    """The engine of the command line's database."""
    engine = open_database(f"sqlite:///{tmp_path / 'cli.sqlite'}")
    yield engine
    engine.dispose()


def locked(database: Any) -> Season:
    """A player whose competition round is open."""
    made = Season("Elm Ledger")
    made.round("open", kind="competition")
    push(database, made.player_id, "phone", made.changes)
    return made


def squad_of(database: Any, squad: str, *names: str) -> None:
    with reading(database) as connection:
        ids = [players_by_name(connection, name)[0].player_id for name in names]
    for player_id in ids:
        share(database, player_id, reader=None, squad=squad)


def test_a_player_beside_the_squad(played: Run) -> None:
    found = json.loads(played("against", "--player", "Ash Thimble", "--json").stdout)
    assert (found["others"], found["rounds"], found["rounds_of_others"], found["courses"]) == (3, 6, 18, 2)
    assert [row["part"] for row in found["parts"]] == [
        "total",
        "off_the_tee",
        "approach",
        "around_the_green",
        "putting",
    ]
    total, putting = found["parts"][0], found["parts"][4]
    assert total["verdict"] == putting["verdict"] == "better"
    assert total["low"] > 0
    # five and a half holes of nine without a second putt fewer than the others, for 18 holes
    assert 4 < total["difference"] < 12
    assert found["parts"][3]["lacking"] == "no such shot"
    words = played("against", "--player", "Ash Thimble").stdout
    assert words.startswith("Ash Thimble compared with the squad, strokes gained a round, against tour ")
    assert "Better than that mean: all strokes" in " ".join(words.split())
    assert "Each interval is for its own row" in words
    assert "nan" not in words


def test_the_field_has_five_others_at_least_and_names_nobody(played: Run) -> None:
    done = played("against", "--player", "Ash Thimble", "--reference", "field")
    assert done.exit_code == 0
    assert "Ash Thimble cannot be compared with the field: the field has too few players" in done.stdout
    found = json.loads(played("against", "--player", "Ash Thimble", "--reference", "field", "--json").stdout)
    assert (found["others"], found["rounds_of_others"], found["left_out"]) == (0, 0, [])
    assert {row["difference"] for row in found["parts"]} == {None}


def test_a_squad_of_its_name(played: Run, database: Any) -> None:
    squad_of(database, "first", "Ash Thimble", "Birch Tansy", "Cedar Plum")
    found = json.loads(played("against", "--player", "Ash Thimble", "--squad", "first", "--json").stdout)
    assert found["others"] == 2
    ranked = json.loads(played("squad", "--squad", "first", "--json").stdout)
    assert {one["name"] for one in ranked["players"]} == {"Ash Thimble", "Birch Tansy", "Cedar Plum"}
    holes = json.loads(played("holes", "--squad", "first", "--course", "North", "--json").stdout)
    assert (holes["players"], holes["rounds"]) == (3, 9)
    tables = json.loads(played("summary", "--squad", "first", "--json").stdout)
    assert [one["player"] for one in tables] == ["Ash Thimble", "Birch Tansy", "Cedar Plum"]
    for command in (("squad",), ("against", "--player", "Ash Thimble"), ("holes",), ("summary",)):
        done = played(*command, "--squad", "second")
        assert (done.exit_code, done.stdout) == (2, "")
        assert done.stderr == "error: --squad: nobody shares with a squad 'second'\n"


def test_a_squad_of_one_is_words_and_no_number(run: Run, file: Callable[..., Path]) -> None:
    assert run("import", file(table(season("Ash Thimble")))).exit_code == 0
    words = run("against").stdout
    assert "there are none besides the player" in " ".join(words.split())
    assert "interval" not in words


def test_two_players(played: Run) -> None:
    found = json.loads(played("pair", "--player", "Ash Thimble", "--other", "Birch Tansy", "--json").stdout)
    assert (found["a"]["name"], found["b"]["name"]) == ("Ash Thimble", "Birch Tansy")
    assert found["shared_courses"] == ["North", "South"]
    total = found["parts"][0]
    assert total["verdict"] == "a better"
    assert total["together_low"] < total["low"] < total["difference"]
    # six second putts more over nine holes: twelve strokes for 18 holes
    assert total["difference"] == pytest.approx(12.0, abs=2.0)
    assert total["chance_a_better"] > 0.99
    words = played("pair", "--player", "Ash Thimble", "--other", "Birch Tansy").stdout
    assert "Ash Thimble is better: all strokes" in words
    assert "all 5 rows together" in " ".join(words.split())
    assert "Not judged: around the green, no such shot." in words


def test_two_who_are_alike_are_not_told_apart(played: Run) -> None:
    words = " ".join(played("pair", "--player", "Cedar Plum", "--other", "Dale Finch").stdout.split())
    assert "Neither is clearly better" in words
    assert "is better:" not in words


def test_holes_of_a_course(played: Run) -> None:
    listed = json.loads(played("holes", "--json").stdout)
    assert listed["courses"] == [{"course": name, "rounds": 12, "players": 4} for name in COURSES]
    assert (listed["course"], listed["holes"]) == (None, [])
    assert "Name one of the courses." in played("holes").stdout
    found = json.loads(played("holes", "--course", "North", "--json").stdout)
    assert [one["hole"] for one in found["holes"]] == list(range(1, 10))
    assert {one["times"] for one in found["holes"]} == {12}
    assert sum(one["parts"][0]["beside"] for one in found["holes"]) == pytest.approx(0)
    alone = json.loads(played("holes", "--course", "North", "--player", "Ash Thimble", "--json").stdout)
    assert (alone["players"], alone["rounds"]) == (1, 3)
    # the first holes have the second putts
    assert found["holes"][0]["parts"][0]["mean"] < found["holes"][8]["parts"][0]["mean"]
    assert "verdicts over all holes together" in " ".join(played("holes", "--course", "North").stdout.split())


def test_days_and_kinds_are_asked_of_everybody(played: Run) -> None:
    days = ("--from", "2026-04-01", "--to", "2026-04-09")
    found = json.loads(played("against", "--player", "Ash Thimble", "--json", *days).stdout)
    assert (found["rounds"], found["rounds_of_others"]) == (3, 9)
    none = json.loads(played("against", "--player", "Ash Thimble", "--json", "--kind", "competition").stdout)
    assert none["rounds"] == 0
    assert none["lacking"].startswith("fewer than 3 rounds")


def test_while_a_competition_round_is_open(played: Run, database: Any) -> None:
    locked(database)
    refusal = f"error: Elm Ledger has a competition round open. {LOCK}\n"
    for command in (
        ("against", "--player", "Elm Ledger"),
        ("pair", "--player", "Elm Ledger", "--other", "Ash Thimble"),
        ("pair", "--player", "Ash Thimble", "--other", "Elm Ledger"),
        ("holes", "--player", "Elm Ledger"),
    ):
        done = played(*command)
        assert (done.exit_code, done.stdout, done.stderr) == (2, "", refusal)
    left_out = json.loads(played("holes", "--course", "North", "--json").stdout)["left_out"]
    assert [(one["name"], one["why"]) for one in left_out] == [("Elm Ledger", "a competition round is open")]
    beside = json.loads(played("against", "--player", "Ash Thimble", "--json").stdout)
    assert [one["name"] for one in beside["left_out"]] == ["Elm Ledger"]


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (("against",), "--player: name one player"),
        (("against", "--player", "Nobody"), "--player: 'Nobody' is not known"),
        (
            ("against", "--player", "Ash Thimble", "--reference", "moon"),
            "--reference: 'moon' is not one of squad, field",
        ),
        (("against", "--player", "Ash Thimble", "--level", "1"), "--level: 1 is outside"),
        (("against", "--player", "Ash Thimble", "--baseline", "moon"), "moon"),
        (("pair", "--player", "Ash Thimble"), "--other: is missing"),
        (("pair", "--player", "Ash Thimble", "--other", "Nobody"), "--other: 'Nobody' is not known"),
        (("pair", "--player", "Ash Thimble", "--other", "Ash Thimble"), "--other: 'Ash Thimble' is the same player"),
        (("holes", "--course", "Moor"), "--course: Moor is not a course with rounds that count: North, South"),
        (("holes", "--player", "Ash Thimble", "--squad", "first"), "--player: is one player's rounds alone"),
        (("holes", "--from", "2026-05-01", "--to", "2026-04-01"), "--from: 2026-05-01 is after --to 2026-04-01"),
    ],
)
def test_bad_input_is_one_clear_message(played: Run, command: tuple[str, ...], words: str) -> None:
    done = played(*command)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1
    assert words in done.stderr
