"""The rules of whole rounds say what the vectors say; the browser's twins meet the same file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from server.game.closings import is_complete, opened_again
from server.game.hole_lengths import DEFAULT_YD, is_unusual
from server.game.order_of_play import balls_left_open
from server.game.ranges import HIGHEST_PAR, LOWEST_PAR

VECTORS = json.loads(Path(__file__).with_name("rounds.json").read_text(encoding="utf-8"))


def cases(part: str) -> list[Any]:
    return [pytest.param(case, id=case.get("name")) for case in VECTORS[part]]


@pytest.mark.parametrize("case", cases("left_open"))
def test_balls_without_an_end(case: dict[str, Any]) -> None:
    assert balls_left_open(case["shots"]) == case["places"]


@pytest.mark.parametrize("case", cases("unusual"))
def test_pairs_of_par_and_length_that_are_asked_about(case: dict[str, Any]) -> None:
    assert is_unusual(case["par"], case["length_yd"]) is case["unusual"]


def test_every_par_has_its_lengths() -> None:
    assert list(DEFAULT_YD) == list(range(LOWEST_PAR, HIGHEST_PAR + 1))


@pytest.mark.parametrize("case", cases("whole"))
def test_whole_rounds(case: dict[str, Any]) -> None:
    assert is_complete(case["defined"], case["begun"], case["holed"], case["meant"]) is case["whole"]


@pytest.mark.parametrize("case", cases("opened_again"))
def test_rounds_opened_again(case: dict[str, Any]) -> None:
    assert opened_again(case["closed"], case["closings"]) == case["between"]
