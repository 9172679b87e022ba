"""Category boundaries in both schemes.

Four parts: the tour's categories, with 50 yd to the hole standing in for 30 yd from the edge of the green (a
stated choice). Three parts: M. Broadie, Interfaces 42(2), 2012, long game above 100 yd, short game to 100 yd, putting.
"""

from __future__ import annotations

import numpy as np
import pytest

from server.game.categories import FOUR_PART, SCHEMES, THREE_PART, CategoryScheme
from server.game.lies import LIES, lie_codes

OFF_GREEN = ["fairway", "fringe", "rough", "sand", "recovery"]


def category(scheme: CategoryScheme, lie: str, yards: float, par: int = 4) -> str:
    """The category of one shot."""
    code = scheme.codes(lie_codes([lie]), np.array([float(yards)]), np.array([par]))[0]
    return scheme.categories[code]


def test_names_of_both_schemes():
    assert SCHEMES[FOUR_PART] == ("off_the_tee", "approach", "around_the_green", "putting")
    assert SCHEMES[THREE_PART] == ("long_game", "short_game", "putting")
    assert CategoryScheme().categories == SCHEMES[FOUR_PART]
    assert CategoryScheme().short_game_yd == 50
    assert CategoryScheme(THREE_PART).short_game_yd == 100


@pytest.mark.parametrize("lie", OFF_GREEN)
def test_four_parts_part_at_fifty_yards(lie):
    four = CategoryScheme(FOUR_PART)
    assert category(four, lie, np.nextafter(50, 100)) == "approach"
    assert category(four, lie, 50) == "around_the_green"
    assert category(four, lie, 0.1) == "around_the_green"
    assert category(four, lie, 650) == "approach"


@pytest.mark.parametrize("lie", OFF_GREEN)
def test_three_parts_part_at_a_hundred_yards(lie):
    three = CategoryScheme(THREE_PART)
    assert category(three, lie, np.nextafter(100, 200)) == "long_game"
    assert category(three, lie, 100) == "short_game"
    assert category(three, lie, 0.1) == "short_game"


@pytest.mark.parametrize("yards", [30, 50, 100, 420])
def test_tee_shots(yards):
    four, three = CategoryScheme(FOUR_PART), CategoryScheme(THREE_PART)
    assert category(four, "tee", yards, par=3) == "approach"
    assert [category(four, "tee", yards, par=par) for par in (4, 5, 6)] == ["off_the_tee"] * 3
    assert [category(three, "tee", yards, par=par) for par in (3, 4, 5, 6)] == ["long_game"] * 4


@pytest.mark.parametrize("yards", [0.1, 10, 50, 120])
def test_every_shot_from_the_green_is_putting(yards):
    for name in SCHEMES:
        assert category(CategoryScheme(name), "green", yards, par=3) == "putting"


def test_short_game_distance_is_a_setting():
    assert category(CategoryScheme(FOUR_PART, 30), "rough", 40) == "approach"
    assert category(CategoryScheme(FOUR_PART, 30), "rough", 30) == "around_the_green"
    assert category(CategoryScheme(THREE_PART, 60), "rough", 80) == "long_game"


def test_unknown_lie_has_no_category():
    for name in SCHEMES:
        codes = CategoryScheme(name).codes(lie_codes(["cart path", None]), np.array([30.0, 300.0]), np.array([4, 3]))
        assert codes.tolist() == [-1, -1]


def test_one_call_for_many_shots():
    lie = lie_codes(["tee", "tee", *LIES[1:]])
    yards = np.array([400, 160, 150, 20, 45, 60, 49, 9], dtype=float)
    par = np.array([4, 3, 4, 4, 4, 4, 4, 4])
    assert CategoryScheme().codes(lie, yards, par).tolist() == [0, 1, 1, 2, 2, 1, 2, 3]
    assert CategoryScheme(THREE_PART).codes(lie, yards, par).tolist() == [0, 0, 0, 1, 1, 1, 1, 2]


@pytest.mark.parametrize("yards", [0, -1, 701, float("nan")])
def test_impossible_short_game_distances_are_refused(yards):
    with pytest.raises(ValueError, match="short_game_yd"):
        CategoryScheme(FOUR_PART, yards)


def test_unknown_scheme_is_refused():
    with pytest.raises(ValueError, match="'six_part' is not one of four_part, three_part"):
        CategoryScheme("six_part")
