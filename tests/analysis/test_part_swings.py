"""Part swings by hand: whose length is known, how much was taken off, lean and spread, too few."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.patterns.part_swings import part_swings
from server.analysis.strokes_gained.attribution import attribute
from tests.analysis.played import frame, shot

TOUR = load_baseline("tour")
NAN = float("nan")


def swing(kind: str, target: float, long: float, round_id: str = "r1", **others: Any) -> list[dict[str, Any]]:
    """One shot from 300 yd with a club, picked up where it lies 300 less what it flew."""
    tapped = {"target_yd": target, "long_yd": long, "right_yd": 0.0 if np.isfinite(long) else NAN, "swing": kind}
    return [shot("fairway", 300, round_id=round_id, end_lie="fairway", end_distance_yd=150, **tapped, **others)]


def valued(*holes: list[dict[str, Any]]) -> pd.DataFrame:
    """Every list a hole; clubs are an 8 iron unless said otherwise."""
    same = {"club": "8 iron", "sort": "iron", "setup": None, "planned_shape": None, "actual_shape": None}
    parts = [frame([{**same, **one} for one in shots], hole=number) for number, shots in enumerate(holes, start=1)]
    return attribute(pd.concat(parts, ignore_index=True), TOUR)


FULL = [swing("full", 160, long) for long in (0, 2, -2)]
"""Median 160 yd."""


def test_lean_spread_and_what_was_taken_off_by_hand():
    """Five at 140 of 160 yd, an eighth off: errors 2, 4, 6, 8, 10 in two rounds, mean 6, spread sqrt(10)."""
    errors = ((2, "r1"), (4, "r1"), (6, "r2"), (8, "r2"), (10, "r2"))
    found = part_swings(valued(*FULL, *[swing("part", 140, long, round_id) for long, round_id in errors]))
    (band,) = found["bands"]
    assert (band["taken_off"], band["shots"], band["rounds"]) == ("over 10 to 20 %", 5, 2)
    assert band["bias_yd"] == pytest.approx(6)
    assert band["bias_pct"] == pytest.approx(100 * 6 / 140)
    assert band["spread_yd"] == pytest.approx(np.sqrt(10))
    assert band["half_within_yd"] == 6
    (club,) = found["clubs"]
    assert (club["club"], club["full_yd"]) == ("8 iron", 160)
    assert club["bias_yd"] == found["total"]["bias_yd"] == band["bias_yd"]
    assert band["low"] < 6 < band["high"]


def test_a_clear_lean_is_reported():
    shots = [swing("part", 140, 6 + k % 3, f"r{k % 8}") for k in range(40)]
    words = part_swings(valued(*FULL, *shots))["total"]["words"]
    assert words.startswith("They go long of what is intended, on average 7.0 yd long (90 % interval +")
    short = [swing("part", 140, -6 - k % 3, f"r{k % 8}") for k in range(40)]
    assert "short of what is intended" in part_swings(valued(*FULL, *short))["total"]["words"]
    level = [swing("part", 140, (k * k) % 7 - 2, f"r{k % 8}") for k in range(48)]
    assert part_swings(valued(*FULL, *level))["total"]["words"].startswith("No clear bias")


def test_distances_tell_the_length_only_when_the_ball_was_to_stop_well_short():
    """300 less 150 left is 150 come, 10 long of 140; a shot meant for 250 stops within 80 yd of the hole: not known."""
    shots = valued(*FULL, swing("part", 140, NAN), swing("part", 250, NAN), swing("part", 140, NAN, penalty_strokes=1))
    found = part_swings(shots)
    assert (found["shots"], found["measured"], found["not_measured"]) == (3, 1, 2)
    many = valued(*FULL, *[swing("part", 140, NAN, f"r{k % 3}") for k in range(6)])
    total = part_swings(many)["total"]
    assert total["bias_yd"] == pytest.approx(10)
    assert (total["low"], total["words"]) == (
        None,
        "On average 10.0 yd long, every ball the same; half of the balls end within 10 yd in length.",
    )


def test_full_swings_and_putts_do_not_count():
    putts = [shot("green", 5, swing="part", target_yd=5.0, long_yd=1.0, right_yd=0.0)]
    assert part_swings(valued(*FULL, putts))["shots"] == 0


def test_without_full_swings_the_share_taken_off_is_not_known():
    found = part_swings(valued(*[swing("part", 140, long, f"r{long}") for long in range(6)]))
    assert [band["taken_off"] for band in found["bands"]] == ["full distance not known"]
    assert found["clubs"][0]["full_yd"] is None
    assert found["total"]["bias_yd"] == pytest.approx(2.5)


def test_one_club_alone():
    shots = valued(*FULL, *[swing("part", 140, 3, f"r{k}") for k in range(6)], swing("part", 60, -5, club="wedge"))
    assert part_swings(shots, "8 iron")["shots"] == 6
    assert part_swings(shots, "wedge")["total"]["words"].startswith(
        "Not enough data: 1 part swing with a known finish in 1"
    )


@pytest.mark.parametrize(("count", "rounds"), [(0, 1), (1, 1), (4, 4), (12, 1)])
def test_too_few_are_a_sentence(count: int, rounds: int):
    found = part_swings(valued(*FULL, *[swing("part", 140, k, f"r{k % rounds}") for k in range(count)]))
    total = found["total"]
    assert total["bias_yd"] is None
    assert total["words"] == total["lacking"]
    assert total["lacking"].startswith(f"Not enough data: {count} part swing")
