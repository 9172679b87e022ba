"""What errors of length of 10 % move in strokes gained by category: by hand, by an exact integral, and what stays."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.lengths.strokes_moved import shot_lengths
from server.analysis.strokes_gained.attribution import attribute
from server.analysis.strokes_gained.summaries import summarise
from tests.analysis.fair_player import fair_rounds
from tests.analysis.played import feet, frame, shot

TOUR = load_baseline("tour")


def expected(lie: str, yards: float) -> float:
    return float(TOUR.expected(lie, yards)[0])


def valued(holes: int, shots: list[dict[str, Any]], rounds: int = 2) -> pd.DataFrame:
    """So many rounds of so many such holes."""
    parts = [frame(shots, round_id=f"r{number}", hole=hole) for number in range(rounds) for hole in range(1, holes + 1)]
    return attribute(pd.concat(parts, ignore_index=True), TOUR)


HOLE = [
    shot("tee", 400, club="driver"),
    shot("fairway", 150),
    shot("green", feet(20)),
    shot("green", feet(2), holed=True),
]


def test_one_hole_by_hand():
    """Too long: 150 yd, 20 and 2 ft were 136.4 yd, 18.2 and 1.8 ft; the tee's 400 yd stay. 18 such holes a round."""
    found = shot_lengths(valued(18, HOLE), TOUR, "yd")
    rows = {row["category"]: row for row in found["categories"]}
    for name, times in (("too_long", 1 / 1.1), ("too_short", 1 / 0.9)):
        tee = expected("fairway", 150) - expected("fairway", 150 * times)
        green = expected("green", feet(20)) - expected("green", feet(20) * times)
        assert rows["off_the_tee"][name] == pytest.approx(18 * tee, abs=1e-9)  # type: ignore[literal-required]
        assert rows["approach"][name] == pytest.approx(18 * (green - tee), abs=1e-9)  # type: ignore[literal-required]
        assert rows["putting"][name] == pytest.approx(-18 * green, abs=1e-9)  # type: ignore[literal-required]


def test_at_random_is_the_integral_over_true_lengths():
    """Berkson: 150 yd stands for 150 (1 + 0.1 Z); the off-the-tee change is E(150) less that mean, 18 times a round."""
    rows = {row["category"]: row for row in shot_lengths(valued(18, HOLE), TOUR, "yd")["categories"]}
    mean = quad(lambda z: norm.pdf(z) * expected("fairway", 150 * (1 + 0.1 * z)), -5, 5, limit=200)[0]
    assert rows["off_the_tee"]["at_random"] == pytest.approx(18 * (expected("fairway", 150) - mean), abs=0.02)


def test_the_total_stays_and_no_shot_changes_its_category():
    shots = attribute(fair_rounds(5, 12, TOUR), TOUR)
    before = summarise(shots, "category").rows.set_index("category")["per_round"]
    found = shot_lengths(shots, TOUR, "yd")
    assert {row["category"]: row["per_round"] for row in found["categories"]} == pytest.approx(before.to_dict())
    for name in ("too_long", "too_short", "at_random"):
        changes = [row[name] for row in found["categories"]]  # type: ignore[literal-required]
        assert sum(changes) == pytest.approx(0, abs=1e-9)
        assert max(map(abs, changes)) > 0.001
    assert "the total would stay" in found["words"][-1]


def test_lengths_at_the_ends_of_their_range_stay_in_it():
    """150 ft on the green and 700 yd, which 1 / 0.9 would make impossible."""
    hole = [shot("fairway", 700), shot("green", 50), shot("green", feet(1), holed=True)]
    found = shot_lengths(valued(18, hole), TOUR, "yd")
    assert all(np.isfinite(row["too_short"] or 0.0) for row in found["categories"])
    putting = next(row for row in found["categories"] if row["category"] == "putting")
    assert putting["too_short"] == pytest.approx(0, abs=1e-9), "the only long putt stays, the second goes with its end"


def test_without_values_or_shots_nothing_is_reported():
    nothing = valued(18, HOLE).assign(strokes_gained=np.nan)
    for shots in (nothing, nothing.head(0)):
        found = shot_lengths(shots, TOUR, "m")
        assert found["categories"] == []
        assert not any(words.startswith("If every") for words in found["words"])
        assert [one["unit"] for one in found["heaping"]] == ["ft", "m"]


def test_one_short_round_has_no_figure_a_round():
    found = shot_lengths(valued(3, HOLE, rounds=1), TOUR, "yd")
    assert [(row["per_round"], row["too_long"]) for row in found["categories"]] == [(None, None)] * 3
    assert found["words"] == []


def test_heaped_lengths_off_the_green_are_reported():
    """Approaches of 150 yd alone, 36 of them; the putts of 20 ft are heaped too."""
    words = shot_lengths(valued(18, HOLE), TOUR, "yd")["words"]
    assert [sentence.split(":")[0] for sentence in words[:2]] == [
        "Lengths on the green heap at fives",
        "Lengths off the green heap at fives",
    ]
