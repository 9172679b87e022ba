"""What a round is on the command line: short ones are counted beside, and days without a shot are said to be empty."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.files.tables import row, table

NOTE = "with fewer than 9 holes with a value"


def season() -> list[dict[str, Any]]:
    """Five rounds of nine par 4 in four, and one that was left after a hole in one."""
    rows = []
    for day in range(1, 6):
        for hole in range(1, 10):
            same = {"played_on": f"2026-05-{day:02}", "hole": hole}
            rows += [
                row(**same),
                row(shot=2, lie="fairway", distance=150, club="8 iron", **same),
                row(shot=3, lie="green", distance=18, club="putter", **same),
                row(shot=4, lie="green", distance=2, club="putter", holed="yes", **same),
            ]
    return [*rows, row(played_on="2026-06-01", holed="yes")]


@pytest.fixture
def played(run: Run, file: Callable[..., Path]) -> Run:
    assert run("import", file(table(season()))).exit_code == 0
    return run


TRIAL = ("trial", "--a", "driver", "--b", "8 iron")


def test_every_command_tells_the_same_rounds(played: Run) -> None:
    by = [json.loads(played("summary", "--json", "--by", name).stdout)["total"] for name in ("club", "lie", "month")]
    found = [*by, *(json.loads(played(*words, "--json").stdout) for words in (("priorities",), TRIAL))]
    assert [(one["rounds"], one["short_rounds"]) for one in found] == [(5, 1)] * 5
    assert by[0]["per_round"] == pytest.approx(18 * (3.99 - 4))


@pytest.mark.parametrize("words", [("summary",), ("priorities",), TRIAL], ids=lambda words: words[0])
def test_short_rounds_are_counted_beside_the_figures(played: Run, words: tuple[str, ...]) -> None:
    assert f"1 round {NOTE} is in no figure a round" in " ".join(played(*words).stdout.split())
    assert NOTE not in played(*words, "--to", "2026-05-31").stdout


@pytest.mark.parametrize(
    "words",
    [("summary",), ("priorities",), ("putting",), ("part-swings",), ("patterns",), ("strikes",), ("distances",), TRIAL],
    ids=lambda words: words[0],
)
def test_days_without_a_shot_are_reported_empty(played: Run, words: tuple[str, ...]) -> None:
    result = played(*words, "--from", "2031-01-01", "--to", "2031-02-01")
    assert result.exit_code == 0
    assert "There is no shot in the rounds asked for, from 2031-01-01 to 2031-02-01." in result.stdout
    assert "There is no shot" not in played(*words).stdout
