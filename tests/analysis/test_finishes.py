"""Finishes: what counts, and when a length may be read from distances."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from server.analysis.patterns.finishes import FROM_DISTANCES, TAPPED, finishes
from tests.analysis.made_finishes import tapped, valued

NOT_TAPPED = {"target_yd": None, "right_yd": None, "long_yd": None}
THREE = tapped([0, 1, -1], [0, 2, -2])


def test_tapped_finishes_by_hand() -> None:
    found = finishes(valued([{"target_yd": 160, "right_yd": 12, "long_yd": -5}])).iloc[0]
    assert (found["along_yd"], found["source"]) == (155, TAPPED)
    assert found["offline_deg"] == pytest.approx(math.degrees(math.atan(12 / 155)))


def test_length_is_read_from_distances_when_the_shot_was_meant_to_stop_short() -> None:
    """Usual target 160 of the three tapped; from 300 to 148 yd left it came 152: 8 short."""
    frame = finishes(valued([*THREE, {**NOT_TAPPED, "end_distance_yd": 148}]))
    last = frame.iloc[-1]
    assert (last["source"], last["target_yd"], last["long_yd"], last["along_yd"]) == (FROM_DISTANCES, 160, -8, 152)
    assert np.isnan(last["right_yd"])
    assert np.isnan(last["offline_deg"])


@pytest.mark.parametrize(
    "why",
    [
        {"distance_yd": 200.0, "end_distance_yd": 30.0},
        {"penalty_strokes": 1},
        {"end_distance_yd": None},
        {"swing": "part"},
        {"end_distance_yd": 310.0},
        {"lie": "rough"},
        {"club": "8 iron"},
    ],
    ids=["meant for the green", "penalty", "no end", "part swing", "went back", "other lie", "no usual target"],
)
def test_length_is_not_read_where_that_is_not_sound(why: dict[str, object]) -> None:
    assert len(finishes(valued([*THREE, {**NOT_TAPPED, **why}]))) == 3


def test_the_error_of_reading_is_as_stated() -> None:
    """18 yd aside with 80 yd left: the distances say 2 yd more than the line, r^2 / (2 R) = 2.025."""
    along, right, start = 160.0, 18.0, 240.0
    left = math.hypot(start - along, right)
    frame = finishes(valued([*THREE, {**NOT_TAPPED, "distance_yd": start, "end_distance_yd": left}]))
    assert along - frame.iloc[-1]["along_yd"] == pytest.approx(18**2 / 160, abs=0.03)


def test_putts_and_shots_from_the_green_are_no_finishes_and_the_input_is_kept() -> None:
    frame = valued([*THREE, {"lie": "green"}, {"sort": "putter"}])
    before = frame.copy(deep=True)
    found = finishes(frame)
    pd.testing.assert_frame_equal(frame, before)
    assert found.index.tolist() == [100, 101, 102]


def test_playable_is_no_penalty_and_no_recovery_lie() -> None:
    ends = [
        {"end_lie": "rough"},
        {"end_lie": "recovery"},
        {"end_lie": "fairway", "penalty_strokes": 1},
        {"end_lie": None, "holed": True},
        {"end_lie": None},
    ]
    assert finishes(valued(ends))["playable"].tolist()[:4] == [1, 0, 0, 1]
    assert np.isnan(finishes(valued(ends))["playable"].iloc[4])


def test_a_swing_that_was_not_recorded_is_full_unless_the_target_reaches_the_hole() -> None:
    frame = finishes(valued([{"swing": None, "distance_yd": 300}, {"swing": None, "distance_yd": 160}]))
    assert frame["swing"].tolist() == ["full", "part"]
    assert finishes(valued([])).empty
