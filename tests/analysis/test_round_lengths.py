"""What a round is: 18 holes with a value, nine weighing half, fewer than nine none; and the intervals that follow."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.evidence.intervals import Floats, RoundSums, freedom_per_round, per_round
from server.analysis.evidence.priorities import priorities
from server.analysis.evidence.round_lengths import LEAST_HOLES, round_lengths
from server.analysis.evidence.two_spans import welch
from server.analysis.strokes_gained.summaries import GROUPINGS, summarise

EXACT = 1e-9


def played(lengths: list[int], gains: Floats | None = None, name: str = "r") -> pd.DataFrame:
    """Rounds of so many holes, a drive and a putt on each. `gains`: strokes of every hole, half of them each shot."""
    rounds = np.repeat(np.arange(len(lengths)), np.array(lengths) * 2)
    holes = np.concatenate([np.repeat(np.arange(1, count + 1), 2) for count in lengths])
    putt = np.arange(holes.size) % 2
    frame = pd.DataFrame({"round_id": [f"{name}{place}" for place in rounds], "hole": holes, "order": 1 + putt})
    return frame.assign(
        ball=1,
        lie=pd.Categorical(np.where(putt, "green", "tee")),
        distance_yd=5.0 + holes,
        par=4,
        club=np.where(putt, "putter", "driver"),
        strokes_gained=-0.1 if gains is None else np.repeat(gains / 2, 2),
        basis="printed",
        category=np.where(putt, "putting", "off_the_tee"),
        setup=None,
        holed=putt == 1,
        penalty_strokes=0,
        end_lie=None,
        picked_up=False,
        **dict.fromkeys(("right_yd", "long_yd", "target_yd", "end_distance_yd"), np.nan),
        played_on=pd.Timestamp("2026-05-01") + pd.to_timedelta(rounds, "D"),
    )


def test_a_round_is_18_holes_and_nine_are_half() -> None:
    """By hand: 18 holes of -0.2 a hole and 9 of +0.4 are 27 holes and 0 strokes; 18 / 27 (-3.6 + 3.6) = 0."""
    shots = played([18, 9], np.repeat([-0.2, 0.4], [18, 9]))
    total = summarise(shots, "category").total
    assert (total["rounds"], total["of_rounds"], total["short_rounds"], total["holes"]) == (2, 2, 0, 27)
    assert total["per_round"] == pytest.approx(0, abs=EXACT)
    alone = summarise(shots, "round").rows.set_index("round")
    assert alone.loc["r0", "per_round"] == pytest.approx(-3.6, abs=EXACT)
    assert alone.loc["r1", "per_round"] == pytest.approx(7.2, abs=EXACT)
    assert alone["of_rounds"].tolist() == [1, 1]


@pytest.mark.parametrize("by", GROUPINGS)
def test_rounds_of_one_hole_change_no_figure_a_round(by: str) -> None:
    draw = np.random.default_rng(2)
    whole = played([18, 18, 9, 18], draw.normal(-0.25, 0.5, 63))
    short = played([1, 1, 8, 1], draw.normal(1.5, 0.5, 11), "short")
    before, after = summarise(whole, by), summarise(pd.concat([whole, short], ignore_index=True), by)
    names = ["per_round", "per_round_low", "per_round_high", "of_rounds"]
    assert {name: after.total[name] for name in [*names, "rounds", "holes"]} == {
        name: before.total[name] for name in [*names, "rounds", "holes"]
    }
    assert (before.total["short_rounds"], after.total["short_rounds"]) == (0, 4)
    assert after.total["shots"] == before.total["shots"] + 22, "every shot still counts by the shot"
    rows = after.rows.set_index(by).loc[before.rows[by], names]
    pd.testing.assert_frame_equal(rows, before.rows.set_index(by)[names])
    for key in set(after.rows[by]) - set(before.rows[by]):
        row = after.rows.set_index(by).loc[key]
        assert row["of_rounds"] == 0
        assert np.isnan(row["per_round"])


@pytest.mark.parametrize("holes", [LEAST_HOLES - 1, LEAST_HOLES])
def test_nine_holes_with_a_value_are_the_least(holes: int) -> None:
    shots = played([18, 12])
    lost = shots["round_id"].eq("r1") & shots["hole"].gt(holes)
    found = round_lengths(shots.assign(strokes_gained=shots["strokes_gained"].mask(lost)))
    counts = holes >= LEAST_HOLES
    assert (found.rounds, found.short) == ((2, 0) if counts else (1, 1))


def test_a_hole_counts_by_one_shot_with_a_value_of_the_ball_of_record() -> None:
    """A hole that was picked up after the drive keeps what the drive lost; an extra ball plays no hole."""
    shots = played([18])
    gone = shots["hole"].eq(4) & shots["lie"].eq("green")
    assert round_lengths(shots.assign(strokes_gained=shots["strokes_gained"].mask(gone))).holes.tolist() == [18]
    assert round_lengths(
        shots.assign(strokes_gained=shots["strokes_gained"].mask(shots["hole"].eq(4)))
    ).holes.tolist() == [17]
    extra = pd.concat([shots, played([18], name="extra").assign(ball=2)], ignore_index=True)
    assert (round_lengths(extra).rounds, round_lengths(extra).short) == (1, 1)
    assert (round_lengths(shots.iloc[:0]).rounds, round_lengths(shots.iloc[:0]).short) == (0, 0)


def test_extra_balls_are_no_part_of_a_round() -> None:
    shots = played([18, 18, 18], np.random.default_rng(3).normal(-0.2, 0.5, 54))
    extra = pd.concat([shots, shots.assign(ball=2, strokes_gained=shots["strokes_gained"] - 1)], ignore_index=True)
    names = ("per_round", "per_round_low", "per_round_high", "rounds")
    plain, more = summarise(shots, "club").total, summarise(extra, "club").total
    assert more["shots"] == 2 * plain["shots"]
    assert {name: more[name] for name in names} == {name: plain[name] for name in names}


def test_rows_sum_to_the_round() -> None:
    found = summarise(played([18, 9, 13], np.random.default_rng(4).normal(-0.2, 0.5, 40)), "club")
    assert found.rows["per_round"].sum() == pytest.approx(found.total["per_round"], abs=EXACT)


def test_a_hole_is_played_once_a_round_whatever_the_round_s_length() -> None:
    rows = summarise(played([18, 9]), "hole").rows.set_index("hole")
    assert rows["per_round"].tolist() == pytest.approx([-0.2] * 18, abs=EXACT)
    assert (rows.loc[3, "of_rounds"], rows.loc[12, "of_rounds"]) == (2, 1)


TRUTH = -0.28 * 18


def simulated(lengths: list[int], seasons: int, seed: int) -> tuple[RoundSums, Floats]:
    """Seasons of rounds of these lengths of a player who loses 0.28 strokes a hole, with a day's form of 0.12 a hole;
    and the rounds as parts of 18 holes."""
    draw, holes = np.random.default_rng(seed), np.array(lengths, dtype=np.float64)
    shape = (seasons, holes.size)
    strokes = -0.28 * holes + draw.normal(0, 0.12, shape) * holes + draw.normal(0, 0.9, shape) * np.sqrt(holes)
    return RoundSums(np.tile(4 * holes, (seasons, 1)), strokes), np.tile(holes / 18, (seasons, 1))


MIXED = {
    "whole": [18] * 20,
    "every second of nine": [18, 9] * 10,
    "mostly of nine": [9] * 12 + [18] * 3,
    "few and uneven": [18] * 5 + [12, 9, 10],
}


@pytest.mark.parametrize("lengths", MIXED.values(), ids=MIXED)
def test_nine_intervals_of_ten_hold_the_truth(lengths: list[int]) -> None:
    """87 to 93 % of 4,000 seasons."""
    made, parts = simulated(lengths, 4000, 1)
    found = per_round(made, counted=parts)
    assert abs(found.mean.mean() - TRUTH) < 0.05
    assert 0.87 <= np.mean((found.low <= TRUTH) & (found.high >= TRUTH)) <= 0.93


def test_the_check_can_fail_rounds_of_nine_taken_for_whole_ones_miss_the_truth() -> None:
    found = per_round(simulated([18, 9] * 10, 4000, 1)[0])
    assert np.mean((found.low <= TRUTH) & (found.high >= TRUTH)) < 0.7


@pytest.mark.parametrize(("first", "second"), [([9] * 8, [18] * 8), ([18, 9] * 6, [18] * 12), ([9] * 5, [9, 18] * 10)])
def test_two_spans_of_one_player_differ_by_chance_alone(first: list[int], second: list[int]) -> None:
    """90 % intervals hold a difference of nothing in 87 to 93 % of pairs; by the round, whatever its length, spans of
    nine holes were called better than spans of eighteen in 96 %."""
    sides = [simulated(one, 4000, seed) for seed, one in enumerate((first, second))]
    means = [per_round(made, counted=parts) for made, parts in sides]
    found = welch(means, [freedom_per_round(*side) for side in sides], 0.9)
    assert 0.87 <= np.mean((found["_low"] <= 0) & (found["_high"] >= 0)) <= 0.93


def test_the_interval_of_a_summary_is_that_of_its_rounds() -> None:
    lengths = [18, 9, 18, 12, 18]
    shots = played([*lengths, 3], np.random.default_rng(8).normal(-0.2, 0.9, sum(lengths) + 3))
    sums = shots.groupby("round_id")["strokes_gained"].sum().to_numpy()[None, :5]
    parts = np.array(lengths)[None, :] / 18
    found, total = per_round(RoundSums(36 * parts, sums), counted=parts), summarise(shots, "lie").total
    assert (total["per_round"], total["per_round_low"], total["per_round_high"]) == pytest.approx(
        (found.mean[0], found.low[0], found.high[0]), abs=EXACT
    )


def test_priorities_leave_short_rounds_out_and_count_them() -> None:
    draw = np.random.default_rng(6)
    whole = played([18] * 8, draw.normal(-0.4, 0.3, 144))
    both: Any = pd.concat([whole, played([1] * 4, draw.normal(3, 0.1, 4), "short")], ignore_index=True)
    before, after = priorities(whole, "tour"), priorities(both, "tour")
    assert (before["rounds"], before["short_rounds"]) == (8, 0)
    assert (after["rounds"], after["short_rounds"]) == (8, 4)
    assert after["cells"] == before["cells"]
    assert before["cells"][0]["per_round"] == pytest.approx(whole["strokes_gained"].sum() / 8, rel=0.7)


def test_priorities_of_nine_holes_are_for_eighteen() -> None:
    draw = np.random.default_rng(7)
    gains = draw.normal(-0.4, 0.3, 144)
    whole, half = priorities(played([18] * 8, gains), "tour"), priorities(played([9] * 16, gains), "tour")
    sums = [sum(cell["per_round"] for cell in found["cells"]) for found in (whole, half)]
    assert sums[0] == pytest.approx(sums[1], abs=EXACT)
