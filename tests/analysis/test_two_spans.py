"""Two periods side by side: differences by hand, Welch's interval against scipy, coverage over simulated seasons."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from server.analysis.evidence.intervals import ALIKE, TOO_FEW, freedom_per_shot, per_shot
from server.analysis.evidence.recent import LEAST_ROUNDS, recent_trend
from server.analysis.evidence.two_spans import ONE_SIDE, SHARED, SHORT_ROUNDS, GroupCompared, compare, welch
from tests.analysis.complete_rounds import filled
from tests.analysis.simulated_seasons import seasons

EXACT = 1e-9


def valued(rows: list[tuple[str, str, int, str, float]], first_round: int = 0) -> pd.DataFrame:
    """A valued frame of (round, club, ball, lie, strokes gained)."""
    frame = pd.DataFrame(rows, columns=["round_id", "club", "ball", "lie", "strokes_gained"])
    return frame.assign(
        distance_yd=150.0,
        basis="printed",
        category="approach",
        played_on=pd.Timestamp("2026-05-01"),
        hole=1,
        setup=None,
        lie=pd.Categorical(frame["lie"]),
    )


def span(name: str, gains: dict[str, list[list[float]]], lie: str = "fairway") -> pd.DataFrame:
    """Rounds of 18 holes: club -> for each round the strokes gained of its shots; the other holes gained nothing."""
    rows = [
        (f"{name} {number}", club, 1, lie, gain)
        for club, rounds in gains.items()
        for number, shots in enumerate(rounds)
        for gain in shots
    ]
    return filled(valued(rows))


NEW = span("new", {"iron": [[0.1, 0.3], [0.2, -0.1], [0.4]], "wedge": [[0.5], [0.1], [0.2]]})
OLD = span("old", {"iron": [[-0.2, 0.1], [0.0, -0.3, 0.1], [0.1]], "hybrid": [[0.1, 0.2, 0.1], [0.2, 0.4], [0.0]]})


def row(by: str, key: str, **more: Any) -> GroupCompared:
    found = compare(NEW, OLD, by, **more).rows
    return next(one for one in found if one.group == key)


def test_the_differences_are_first_less_second_by_hand() -> None:
    iron = row("club", "iron")
    assert iron.first["per_shot"] == pytest.approx(0.9 / 5, abs=EXACT)
    assert iron.second["per_shot"] == pytest.approx(-0.2 / 6, abs=EXACT)
    assert iron.difference["per_shot"] == pytest.approx(0.9 / 5 + 0.2 / 6, abs=EXACT)
    assert iron.difference["per_round"] == pytest.approx((0.9 + 0.2) / 3, abs=EXACT)
    assert iron.difference["lacking"] is None


def test_a_difference_a_round_is_welchs_interval_as_scipy_has_it() -> None:
    # every round holds the club, so that a mean a round is a plain mean over rounds
    iron = row("club", "iron", level=0.95)
    expected = stats.ttest_ind([0.4, 0.1, 0.4], [-0.1, -0.2, 0.1], equal_var=False).confidence_interval(0.95)
    said = iron.difference
    assert (said["per_round_low"], said["per_round_high"]) == pytest.approx((expected.low, expected.high), abs=EXACT)


def test_a_club_of_one_span_alone_and_a_club_with_few_shots_have_no_interval() -> None:
    assert row("club", "hybrid").first is None
    assert row("club", "hybrid").difference["lacking"] == ONE_SIDE
    assert row("club", "wedge").second is None
    few = compare(NEW, span("old", {"wedge": [[0.1], [0.2]]}), "club").rows
    wedge = next(one for one in few if one.group == "wedge").difference
    assert wedge["per_shot"] == pytest.approx(0.8 / 3 - 0.15, abs=EXACT)
    assert wedge["lacking"] == TOO_FEW
    assert wedge["per_shot_low"] is None
    assert wedge["per_round_high"] is None


def test_many_shots_that_are_all_alike_are_not_called_few() -> None:
    tap_ins = span("new", {"putter": [[-0.01] * 10] * 5})
    mixed = span("old", {"putter": [[-0.01] * 10, [-0.02] * 4, [0.1]]})
    putter = next(one for one in compare(tap_ins, mixed, "club").rows if one.group == "putter")
    assert putter.difference["lacking"] == ALIKE
    assert putter.difference["per_shot_low"] is None


def played(name: str, rounds: int, holes: int) -> pd.DataFrame:
    """Rounds of one player who does not change: every hole four shots, 0.15 strokes each below the baseline."""
    rng = np.random.default_rng(rounds * holes)
    rows = [(f"{name} {number}", "iron", 1, "fairway", gain) for number in range(rounds) for gain in range(4 * holes)]
    made = valued(rows).assign(strokes_gained=rng.normal(-0.15, 0.4, 4 * holes * rounds))
    return made.assign(hole=np.tile(np.repeat(np.arange(1, holes + 1), 4), rounds))


def test_nine_holes_are_compared_with_eighteen_for_eighteen_holes() -> None:
    """That the intervals hold is simulated in test_round_lengths.py."""
    found = compare(played("nine", 8, 9), played("whole", 8, 18), "club")
    for side in (found.first, found.second):
        assert side.total["per_round"] == pytest.approx(-0.15 * 72, abs=3)
    for said in (found.total.difference, found.rows[0].difference):
        assert (said["lacking"], said["lacking_per_round"]) == (None, None)
        assert said["per_round_low"] < 0 < said["per_round_high"]


def test_rounds_under_nine_holes_are_compared_by_the_shot_alone() -> None:
    found = compare(played("short", 8, 8), played("whole", 8, 18), "club")
    assert (found.first.total["rounds"], found.first.total["short_rounds"]) == (0, 8)
    for said in (found.total.difference, found.rows[0].difference):
        assert (said["lacking"], said["lacking_per_round"]) == (None, SHORT_ROUNDS)
        assert said["per_shot_low"] < 0 < said["per_shot_high"]
        assert said["per_round_low"] is None


def test_spans_that_share_a_round_get_no_interval() -> None:
    both = compare(pd.concat([NEW, OLD], ignore_index=True), OLD, "club")
    iron = next(one for one in both.rows if one.group == "iron").difference
    assert iron["lacking"] == SHARED
    assert iron["per_shot_low"] is None
    assert both.total.difference["lacking"] == SHARED


def test_the_total_is_the_sum_of_the_clubs_and_stays_so_for_a_part_of_the_shots() -> None:
    found = compare(NEW, OLD, "club")
    sides = [[one.first for one in found.rows], [one.second for one in found.rows]]
    sums = [sum(one["strokes_gained"] for one in side if one) for side in sides]
    assert found.total.difference["per_round"] == pytest.approx(sums[0] / 3 - sums[1] / 3, abs=EXACT)
    only = (NEW["club"].eq("iron"), OLD["club"].eq("iron"))
    part = compare(NEW, OLD, "lie", only=only)
    assert part.total.first["shots"] == 5
    assert part.total.difference["per_shot"] == pytest.approx(0.9 / 5 + 0.2 / 6, abs=EXACT)


def test_a_round_without_such_a_shot_counts_as_a_round() -> None:
    sand = valued([("new 0", "wedge", 1, "sand", 0.3)])
    more = pd.concat([NEW.astype({"lie": "object"}), sand.astype({"lie": "object"})], ignore_index=True)
    found = compare(more, OLD, "club", only=(more["lie"].eq("sand"), OLD["lie"].eq("sand")))
    assert found.rows[0].first["per_round"] == pytest.approx(0.3 / 3, abs=EXACT)
    assert found.total.second["per_round"] == 0


def test_nothing_on_either_side() -> None:
    found = compare(NEW.iloc[:0], OLD.iloc[:0], "category")
    assert found.rows == []
    assert found.total.difference["lacking"] == ONE_SIDE


@pytest.mark.simulation
@pytest.mark.parametrize(("first", "second"), [(6, 6), (6, 24), (20, 20)])
def test_the_interval_holds_a_true_difference_of_nothing_in_nine_seasons_of_ten(first: int, second: int) -> None:
    """Same club in both spans: 90 % intervals hold zero in 87 to 93 % of seasons, as the intervals of one span do."""
    made = [seasons(seed, 4000, rounds, 5.0, 0.05) for seed, rounds in ((7, first), (8, second))]
    found = welch([per_shot(one) for one in made], [freedom_per_shot(one.shots) for one in made], 0.9)
    said = ~np.isnan(found["_low"])
    assert said.mean() > 0.99
    assert 0.87 <= float(((found["_low"] <= 0) & (found["_high"] >= 0))[said].mean()) <= 0.93


def test_the_latest_rounds_against_those_before_as_scipy_has_it() -> None:
    strokes = np.array([-3.0, -2.5, -4.1, -3.3, -1.0, 0.2, -0.4, -0.9])
    said = recent_trend(strokes, np.full(8, 18.0))
    expected = stats.ttest_ind(strokes[4:], strokes[:4], equal_var=False).confidence_interval(0.9)
    assert (said["low"], said["high"]) == pytest.approx((expected.low, expected.high), abs=EXACT)
    assert said["words"] == "better of late"
    assert recent_trend(-strokes, np.full(8, 18.0))["words"] == "worse of late"
    assert recent_trend(np.array([1.0, 2, 3, 1, 2, 3]), np.full(6, 18.0))["words"] == "no clear change"


@pytest.mark.simulation
@pytest.mark.parametrize("lengths", [[18] * 6 + [9] * 6, [18, 9] * 6, [18] * 4 + [9] * 3 + [3], [18] * 16 + [9] * 4])
def test_shorter_rounds_of_late_are_no_change_of_the_player(lengths: list[int]) -> None:
    """The same player throughout, 0.6 strokes a hole below the baseline: 90 % intervals hold zero in 87 to 93 % of
    seasons, as everywhere here. Compared by the round, nine holes after eighteen would be called better in 84 %."""
    rng, holes = np.random.default_rng(5), np.array(lengths, dtype=np.float64)
    made = rng.normal(-0.6 * holes, 1.7 * np.sqrt(holes), (2000, holes.size))
    words = [recent_trend(strokes, holes)["words"] for strokes in made]
    assert set(words) <= {"better of late", "worse of late", "no clear change"}
    assert 0.87 <= words.count("no clear change") / len(words) <= 0.93


def test_a_trend_is_for_eighteen_holes() -> None:
    strokes = np.array([-3.0, -2.5, -4.1, -1.0, 0.2, -0.4])
    whole, half = recent_trend(strokes, np.full(6, 18.0)), recent_trend(strokes / 2, np.full(6, 9.0))
    assert half["words"] == whole["words"]
    for name in ("mean", "later", "earlier", "difference", "low", "high"):
        assert half[name] == pytest.approx(whole[name], abs=EXACT)
    assert whole["mean"] == pytest.approx(strokes.mean(), abs=EXACT)


@pytest.mark.parametrize("count", range(2 * LEAST_ROUNDS))
def test_few_rounds_say_nothing_of_a_trend(count: int) -> None:
    said = recent_trend(np.arange(count, dtype=np.float64), np.full(count, 18.0))
    assert said["rounds"] == count
    assert (said["difference"], said["low"]) == (None, None)
    assert "too few rounds" in said["words"]


def test_rounds_all_alike_have_no_spread_to_judge_by() -> None:
    assert recent_trend(np.full(8, 1.5), np.full(8, 18.0)) == {
        "rounds": 8,
        "mean": 1.5,
        "later": 1.5,
        "earlier": 1.5,
        "difference": 0.0,
        "low": None,
        "high": None,
        "words": "rounds all equal: no spread to judge by",
    }
