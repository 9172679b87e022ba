"""Duels in practice, and targets: by hand, and how often intervals of duels hold the truth."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.patterns.rows import Ladder
from server.analysis.practice.duels import duels
from server.analysis.practice.targets import Candidate, candidates, targets
from tests import tiers

NAMES = ("A", "B")


def balls(rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    """Practice balls with nothing recorded but what the rows say."""
    blank = {
        "place": "range", "sort": "iron", "lie": "fairway", "target_yd": np.nan, "carry_yd": np.nan, "total_yd": np.nan,
        "right_yd": np.nan, "long_yd": np.nan, "swing": None, "length_ft": np.nan, "holed": False, "left_ft": np.nan,
        "duel_id": None, "played_on": pd.Timestamp("2026-06-01"),
    }  # fmt: skip
    return pd.DataFrame([blank | row for row in rows])


def told(rows: Sequence[dict[str, Any]]) -> Any:
    frame = balls(rows)
    of_a, of_b = (frame["club"].eq(name).to_numpy() for name in NAMES)
    return duels(frame, of_a, of_b, NAMES, lambda feet: 1 + feet / 20)


def pair(session: int, number: int, a: dict[str, Any], b: dict[str, Any]) -> list[dict[str, Any]]:
    duel = {"round_id": session, "duel_id": f"{session}-{number}"}
    return [duel | {"club": "A"} | a, duel | {"club": "B"} | b]


def test_pairs_by_hand() -> None:
    rows = [
        one
        for session in (1, 2)
        for number in range(3)
        for one in pair(
            session, number, {"total_yd": 150.0 + number, "left_ft": 10.0}, {"total_yd": 146.0, "left_ft": 20.0}
        )
    ]
    rows += [{"round_id": 1, "duel_id": "alone", "club": "A", "total_yd": 300.0}, {"round_id": 1, "club": "B"}]
    found = told(rows)
    assert (found["pairs"], found["sessions"]) == (6, 2)
    assert found["length_yd"]["value"] == pytest.approx(5.0)
    assert found["strokes"]["value"] == pytest.approx(-0.5)
    assert found["offline_deg"]["value"] is None


def test_a_holed_ball_leaves_nothing() -> None:
    rows = [
        one for session in (1, 2, 3) for k in range(2) for one in pair(session, k, {"holed": True}, {"left_ft": 4.0})
    ]
    found = told(rows)
    assert found["strokes"]["value"] == pytest.approx(-1.2)
    assert found["holed"]["value"] == 1.0


@pytest.mark.parametrize("rows", [[], pair(1, 1, {"total_yd": 150.0}, {"total_yd": 140.0})])
def test_too_few_pairs_say_so(rows: list[dict[str, Any]]) -> None:
    found = (
        told(rows) if rows else duels(balls([{"round_id": 1, "club": "C"}]), *[np.zeros(1, bool)] * 2, NAMES, np.exp)
    )
    assert "at least 5 in 2 are needed" in found["words"][0]
    assert found["length_yd"]["low"] is None


def test_intervals_of_duels_hold_the_truth_whatever_the_sessions_do() -> None:
    rng = np.random.default_rng(3)
    runs = 400 if tiers.LONG else 60
    held = 0
    for _ in range(runs):
        rows = []
        for session in range(6):
            lean = rng.normal(3.0, 1.5)  # what the day adds to the difference
            for number in range(5):
                a, b = 150 + lean + rng.normal(0, 5), 150 + rng.normal(0, 5)
                rows += pair(session, number, {"total_yd": a}, {"total_yd": b})
        length = told(rows)["length_yd"]
        held += length["low"] <= 3.0 <= length["high"]
    assert held / runs >= 0.9 - 2 * (0.09 / runs) ** 0.5


AMONG = [Candidate(100, 1, "bag"), Candidate(105, 3, "gap"), Candidate(110, 2, "loses strokes")]


def test_the_same_seed_draws_the_same_on_every_device() -> None:
    drawn = targets(AMONG, 7, 12)
    assert drawn == targets(AMONG, 7, 12)
    # reckoned apart, in floating point
    assert [one["target_yd"] for one in drawn[:6]] == [110, 100, 110, 105, 100, 105]
    assert [one["target_yd"] for one in targets(AMONG, 8, 12)] != [one["target_yd"] for one in drawn]
    assert all(one["target_yd"] != after["target_yd"] for one, after in pairwise(drawn))


def test_heavier_targets_come_more_often() -> None:
    drawn = [one["target_yd"] for seed in range(300) for one in targets(AMONG, seed, 1)]
    shares = [drawn.count(yards) / len(drawn) for yards in (100, 105, 110)]
    assert shares == pytest.approx([1 / 6, 1 / 2, 1 / 3], abs=0.08)


def test_one_or_no_candidate() -> None:
    assert targets([], 1, 5) == []
    assert [one["target_yd"] for one in targets(AMONG[:1], 1, 3)] == [100, 100, 100]


def ladder(*clubs: tuple[str, float], gaps: Sequence[tuple[str, str]] = ()) -> Ladder:
    """A ladder with these medians and flagged gaps."""
    rungs = [{"club": club, "median": {"value": yards}} for club, yards in clubs]
    steps = [{"longer": longer, "shorter": shorter, "flag": "gap"} for longer, shorter in gaps]
    return {"clubs": rungs, "steps": steps}  # type: ignore[typeddict-item]


def test_candidates_come_from_gaps_and_losing_distances() -> None:
    found = candidates(ladder(("8 iron", 150.0), ("wedge", 120.0), gaps=[("8 iron", "wedge")]), [(100.0, 110.0)])
    why = {one.target_yd: one.why for one in found}
    assert (min(why), max(why)) == (60, 150)
    assert {yards for yards, word in why.items() if word == "gap"} == {125, 130, 135, 140, 145}
    assert {yards for yards, word in why.items() if word == "loses strokes"} == {100, 105, 110}
    assert candidates(ladder(), []) == []
