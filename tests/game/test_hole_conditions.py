"""Conditions of holes: the shared vectors, and the words of wind against the Beaufort scale."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from server.game.hole_conditions import WIND_MPH, HoleConditions, conditions_by_hole

VECTORS = json.loads((Path(__file__).resolve().parents[1] / "vectors" / "hole_conditions.json").read_text())
NOTHING = dict.fromkeys(HoleConditions.__annotations__)
BEAUFORT_MPH = {1: 1, 2: 4, 3: 8, 4: 13, 5: 19, 6: 25, 7: 32}
"""Least speed of each force, mph (WMO-No. 306, table of the Beaufort scale)."""


@pytest.mark.parametrize("case", [pytest.param(case, id=case["name"]) for case in VECTORS["cases"]])
def test_conditions_of_holes_are_those_of_the_vectors(case: dict[str, Any]) -> None:
    found = conditions_by_hole(case["holes"], case["recorded"])
    assert found == {int(hole): NOTHING | told for hole, told in case["found"].items()}


def test_words_of_wind_cover_every_speed_once_and_begin_with_a_force() -> None:
    assert WIND_MPH["none"][0] == 0
    for (_, top), (low, _) in pairwise(WIND_MPH.values()):
        assert top == low - 1
        assert low in BEAUFORT_MPH.values()
    assert [low for low, _ in WIND_MPH.values()][1:] == [BEAUFORT_MPH[force] for force in (2, 4, 6)]
    assert list(WIND_MPH.values())[-1][1] is None
