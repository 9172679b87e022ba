"""The putting report by hand: which putts count, first putts, three putts, what is left, and plain sentences."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.putting.make_rates import CARELESS, make_rate, right_roll, straight_start
from server.analysis.putting.make_rates import TOUR as TOUR_RATES
from server.analysis.putting.player_curve import CURVE_FT, LEAST_PUTTS, curve_of
from server.analysis.putting.putts import putting_report, putts_of
from server.analysis.strokes_gained.attribution import attribute
from tests.analysis.fair_player import fair_rounds
from tests.analysis.played import feet, frame, shot

TOUR = load_baseline("tour")
NOTES: dict[str, Any] = {"club": "putter", "picked_up": False, "long_yd": np.nan}


def valued(*holes: list[dict[str, Any]], **same: Any) -> pd.DataFrame:
    """Holes numbered 1, 2 ... of one round, valued."""
    parts = [frame(shots, hole=number, **{**NOTES, **same}) for number, shots in enumerate(holes, start=1)]
    return attribute(pd.concat(parts, ignore_index=True), TOUR)


def putt(length: float, **others: Any) -> dict[str, Any]:
    return shot("green", feet(length), **others)


def test_which_putts_count_and_what_they_leave():
    shots = valued(
        [shot("fairway", 100, club="wedge"), putt(20), putt(3, holed=True)],
        [putt(9), shot("fringe", 4), putt(2, holed=True)],
        [putt(30, picked_up=True)],
        [putt(12)],
        [putt(15, end_lie="green", end_distance_yd=1)],
        [putt(6, ball=2, holed=True)],
    )
    putts = putts_of(shots)
    assert putts["feet"].round(6).tolist() == [20, 3, 9, 2, 30, 15, 6]
    assert putts["holed"].tolist() == [False, True, False, True, False, False, True]
    left = putts["leave_ft"].round(6).tolist()
    assert left[:1] + left[2:3] + left[5:6] == [3, 12, 3]
    assert np.isnan([left[1], left[3], left[4], left[6]]).all()


def test_putts_of_one_club_alone():
    shots = valued([putt(20, club="old"), putt(3, club="new", holed=True)], [putt(9, club="new", holed=True)])
    assert putts_of(shots, "new")["feet"].round(6).tolist() == [3, 9]
    assert len(putts_of(shots, "never")) == 0


def test_first_putts_and_three_putts_by_hand():
    """18 finished holes: two of three putts, one of one, one picked up that does not count."""
    two = [shot("fairway", 100), putt(24), putt(2, holed=True)]
    three = [shot("fairway", 100), putt(50), putt(6), putt(2, holed=True)]
    one = [shot("fairway", 100), putt(5, holed=True)]
    picked = [shot("fairway", 100), putt(50), putt(6), putt(2)]
    report = putting_report(valued(*[two] * 15, *[three] * 2, one, picked))
    found = report["three_putts"]
    assert (found["holes"], found["three_putts"], found["share"]) == (18, 2, 2 / 18)
    # Wilson (1927) at 90 %: z^2 = 2.7055, centre (0.1111 + 0.0752) / 1.1503 = 0.1619, half width 0.1245
    assert (found["low"], found["high"]) == pytest.approx((0.1619 - 0.1245, 0.1619 + 0.1245), abs=0.0002)
    mix = {row["band"]: row["putts"] for row in report["first_putts"]["bands"]}
    assert mix == {"over 3 to 6 ft": 1, "over 20 to 30 ft": 15, "over 40 to 60 ft": 3}
    assert report["first_putts"]["holes"] == 19
    assert sum(row["share"] for row in report["first_putts"]["bands"]) == pytest.approx(1)


def test_what_misses_leave_by_hand():
    holes = [[putt(30), putt(left), putt(1, holed=True)] for left in (1, 2, 3, 4, 9)]
    speed = putting_report(valued(*holes))["speed"]
    assert speed["far"] == {"misses": 5, "median_ft": pytest.approx(3), "close": 0.6}
    long = [[putt(30, long_yd=value), putt(2, holed=True)] for value in (-1.0, 0.5, -0.3, np.nan)]
    speed = putting_report(valued(*long))["speed"]
    assert (speed["told"], speed["short"]) == (3, 2)
    assert speed["far"]["median_ft"] is None


def test_strokes_gained_by_length_sum_to_the_total():
    shots = attribute(fair_rounds(3, 10, TOUR), TOUR)
    report = putting_report(shots)
    putts = shots[shots["lie"].eq("green")]
    gained = report["gained"]
    assert gained["total"]["strokes_gained"] == pytest.approx(putts["strokes_gained"].sum(), abs=1e-9)
    assert sum(row["strokes_gained"] for row in gained["rows"]) == pytest.approx(gained["total"]["strokes_gained"])
    lengths = [int(row["distance"].split()[1]) for row in gained["rows"]]
    assert lengths == sorted(lengths)
    assert report["putts"] == len(putts)
    assert [row["feet"] for row in report["curve"]] == list(CURVE_FT)


def test_sixty_putts_give_a_sane_curve():
    """Falling with length, between 0 and 1, within 0.15 of the truth from 3 ft on."""
    draw = np.random.default_rng(9)
    lengths = draw.choice([2, 3, 4, 6, 8, 10, 15, 20, 30], 60)
    fell = draw.random(60) < make_rate(lengths, 0.021, 0.088)
    holes = [
        [putt(float(length), holed=True)]
        if fall
        else [putt(float(length)), shot("fringe", 1, club="wedge", holed=True)]
        for length, fall in zip(lengths, fell, strict=True)
    ]
    report = putting_report(valued(*holes))
    assert report["putts"] == 60
    rates = np.array([row["rate"] for row in report["curve"]])
    truth = make_rate(CURVE_FT, 0.021, 0.088) * (1 - CARELESS)
    assert np.all(np.diff(rates) < 0)
    assert np.abs(rates - truth).max() < 0.15
    assert 5 < report["half_low_ft"] < report["half_ft"] < report["half_high_ft"] < 11
    assert report["tour_half_ft"] == pytest.approx(8.0, abs=0.1)


def test_the_interval_of_the_half_length_is_that_of_the_curves_themselves():
    """Each curve of the posterior has a length from which half fall: its quantiles, by hand, are the ends."""
    draw = np.random.default_rng(10)
    lengths = draw.choice([3, 5, 7, 9, 12, 20], 80)
    fell = draw.random(80) < make_rate(lengths, *TOUR_RATES)
    holes = [
        [putt(float(length), holed=True)] if made else [putt(float(length)), putt(2, holed=True)]
        for length, made in zip(lengths, fell, strict=True)
    ]
    report = putting_report(valued(*holes), level=0.9)
    curve = curve_of(putts_of(valued(*holes)))
    fine = np.linspace(2, 20, 1801)
    straight, right = straight_start(fine, curve.log_angle)[0], right_roll(fine, curve.log_distance)[0]
    rates = (1 - curve.careless) * straight[:, None, :] * right[None, :, :]
    halves = fine[(rates >= 0.5).sum(axis=2) - 1]
    order = np.argsort(halves, axis=None)
    below = np.cumsum(curve.weight.ravel()[order])
    low, high = halves.ravel()[order][np.searchsorted(below, [0.05, 0.95])]
    assert report["half_low_ft"] == pytest.approx(low, rel=0.01)
    assert report["half_high_ft"] == pytest.approx(high, rel=0.01)


def test_lengths_without_putts_are_marked_as_leaning_on_the_tour():
    report = putting_report(valued(*[[putt(8, holed=True)]] * 15, *[[putt(8), putt(1, holed=True)]] * 15))
    leans = {row["feet"]: row["leans_on_tour"] for row in report["curve"]}
    assert not any(leans[length] for length in (7, 8, 9, 10))
    assert all(leans[length] for length in (3, 4, 20, 40))
    low, high = ({row["feet"]: row[end] for row in report["curve"]} for end in ("low", "high"))
    assert low[8] < 0.5 < high[8]
    assert high[30] - low[30] < 0.5


@pytest.mark.parametrize(
    ("holes", "words"),
    [
        ([[shot("fairway", 100, holed=True)]], "No putt with a known outcome in these rounds"),
        ([[putt(8, holed=True)]], "One putt in these rounds"),
        ([[putt(8, holed=True)]] * (LEAST_PUTTS - 1), "19 putts in these rounds"),
    ],
)
def test_too_few_putts_are_a_sentence(holes: Any, words: str):
    report = putting_report(valued(*holes))
    assert report["curve"] == []
    assert report["half_ft"] is report["half_low_ft"] is report["half_high_ft"] is None
    assert report["lacking"].startswith(words)
    assert str(LEAST_PUTTS) in report["lacking"]


@pytest.mark.parametrize(
    ("count", "words"),
    [(0, "No practice putt with a known outcome"), (1, "One practice putt"), (19, "19 practice putts")],
)
def test_too_few_practice_putts_are_called_so(count: int, words: str):
    putts = putts_of(valued(*[[putt(8, holed=True)]] * 19)).head(count)
    report = putting_report(valued([putt(8)]).iloc[:0], practised=putts, practice_alone=True)
    assert report["lacking"] == f"{words} in these sessions: too few for a curve, {LEAST_PUTTS} at least are needed."


@pytest.mark.parametrize("length", [1, 8, 60])
@pytest.mark.parametrize("holed", [True, False])
def test_all_holed_or_all_missed_from_one_length(length: float, holed: bool):
    hole = [putt(length, holed=True)] if holed else [putt(length), shot("fringe", 1, club="wedge", holed=True)]
    report = putting_report(valued(*[hole] * 30))
    numbers = [row[name] for row in report["curve"] for name in ("rate", "low", "high")]
    assert np.isfinite(numbers).all()
    assert all(0 <= row["low"] <= row["rate"] <= row["high"] < 1 for row in report["curve"])
    at_length = next(row for row in report["curve"] if row["feet"] >= length)
    assert at_length["high"] - at_length["low"] > 0.002
    assert report["bands"][0]["low"] < 1
    assert report["bands"][0]["high"] > 0


def test_an_empty_season_is_a_sentence():
    report = putting_report(valued([putt(8, holed=True)]).head(0))
    assert report["putts"] == report["three_putts"]["holes"] == 0
    assert report["bands"] == report["first_putts"]["bands"] == []
    assert "No hole" in report["three_putts"]["lacking"]


def test_a_level_outside_its_range_is_refused():
    with pytest.raises(ValueError, match="level"):
        putting_report(valued([putt(8, holed=True)]), level=1.5)
