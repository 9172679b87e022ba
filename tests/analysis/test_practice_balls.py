"""Practice balls in the frames of shots: lengths, sides, swings, what is left out, and patterns that hold the truth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.patterns.club_patterns import patterns
from server.analysis.patterns.part_swings import part_swings_of
from server.analysis.practice.balls import (
    MOST_OF_A_CLUB,
    practice_finishes,
    practice_full_swings,
    practice_part_swings,
    practice_putts,
)
from server.analysis.practice.of_course import patterns_of_both
from server.analysis.practice.part_swings import part_swings_of_both
from tests import tiers


def balls(rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    """Practice balls with nothing recorded but what the rows say."""
    numbers = ("target_yd", "carry_yd", "total_yd", "right_yd", "long_yd", "length_ft", "left_ft")
    blank: dict[str, Any] = dict.fromkeys(numbers, np.nan) | {
        "round_id": "s", "played_on": pd.Timestamp("2026-06-01"), "place": "range", "club": "8 iron", "sort": "iron",
        "setup": None, "lie": "fairway", "swing": None, "planned_shape": None, "actual_shape": None, "holed": False,
        "order": 1,
    }  # fmt: skip
    return pd.DataFrame([blank | row for row in rows])


def test_a_length_is_the_total_or_target_and_long() -> None:
    frame = balls(
        [
            {"total_yd": 150.0, "target_yd": 145.0},
            {"target_yd": 145.0, "long_yd": -5.0, "right_yd": 3.0},
            {"carry_yd": 140.0, "right_yd": 10.0},
            {"swing": "part", "total_yd": 90.0},
            {"lie": "rough", "total_yd": 120.0},
            {"place": "short_game", "total_yd": 40.0},
            {"length_ft": 8.0},
        ]
    )
    assert practice_full_swings(frame)["along_yd"].tolist() == [150.0, 140.0]
    found = practice_finishes(frame)
    assert found.index.tolist() == [0, 1, 2]
    assert found["long_yd"].iloc[:2].tolist() == [5.0, -5.0]
    assert np.isnan(found["long_yd"].iloc[2])
    assert found["offline_deg"].iloc[2] == pytest.approx(np.degrees(np.arctan2(10, 140)))
    assert len(practice_putts(frame)) == 1


def test_a_ball_without_a_target_has_a_side_and_no_place_in_the_ellipse() -> None:
    rng = np.random.default_rng(2)
    rows = [
        {"round_id": str(k % 4), "total_yd": 150 + rng.normal(0, 6), "right_yd": rng.normal(0, 5)}
        | ({"target_yd": 150.0} if k % 2 else {})
        for k in range(40)
    ]
    (found,) = patterns(practice_finishes(balls(rows)), singles=True)
    assert (found["shots"], found["right"]["centre"]["n"], found["long"]["centre"]["n"]) == (40, 40, 20)
    assert found["ellipse"] is not None
    assert found["ellipse"]["shots"] == len(found["finishes"]["shots"]) == 20


def test_only_the_latest_balls_of_a_club_count() -> None:
    frame = balls([{"total_yd": 100.0}] * 3 + [{"total_yd": 150.0}] * MOST_OF_A_CLUB)
    frame.loc[:2, "played_on"] = pd.Timestamp("2026-05-01")
    assert set(practice_full_swings(frame)["along_yd"]) == {150.0}


@pytest.mark.parametrize("days", tiers.some([0.0, 4.0], 1))
def test_patterns_of_sessions_hold_their_truth(days: float) -> None:
    """Ten sessions of eight balls, which a day moves to one side."""
    rng = np.random.default_rng(6)
    runs = 400 if tiers.LONG else 80
    held = np.zeros(2)
    for _ in range(runs):
        rows = []
        for session in range(10):
            lean = rng.normal(0, days)
            for _ball in range(8):
                finish = {"right_yd": 2 + lean + rng.normal(0, 7), "long_yd": -3 + rng.normal(0, 6), "target_yd": 150.0}
                rows.append({"round_id": str(session)} | finish)
        (found,) = patterns(practice_finishes(balls(rows)))
        for place, (name, truth) in enumerate((("right", 2.0), ("long", -3.0))):
            centre = found[name]["centre"]  # type: ignore[literal-required]
            held[place] += centre["low"] <= truth <= centre["high"]
    assert (held / runs >= 0.9 - 2 * (0.09 / runs) ** 0.5).all(), held / runs


def swings(rng: np.random.Generator, clubs: Sequence[str], bias: float, sessions: int, each: int) -> pd.DataFrame:
    """Part swings at 60 yd, long by `bias` on the average."""
    rows = [
        {"round_id": str(session), "club": club, "swing": "part", "target_yd": 60.0, "long_yd": bias + rng.normal(0, 4)}
        for club in clubs
        for session in range(sessions)
        for _ in range(each)
    ]
    return practice_part_swings(balls(rows))


def test_part_swings_of_both_fill_in_the_club_that_rounds_do_not_know() -> None:
    """Practice is 3 yd longer than the course with every club; on the course the truth is 1 yd."""
    rng = np.random.default_rng(8)
    clubs = ["a", "b", "c", "d", "e"]
    course = part_swings_of(swings(rng, clubs, 1.0, 8, 3), {})
    practice = part_swings_of(swings(rng, [*clubs, "new"], 4.0, 8, 6), {})
    found = part_swings_of_both(course, practice, 0.9)
    rows = {row["club"]: row for row in found["clubs"]}
    assert all(rows[row["club"]] == row for row in course["clubs"])
    new = rows["new"]
    assert new["low"] is not None
    assert new["high"] is not None
    assert new["low"] < 1.0 < new["high"]
    assert new["bias_yd"] == pytest.approx(1.0, abs=1.5)
    beside = next(row for row in practice["clubs"] if row["club"] == "new")
    assert beside["low"] is not None
    assert beside["high"] is not None
    assert new["high"] - new["low"] > beside["high"] - beside["low"]
    assert (new["shots"], new["lacking"]) == (0, None)
    assert "practice balls" in new["words"]
    few = part_swings_of_both(part_swings_of(swings(rng, ["a"], 1.0, 8, 3), {}), practice, 0.9)
    assert "show practice only" in str({row["club"]: row for row in few["clubs"]}["new"]["lacking"])


def test_without_practice_or_without_rounds() -> None:
    empty = practice_finishes(balls([{"length_ft": 8.0}]))
    one = practice_finishes(balls([{"total_yd": 150.0, "target_yd": 150.0, "right_yd": 1.0}]))
    assert patterns_of_both(empty, empty) == []
    (alone,) = patterns_of_both(empty, one)
    assert (alone["shots"], alone["right"]["centre"]["low"]) == (0, None)
    assert patterns_of_both(one, empty) == patterns(one)
