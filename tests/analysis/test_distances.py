"""The distance ladder by hand: gaps, overlaps, flags and how sure they are, the air when it is asked for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from server.analysis.patterns.air import Air
from server.analysis.patterns.distances import distances, goes_further
from server.analysis.patterns.full_swings import full_swings
from tests.analysis.made_finishes import tapped, valued


def club(label: str, target: float, sd: float, n: int, seed: int) -> list[dict[str, Any]]:
    long = sd * np.random.default_rng(seed).standard_normal(n)
    return tapped([0.0] * n, long.tolist(), club=label, target_yd=target)


def ladder(*rows: list[dict[str, Any]], **settings: Any) -> dict[str, Any]:
    return distances(full_swings(valued([row for part in rows for row in part])), **settings)


def test_the_ladder_is_numpys_quantiles_longest_first() -> None:
    made = ladder(club("short", 150, 5, 20, 1), club("long", 165, 5, 20, 2))
    assert [rung["club"] for rung in made["clubs"]] == ["long", "short"]
    along = 165 + 5 * np.random.default_rng(2).standard_normal(20)
    first = made["clubs"][0]
    assert first["median"]["value"] == pytest.approx(np.median(along))
    assert first["middle_half"] == pytest.approx(np.quantile(along, [0.25, 0.75]).tolist())
    assert first["tenth_to_ninetieth"] == pytest.approx(np.quantile(along, [0.1, 0.9]).tolist())
    assert made["air"] is None
    assert "firmness" in made["caution"]


def test_overlap_is_the_mann_whitney_share_and_normal_theory() -> None:
    """Two clubs 12 yd apart with spreads of 8 and 6 yd: Phi(-12 / 10) = 0.115; 4,000 shots each, so 0.01 is three
    errors."""
    rng = np.random.default_rng(3)
    near, far = rng.normal(150, 8, 4000), rng.normal(162, 6, 4000)
    found = goes_further(near, far)
    assert found.value == pytest.approx(stats.norm.cdf(-1.2), abs=0.015)
    assert found.value == pytest.approx(stats.mannwhitneyu(near, far).statistic / 4000**2)
    assert goes_further(np.array([1.0, 2, 2, 3, 4]), np.array([1.0, 2, 2, 3, 4])).value == 0.5


def test_intervals_of_overlap_hold_it_nine_times_of_ten() -> None:
    truth, held, seasons = stats.norm.cdf(-1.2), 0, 600
    rng = np.random.default_rng(4)
    for _ in range(seasons):
        found = goes_further(rng.normal(150, 8, 25), rng.normal(162, 6, 25))
        held += bool(found.low is not None and found.high is not None and found.low <= truth <= found.high)
    assert 0.87 <= held / seasons <= 0.95


def test_flags_and_how_sure_they_are() -> None:
    parts = [
        club("a", 240, 4, 60, 1),
        club("b", 200, 4, 60, 2),
        club("c", 200, 4, 60, 3),
        club("d", 184, 4, 60, 4),
        club("e", 170, 4, 3, 5),
    ]
    steps = ladder(*parts)["steps"]
    assert [(step["longer"], step["shorter"], step["flag"], step["sure"]) for step in steps] == [
        ("a", "b", "gap", True),
        ("b", "c", "overlap", True),
        ("c", "d", "fits", True),
        ("d", "e", "cannot tell yet", False),
    ]
    assert steps[0]["gap_yd"]["value"] == pytest.approx(40, abs=3)
    assert ladder(*parts, gap_yd=50.0)["steps"][0]["flag"] == "fits"
    assert ladder(*parts, overlap=0.5)["steps"][1]["flag"] == "fits"
    # two alternatives may overlap; one of them beside a club of the bag may not, and a gap stays a gap
    assert ladder(*parts, on_trial={"b", "c"})["steps"][1]["flag"] == "both on trial"
    assert ladder(*parts, on_trial={"a", "b"})["steps"][0]["flag"] == "gap"
    assert ladder(*parts, on_trial={"c"})["steps"][1]["flag"] == "overlap"


def test_part_swings_and_bad_lies_do_not_count() -> None:
    rows = club("a", 160, 4, 10, 1)
    spoilt = [{**row, "swing": "part", "long_yd": -50} for row in rows] + [{**row, "lie": "rough"} for row in rows]
    assert ladder(rows, spoilt)["clubs"] == ladder(rows)["clubs"]
    assert ladder([])["clubs"] == []


def test_the_air_multiplies_every_distance_and_says_so() -> None:
    rows = club("a", 160, 4, 10, 1)
    air = Air(temperature_c=30.0, altitude_m=1000.0)
    plain, warm = ladder(rows), ladder(rows, air=air)
    assert air.factor > 1.03
    ratio = warm["clubs"][0]["median"]["value"] / plain["clubs"][0]["median"]["value"]
    assert ratio == pytest.approx(air.factor)
    assert warm["air"]["factor"] == air.factor
    assert "factor of about 2" in warm["air"]["caution"]


@pytest.mark.parametrize(
    ("settings", "words"),
    [({"gap_yd": 0.0}, "gap_yd: 0 is outside"), ({"overlap": 0.6}, "overlap: 0.6 is outside 0 to 0.5")],
)
def test_settings_outside_their_range_are_named(settings: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        ladder(club("a", 160, 4, 10, 1), **settings)
    with pytest.raises(ValueError, match="altitude_m: 9000 is outside -430 to 4000 m"):
        Air(altitude_m=9000.0)


def test_wind_against_takes_more_than_wind_behind_gives() -> None:
    assert 1 - Air(head_wind_mph=10).factor > Air(head_wind_mph=-10).factor - 1 > 0
