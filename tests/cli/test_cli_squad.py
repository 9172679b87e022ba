"""The command squad: the players in order, in words and as JSON; what cannot be ordered is a sentence."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from server.store.engine import open_database
from server.store.log import push
from tests.cli.conftest import Run
from tests.files.tables import nine_par_fours, table
from tests.records.made import Season

PUTTED_TWICE = {"Ash Thimble": (1, 2, 1, 2), "Birch Tansy": (7, 8, 7, 8), "Cedar Plum": (4, 3, 4, 5)}
COURSES = ("North", "South")


def season(player: str, rounds: int = 4) -> list[dict[str, Any]]:
    """Rounds of nine par 4, a week apart, on two courses, with two putts on some of the holes."""
    return [
        shot
        for number in range(rounds)
        for shot in nine_par_fours(
            PUTTED_TWICE[player][number],
            player=player,
            played_on=f"2026-04-{1 + 7 * number:02}",
            course=COURSES[number % 2],
        )
    ]


@pytest.fixture
def played(run: Run, file: Callable[..., Path]) -> Run:
    rows = [*season("Ash Thimble"), *season("Birch Tansy"), *season("Cedar Plum", rounds=2)]
    assert run("import", file(table(rows))).exit_code == 0
    return run


def test_the_order_and_who_is_left_out(played: Run) -> None:
    found = json.loads(played("squad", "--by", "putting", "--json").stdout)
    assert [one["name"] for one in found["players"]] == ["Ash Thimble", "Birch Tansy"]
    ash, birch = found["players"]
    assert ash["mean"] - birch["mean"] > 5, "twelve putts a round of nine holes fewer"
    assert ash["beside_squad"] == pytest.approx(-birch["beside_squad"])
    assert ash["chances"][0] == pytest.approx(birch["chances"][1])
    assert (found["by"], found["courses"], found["baseline"]["id"]) == ("putting", 2, "tour")
    (left_out,) = found["left_out"]
    assert left_out["name"] == "Cedar Plum"
    assert left_out["why"].startswith("fewer than 3 rounds")


def test_the_order_in_words(played: Run) -> None:
    done = played("squad")
    assert (done.exit_code, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0].startswith("Squad by total, strokes gained a round, against tour ")
    assert lines[2].startswith("Ash Thimble is first in all strokes (chance ")
    assert "Left out: Cedar Plum, fewer than 3 rounds of nine holes or more with a course." in lines


def test_a_player_whose_competition_round_is_open_has_no_place(played: Run, tmp_path: Path) -> None:
    made = Season("Dale Finch")
    made.round("open", kind="competition")
    engine = open_database(f"sqlite:///{tmp_path / 'cli.sqlite'}")
    push(engine, made.player_id, "phone", made.changes)
    engine.dispose()
    found = json.loads(played("squad", "--json").stdout)
    assert "Dale Finch" not in [one["name"] for one in found["players"]]
    assert {"player_id": made.player_id, "name": "Dale Finch", "why": "a competition round is open"} in found[
        "left_out"
    ]


def test_a_squad_of_one_and_days_without_a_round(run: Run, file: Callable[..., Path]) -> None:
    assert run("import", file(table(season("Ash Thimble")))).exit_code == 0
    assert "No order: at least two players" in run("squad").stdout
    assert "Left out: Ash Thimble" in run("squad", "--from", "2030-01-01").stdout


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--by", "luck"), "--by: 'luck'"),
        (("--level", "1"), "--level: 1"),
        (("--baseline", "moon"), "moon"),
        (("--from", "2026-05-01", "--to", "2026-04-01"), "--from: 2026-05-01 is after --to 2026-04-01"),
    ],
)
def test_bad_input_is_one_clear_message(played: Run, options: tuple[str, ...], words: str) -> None:
    done = played("squad", *options)
    assert (done.exit_code, done.stdout) == (2, "")
    assert words in done.stderr
