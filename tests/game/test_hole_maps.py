"""Maps of holes: what is wrong is named, what can be mended is mended."""

from __future__ import annotations

import math
from typing import Any

import pytest
from shapely.geometry import Polygon

from server.game.hole_maps import FEATURES, feature, map_fault, mended, oval, polygon

GREEN = feature("green", oval(0, 400, 12, 12))
SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]


def raw(golf: str, *rings: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"golf": golf},
        "geometry": {"type": "Polygon", "coordinates": list(rings)},
    }


@pytest.mark.parametrize(
    ("features", "words"),
    [
        ([], "there is no green"),
        ([raw("fairway", SQUARE)], "there is no green"),
        (
            [GREEN, raw("fairway", [[0, 0], [10, 10], [10, 0], [0, 10], [0, 0]])],
            "feature 2 (fairway) crosses itself at (5.0, 5.0)",
        ),
        ([GREEN, raw("bunker", [[0, 0], [5, 0], [10, 0], [0, 0]])], "feature 2 (bunker) is empty"),
        ([GREEN, raw("bunker", [[1, 1], [1, 1], [1, 1], [1, 1]])], "feature 2 (bunker) is empty"),
        (
            [GREEN, raw("bunker", SQUARE, [[20, 20], [30, 20], [30, 30], [20, 20]])],
            "feature 2 (bunker) is not a simple polygon",
        ),
        (
            [GREEN, raw("bunker", [[x + 900, y] for x, y in SQUARE])],
            "feature 2 (bunker) lies 900 yd from the hole: is it in another frame?",
        ),
        ([feature("green", oval(300, 900, 9, 9))], "the green lies 949 yd from the origin"),
        ([GREEN, raw("moat", SQUARE)], "feature 2 has golf='moat'"),
        ([GREEN, raw("bunker", [[0, 0], [True, 0], [1, 1], [0, 0]])], "feature 2 has a ring"),
        ([5], "feature 1 is not an object"),
        ([GREEN, feature("trees", oval(0, 300, 50, 50, 5000))], "5034 points are more than 5000"),
    ],
)
def test_every_fault_is_named(features: list[Any], words: str) -> None:
    assert words in (map_fault(features) or "nothing")


def test_a_sound_map_has_no_fault_whatever_its_ring_order() -> None:
    backwards = raw("fairway", SQUARE[::-1])
    assert map_fault([GREEN, backwards]) is None
    assert map_fault([feature(golf, oval(0, 20 * place, 9, 9)) for place, golf in enumerate(FEATURES)]) is None


def test_what_can_be_mended_is_mended_and_reported() -> None:
    ring = [[0, 0], [0, 10], [0, 10], [10, 10], [10, 0]]
    ((fixed,), (note,)) = mended([raw("bunker", ring)])
    shell = fixed["geometry"]["coordinates"][0]
    assert shell[0] == shell[-1]
    assert Polygon(shell).exterior.is_ccw
    assert len(shell) == 5
    assert Polygon(shell).area == 100
    assert (
        note == "feature 1: a repeated point was dropped, an open ring was closed, a ring in the wrong order was turned"
    )
    assert ring == [[0, 0], [0, 10], [0, 10], [10, 10], [10, 0]]


def test_holes_run_clockwise_and_what_has_no_form_is_passed_on() -> None:
    hole = [[2, 2], [4, 2], [4, 4], [2, 4], [2, 2]]
    (fixed, broken), notes = mended([raw("bunker", SQUARE, hole), {"geometry": 5}])
    assert not Polygon(fixed["geometry"]["coordinates"][1]).exterior.is_ccw
    assert polygon(fixed).area == 96
    assert broken == {"geometry": 5}
    assert len(notes) == 1


def test_an_oval_has_the_area_of_its_ellipse() -> None:
    assert Polygon(oval(3, 4, 10, 6, 24)).area == pytest.approx(math.pi * 60)
