"""The sides of a trial by name: clubs, setups, and balls, each against its like."""

from __future__ import annotations

import pandas as pd
import pytest

from server.questions.sides import Side, SideError, find_sides

KNOWN = {"driver": ["2026-01-01 as it came", "2026-06-22 stiffer"], "putter": [], "ball:odd": []}
BALLS = ["white Curlew", "yellow Marigold"]
SHOTS = pd.DataFrame(
    {
        "club": ["driver", "driver", "putter", "driver"],
        "setup": ["2026-01-01 as it came", "2026-06-22 stiffer", None, None],
        "ball_label": pd.Categorical(["white Curlew", "yellow Marigold", "white Curlew", None]),
    }
)


def test_a_ball_is_every_shot_of_its_rounds_and_like_is_compared_with_like() -> None:
    one, other = find_sides("ball:yellow Marigold", " ball: white Curlew ", KNOWN, BALLS)
    assert one == Side("ball yellow Marigold", "", ball="yellow Marigold")
    assert [list(side.of(SHOTS)) for side in (one, other)] == [[False, True, False, False], [True, False, True, False]]
    assert one.by_rounds is other.by_rounds is True


def test_clubs_and_setups_are_what_they_were() -> None:
    club, setup = find_sides("putter", "driver@2026-06-22", KNOWN, BALLS)
    assert list(club.of(SHOTS)) == [False, False, True, False]
    assert list(setup.of(SHOTS)) == [False, True, False, False]
    assert club.by_rounds is setup.by_rounds is False
    odd, _ = find_sides("ball:odd", "driver", KNOWN, BALLS)
    assert odd == Side("ball:odd", "ball:odd"), "a club that is called so is that club"


@pytest.mark.parametrize(
    ("a", "b", "field", "words"),
    [
        ("ball:white Curlew", "driver", "b", "a ball is tried against another ball, not against a club or a setup"),
        ("putter", "ball:white Curlew", "b", "a ball is tried against another ball"),
        ("ball:white Curlew", "ball:white Curlew", "b", "have the same shots: a trial needs two clubs, two setups of"),
        ("driver@2026-06-22", "driver", "b", "have the same shots"),
        ("ball:Heron", "ball:white Curlew", "a", "'Heron' is not one of the balls that the rounds name: white Curlew"),
        ("ball:white Curlew", "ball:", "b", "'' is not one of the balls"),
    ],
)
def test_what_is_no_pair_is_named_with_its_field(a: str, b: str, field: str, words: str) -> None:
    with pytest.raises(SideError, match=words) as wrong:
        find_sides(a, b, KNOWN, BALLS)
    assert wrong.value.field == field


def test_a_player_without_a_ball_gets_a_sentence() -> None:
    with pytest.raises(SideError, match="the rounds name: no round with a ball yet"):
        find_sides("ball:a", "ball:b", KNOWN)
