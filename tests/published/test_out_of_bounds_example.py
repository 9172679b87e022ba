"""The published example of a 400-yd par 4 with out of bounds all down the right: M. Broadie, Every Shot Counts (2014).

The golfers' skill is that of amateur_groups_2008.csv. What the example does not print is set so: a fairway of 32 yd,
out of bounds where 7 % of the 80-golfer's balls go when aimed at the middle (the printed share), no trees, a tee shot
at 0.95 of the group's 75th percentile of distance, and after it the tour's expected strokes scaled so that the hole
itself, without trouble, scales as the golfer's score does. The example's figures are rounded to 0.1, so order and size
are checked, not decimals.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.ground import prepare
from server.analysis.plan.landings import of_pattern, stated
from server.analysis.plan.position_value import position_values
from server.analysis.plan.priors import Skill
from server.analysis.plan.tee_plan import Across, Option, across
from tests.analysis.made_holes import LONG, rectangle, scaled_tour, straight_hole
from tests.published.reference_tables import read_rows

PUBLISHED = {row["golfer"]: row for row in read_rows("ob_right_aim_example_2014.csv")}
GROUPS = {row["group"]: row for row in read_rows("amateur_groups_2008.csv")}
GROUP_OF = {"80-golfer": "Am1 (low hcp)", "100-golfer": "Am3 (high)"}
SCORES = {"80-golfer": 80.0, "100-golfer": 100.0}
TOUR_SCORE = 70.5
"""About a tour player's average score: common practice, no source."""
HALF_FAIRWAY = 16.0


def skill_of(golfer: str) -> tuple[float, float]:
    """Distance and side spread in degrees."""
    group = GROUPS[GROUP_OF[golfer]]
    return 0.95 * float(group["tee_distance_yd_p75"]), float(group["tee_direction_sd_deg"])


def begins_yd() -> float:
    """Where out of bounds begins: the printed share of the 80-golfer's balls lies beyond."""
    distance, side = skill_of("80-golfer")
    share = float(PUBLISHED["80-golfer"]["ob_share_at_center"])
    return float(stats.norm.isf(share)) * distance * math.tan(math.radians(side))


def planned(golfer: str) -> Across:
    distance, side = skill_of(golfer)
    skill = Skill(depth_share=0.05, side_deg=side, mishit_share=0.0)
    option = Option("driver", of_pattern(*stated(skill, distance)), distance, {})
    ground = prepare(straight_hole(HALF_FAIRWAY, rectangle("out_of_bounds", begins_yd(), 250, -30, 470)))
    share, hole = SCORES[golfer] / TOUR_SCORE, float(load_baseline().expected("tee", LONG)[0])
    baseline = scaled_tour((hole * share - 1) / (hole - 1))
    values = position_values(ground, baseline, (0.0, 0.0), "tee", (0.0, LONG))
    return across(values, (0.0, 0.0), 0.0, option, np.arange(-60.0, 61.0, 1.0))


@pytest.mark.parametrize("golfer", list(GROUP_OF))
def test_the_gain_of_aiming_away_has_the_published_size(golfer: str) -> None:
    found, printed = planned(golfer), PUBLISHED[golfer]
    centre = found.expected[found.aim_yd == 0.0][0]
    assert centre == pytest.approx(float(printed["aim_center_score"]), abs=0.15)
    gain = centre - found.expected.min()
    said = float(printed["aim_center_score"]) - float(printed["optimal_score"])
    # both printed scores are rounded to 0.1, so their difference is good to 0.1
    assert gain == pytest.approx(said, abs=0.1)
    assert gain > 0.02


def test_the_better_golfer_aims_at_the_left_edge_the_other_into_the_left_rough() -> None:
    assert (PUBLISHED["80-golfer"]["optimal_aim"], PUBLISHED["100-golfer"]["optimal_aim"]) == (
        "left edge of fairway",
        "left rough",
    )
    eighty, hundred = planned("80-golfer"), planned("100-golfer")
    best, other = eighty.aim_yd[eighty.best], hundred.aim_yd[hundred.best]
    assert best == pytest.approx(-HALF_FAIRWAY, abs=HALF_FAIRWAY / 2)
    assert other < -HALF_FAIRWAY
    assert other < best
    gains = [found.expected[found.aim_yd == 0.0][0] - found.expected.min() for found in (eighty, hundred)]
    assert gains[1] > gains[0]
