"""Patterns by hand, their splits and warnings, and the shapes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from server.analysis.patterns.club_patterns import FEW_FOR_SIDE, MOST_FINISHES, patterns
from server.analysis.patterns.finishes import finishes
from server.analysis.patterns.shapes import CANNOT_TELL, FEW_MISSES, TWO_WAY, shapes
from tests.analysis.made_finishes import tapped, valued

RIGHT = [4.0, -6.0, 2.0, 0.0, 8.0, -2.0]
LONG = [-3.0, 5.0, -20.0, 1.0, -2.0, -5.0]


def one(rows: list[dict[str, Any]], split: str = "club") -> dict[str, Any]:
    (found,) = patterns(finishes(valued(rows)), split)
    return found


def test_centre_spread_quantiles_and_skew_are_numpys() -> None:
    found = one(tapped(RIGHT, LONG))
    assert (found["shots"], found["rounds"], found["tapped"], found["target_yd"]) == (6, 3, 6, 160)
    for name, values in (("right", RIGHT), ("long", LONG)):
        assert found[name]["centre"]["value"] == pytest.approx(np.mean(values))
        assert found[name]["spread"]["value"] == pytest.approx(np.std(values, ddof=1))
        assert found[name]["quantiles"]["0.25"] == pytest.approx(np.quantile(values, 0.25))
        assert found[name]["skew"] == pytest.approx(stats.skew(values, bias=False))
    assert found["long"]["skew"] < 0
    away = [math.degrees(math.atan2(right, 160 + long)) for right, long in zip(RIGHT, LONG, strict=True)]
    assert found["offline_deg"]["centre"]["value"] == pytest.approx(np.mean(away))
    assert found["median_from_target_yd"] == pytest.approx(np.median(np.hypot(RIGHT, LONG)))
    assert found["ellipse"]["holds_next_shot"] == 0.9


def test_shares_count_each_side_of_the_target() -> None:
    shares = one(tapped(RIGHT, LONG))["shares"]
    values = {name: figure["value"] for name, figure in shares.items()}
    assert values == pytest.approx({"short": 4 / 6, "long": 2 / 6, "left": 2 / 6, "right": 3 / 6, "playable": 1.0})
    assert all(
        figure["low"] < figure["value"] < figure["high"] for name, figure in shares.items() if name != "playable"
    )


def test_few_shots_are_warned_of_with_the_source() -> None:
    found = one(tapped([0.0] * 3, [1.0] * 3))
    assert found["warnings"][0].startswith("not clear yet: 3 shots in 2 rounds")
    assert found["ellipse"] is None
    many = np.random.default_rng(0).normal(0, 8, (FEW_FOR_SIDE, 2))
    assert one(tapped(*many.T.tolist()))["warnings"] == []
    fewer = one(tapped(*many[:-1].T.tolist()))["warnings"]
    assert len(fewer) == 1
    assert "Sensors 22:9069, 2022" in fewer[0]


def test_a_shank_is_set_aside_and_reported() -> None:
    many = np.random.default_rng(2).normal(0, 8, (40, 2))
    assert np.abs(many).max() < 3 * 8
    right, long = np.vstack([many, [120, -60]]).T.tolist()
    found = one(tapped(right, long))
    robust = found["robust"]
    assert (robust["set_aside"], robust["set_aside_short"], robust["set_aside_left"]) == (1, 1, 0)
    assert robust["right_spread_yd"] < 0.6 * found["right"]["spread"]["value"]
    assert any("1 outlier, left out of the robust figures" in warning for warning in found["warnings"])


def test_single_finishes_are_the_tapped_ones_with_the_shank_marked() -> None:
    many = np.random.default_rng(2).normal(0, 8, (40, 2))
    right, long = np.vstack([many, [120, -60]]).T.tolist()
    untapped = {"target_yd": None, "right_yd": None, "long_yd": None}
    rows = [*tapped(right, long), *({"round_id": f"u{place}"} | untapped for place in range(2))]
    (found,) = patterns(finishes(valued(rows)), singles=True)
    assert (found["tapped"], found["from_distances"], found["finishes"]["left_out"]) == (41, 2, 0)
    shots = found["finishes"]["shots"]
    assert [(shot["right_yd"], shot["long_yd"]) for shot in shots] == list(zip(right, long, strict=True))
    assert [place for place, shot in enumerate(shots) if shot["set_aside"]] == [40]
    assert "finishes" not in patterns(finishes(valued(rows)))[0]


def test_of_many_finishes_the_latest_are_listed() -> None:
    count = MOST_FINISHES + 3
    numbers = [float(place) for place in range(count)]
    days = [f"2026-{1 + place % 2:02}-01" for place in range(count)]
    rows = [row | {"played_on": day} for row, day in zip(tapped(numbers, numbers), days, strict=True)]
    (found,) = patterns(finishes(valued(rows)), singles=True)
    assert found["finishes"]["left_out"] == 3
    listed = [shot["right_yd"] for shot in found["finishes"]["shots"]]
    assert listed == numbers[6::2] + numbers[1::2], "January first, without its three earliest"
    few = patterns(finishes(valued(rows[:4])), singles=True)[0]["finishes"]["shots"]
    assert [shot["set_aside"] for shot in few] == [False] * 4, "too few for a robust fit"


def test_splits_keep_every_shot_and_lies_apart() -> None:
    rows = [
        *tapped(RIGHT, LONG),
        *tapped(RIGHT, LONG, lie="rough"),
        *tapped(RIGHT, LONG, swing="part", setup="2026-05-01 new"),
        *tapped(RIGHT, LONG, club="driver", target_yd=270, planned_shape="fade"),
    ]
    known = finishes(valued(rows))
    by_club = patterns(known)
    assert [(row["club"], row["swing"], row["shots"]) for row in by_club] == [
        ("driver", "full", 6),
        ("7 iron", "full", 6),
        ("7 iron", "part", 6),
    ]
    by_lie = patterns(known, "lie")
    assert sum(row["shots"] for row in by_lie) == 24
    assert ("7 iron", "full", "rough") in [(row["club"], row["swing"], row["group"]) for row in by_lie]
    assert {row["group"] for row in patterns(known, "setup")} == {"not recorded", "2026-05-01 new"}
    assert {row["group"] for row in patterns(known, "shape")} == {"not recorded", "fade"}
    with pytest.raises(ValueError, match="'wind' is not one of club, lie, setup, shape"):
        patterns(known, "wind")
    assert patterns(known.iloc[:0]) == []


def shaped(planned: str, actual: list[str | None], right: list[float], gained: list[float]) -> list[dict[str, Any]]:
    return [
        {
            "planned_shape": planned,
            "actual_shape": shape,
            "right_yd": aside,
            "strokes_gained": value,
            "round_id": f"r{place % 3}",
        }
        for place, (shape, aside, value) in enumerate(zip(actual, right, gained, strict=True))
    ]


def test_planned_and_actual_shapes_by_hand() -> None:
    actual = ["draw", "draw", "straight", "fade", "draw", None]
    (found,) = shapes(finishes(valued(shaped("draw", actual, [0.0, -17, 17, 20, 0, 0], [0.1, 0.2, 0, -0.5, 0.1, 0.1]))))
    assert (found["club"], found["planned"], found["shots"]) == ("7 iron", "draw", 6)
    assert found["actual"] == {"draw": 3, "straight": 1, "fade": 1, "not recorded": 1}
    assert found["came"]["value"] == pytest.approx(3 / 5)
    assert found["other_way"]["value"] == pytest.approx(1 / 5)
    assert found["strokes_gained"]["value"] == pytest.approx(0.0)
    # misses are beyond 10 % of 160 yd: 16 yd; one left of six, two right
    assert found["misses"]["beyond_yd"] == pytest.approx(16)
    assert (found["misses"]["left"]["value"], found["misses"]["right"]["value"]) == pytest.approx((1 / 6, 2 / 6))
    assert found["misses"]["word"] == TWO_WAY


@pytest.mark.parametrize(
    ("right", "word"),
    [
        ([20.0, 30, 0, 0, 0, 0], "misses right"),
        ([-20.0, -30, 0, 0, 0, 0], "misses left"),
        ([1.0, -1, 0, 0, 0, 0], FEW_MISSES),
        ([50.0, -50, 0, 0], CANNOT_TELL),
    ],
)
def test_the_word_on_misses(right: list[float], word: str) -> None:
    rows = shaped("straight", ["straight"] * len(right), right, [0.0] * len(right))
    (found,) = shapes(finishes(valued(rows)))
    assert found["misses"]["word"] == word
    assert not found["misses"]["sure"], "six shots settle nothing"
    assert found["other_way"] is None


@pytest.mark.parametrize(
    ("left", "right", "word", "sure"),
    [
        (30, 30, TWO_WAY, True),
        (0, 30, "misses right", True),
        (0, 0, FEW_MISSES, True),
        (13, 30, TWO_WAY, False),
        (8, 30, "misses right", False),
    ],
)
def test_the_word_on_misses_is_sure_when_both_intervals_are_clear_of_the_limit(
    left: int, right: int, word: str, sure: bool
) -> None:
    """Shares of 100 shots. 13 of 100: 8.4 to 19.5 % at 90 % by Wilson's interval, worked by hand: 10 % lies inside."""
    aside = [-40.0] * left + [40.0] * right + [0.0] * (100 - left - right)
    order = np.random.default_rng(7).permutation(100)
    rows = shaped("straight", ["straight"] * 100, [aside[place] for place in order], [0.0] * 100)
    (found,) = shapes(finishes(valued(rows)))
    assert (found["misses"]["word"], found["misses"]["sure"]) == (word, sure)
