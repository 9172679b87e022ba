"""The command level: both truths, every course, the trend, in words and as JSON; nothing to tell is a sentence."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from server.analysis.evidence.level import LASTING, SEASON
from tests.cli.conftest import Run
from tests.files.tables import nine_par_fours, table

COURSES = ("North", "South", "East")
PUTTED_TWICE = (3, 6, 5, 2, 7, 3, 4, 4, 6)


def season() -> list[dict[str, Any]]:
    """Nine rounds of nine par 4, a week apart, on three courses, with two putts on some of the holes."""
    return [
        shot
        for number, two_putts in enumerate(PUTTED_TWICE)
        for shot in nine_par_fours(
            two_putts, played_on=f"2026-0{4 + number // 4}-{1 + 7 * (number % 4):02}", course=COURSES[number % 3]
        )
    ]


@pytest.fixture
def played(run: Run, file: Callable[..., Path]) -> Run:
    assert run("import", file(table(season()))).exit_code == 0
    return run


def test_the_document_holds_both_truths_every_course_and_the_trend(played: Run) -> None:
    found = json.loads(played("level", "--json").stdout)
    assert (found["rounds"], found["days"], found["without_course"]) == (9, 9, 0)
    assert (found["season"]["about"], found["lasting"]["about"]) == (SEASON, LASTING)
    for figure in (found["season"], found["lasting"]):
        assert figure["low"] < figure["mean"] < figure["high"]
        assert figure["lacking"] is None
    assert found["lasting"]["high"] - found["lasting"]["low"] > found["season"]["high"] - found["season"]["low"]
    total = json.loads(played("summary", "--json").stdout)["total"]
    assert found["season"]["mean"] == pytest.approx(total["per_round"], abs=1e-9)
    assert {one["course"] for one in found["courses"]} == set(COURSES)
    assert [one["rounds"] for one in found["courses"]] == [3, 3, 3]
    by_month = json.loads(played("summary", "--json", "--by", "month").stdout)
    assert by_month["trend"] == found["trend"]
    assert [one["month"] for one in by_month["rows"]] == ["2026-04", "2026-05", "2026-06"]
    assert json.loads(played("summary", "--json").stdout)["trend"] is None


def test_the_words_are_those_of_the_document(played: Run) -> None:
    words = " ".join(played("level").stdout.split())
    found = json.loads(played("level", "--json").stdout)
    assert found["words"] in words
    assert found["trend"]["words"] in words
    assert "adds a round" in words
    assert found["trend"]["words"] in played("summary", "--by", "month").stdout


def test_days_without_a_round_are_a_sentence(played: Run) -> None:
    words = played("level", "--from", "2031-01-01").stdout
    assert "There is no shot in the rounds asked for" in words
    assert "nan" not in words


def test_a_summary_by_course_and_of_one_course(played: Run) -> None:
    rows = json.loads(played("summary", "--by", "course", "--json").stdout)["rows"]
    assert sorted(row["course"] for row in rows) == sorted(COURSES)
    assert {row["rounds"] for row in rows} == {3}
    north = next(row for row in rows if row["course"] == "North")
    holes = json.loads(played("summary", "--by", "hole", "--course", "North", "--json").stdout)
    assert [row["hole"] for row in sorted(holes["rows"], key=lambda row: row["hole"])] == list(range(1, 10))
    assert sum(row["strokes_gained"] for row in holes["rows"]) == pytest.approx(north["strokes_gained"])
    every = json.loads(played("summary", "--by", "hole", "--json").stdout)["rows"]
    assert sorted((row["course"], row["hole"]) for row in every) == [
        (course, hole) for course in sorted(COURSES) for hole in range(1, 10)
    ]
    assert "North, 7 " in played("summary", "--by", "hole").stdout
    refused = played("summary", "--course", "Moor")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "is not one of the player's courses: East, North, South" in refused.stderr


@pytest.mark.parametrize(
    "command",
    [
        ("summary",),
        ("level",),
        ("putting",),
        ("part-swings",),
        ("priorities",),
        ("patterns",),
        ("strikes",),
        ("trial", "--a", "driver", "--b", "8 iron"),
    ],
)
def test_every_command_of_evidence_takes_one_course(played: Run, command: tuple[str, ...]) -> None:
    """Rounds of the course alone: the document of its days, and a course that is none is named."""
    north = played(*command, "--course", "North", "--json")
    assert (north.exit_code, north.stderr) == (0, "")
    found, every = json.loads(north.stdout), json.loads(played(*command, "--json").stdout)
    # no finish is tapped in these rounds, so that there is no pattern of any course
    assert (found != every) == (command != ("patterns",))
    refused = played(*command, "--course", "Moor")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "is not one of the player's courses: East, North, South" in refused.stderr
