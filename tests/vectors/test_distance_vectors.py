"""How far clubs go: the shared cases on the server, in the ladder and in the plan; and that the rule is sound."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.patterns.distances import distances
from server.analysis.patterns.full_swings import club_distances, full_swings
from server.analysis.plan.options import bag_of
from tests.analysis.made_finishes import tapped, valued
from tests.tiers import count
from tests.vectors.distance_cases import CASES, frame_of


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_distances_are_those_by_hand(case: dict[str, Any]) -> None:
    swings = full_swings(frame_of(case))
    counts = swings["club"].value_counts()
    found = {club: {"yards": yards, "swings": int(counts[club])} for club, yards in club_distances(swings).items()}
    assert found == case["expected"]
    ladder = {rung["club"]: rung["median"]["value"] for rung in distances(swings)["clubs"]}
    assert ladder == {club: row["yards"] for club, row in case["expected"].items()}


def test_the_plan_takes_the_distance_of_the_ladder() -> None:
    """Five tapped drives of 250 yd, and six that by their distances went 260: the middle of all eleven is 260."""
    untapped = dict.fromkeys(("target_yd", "right_yd", "long_yd"))
    far = [{"club": "driver", "distance_yd": 420.0, "end_distance_yd": 160.0, **untapped}] * 6
    shots = valued([*tapped([0, 3, -3, 6, -6], [0] * 5, club="driver", target_yd=250.0), *far])
    (option,), _ = bag_of(shots).options("fairway", 420)
    assert distances(full_swings(shots))["clubs"][0]["median"]["value"] == option.reach_yd == 260


def made_season(seed: int) -> pd.DataFrame:
    """A 5 iron that goes 185 -+ 9 yd, 12 aside: 60 shots at greens 160 to 200 yd away and 15 short of far ones, none of
    them tapped."""
    draw = np.random.default_rng(seed)
    before = np.concatenate([draw.uniform(160, 200, 60), draw.uniform(275, 330, 15)])
    gone, aside = 185 + 9 * draw.standard_normal(75), 12 * draw.standard_normal(75)
    untapped = dict.fromkeys(("target_yd", "right_yd", "long_yd"))
    rows = [
        {"club": "5 iron", "distance_yd": far, "end_distance_yd": float(np.hypot(far - along, side)), **untapped}
        for far, along, side in zip(before, gone, aside, strict=True)
    ]
    return valued(rows)


def test_the_middle_is_not_pulled_down_by_shots_at_the_green() -> None:
    """Within a yard of the truth over 200 seasons; what all shots gained on the hole lies yards below it."""
    seasons = [made_season(seed) for seed in range(count(30, 200))]
    by_rule = [club_distances(full_swings(season))["5 iron"] for season in seasons]
    gained = [float((season["distance_yd"] - season["end_distance_yd"]).median()) for season in seasons]
    assert abs(np.mean(by_rule) - 185) < 1
    assert np.mean(gained) < 180
