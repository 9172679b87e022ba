"""The planted truth is in the swings: what `truth.toml` says, its closed forms, and what large samples show.

Tolerances are five standard errors, each derived where it is used; the seeds are fixed.
"""

import math
import tomllib
from datetime import date

import numpy as np
import pytest

from demo_rounds.skills import TRUTH, load_truth
from demo_rounds.swings import hit, make_rate, putt, widest_angle

N = 200_000
ERRORS = 5
SPRING, SUMMER = date(2026, 5, 1), date(2026, 8, 1)
PLAYER = load_truth()
FACTS = tomllib.loads(TRUTH.read_text(encoding="utf-8"))
LABELS = sorted(PLAYER.clubs)


def sample(label, lie="tee", day=SPRING, seed=7):
    target, swing = PLAYER.full_swing(label, lie, day)
    return target, swing, hit(swing, target, np.random.RandomState(seed), N)


def mean_error(values):
    """Standard error of a mean: s / sqrt(n)."""
    return values.std() / math.sqrt(values.size)


def spread_error(values):
    """Standard error of a standard deviation: sqrt((m4 - s^4) / n) / (2 s), m4 the fourth central moment (delta)."""
    centred = values - values.mean()
    variance = centred.var()
    return math.sqrt((np.mean(centred**4) - variance**2) / values.size) / (2 * math.sqrt(variance))


def written(label):
    return next(entry for entry in FACTS["club"] if entry["label"] == label)


@pytest.mark.parametrize("lie", ["tee", "rough", "sand"])
@pytest.mark.parametrize("label", LABELS)
def test_spread_of_large_samples_is_the_written_truth(label, lie):
    target, swing, finishes = sample(label, lie)
    moments = swing.moments(target)
    for values, mean, sd in (
        (finishes.long_yd, moments.long_mean, moments.long_sd),
        (finishes.right_yd, moments.right_mean, moments.right_sd),
    ):
        assert values.mean() == pytest.approx(mean, abs=ERRORS * mean_error(values))
        assert values.std() == pytest.approx(sd, abs=ERRORS * spread_error(values))


@pytest.mark.parametrize("label", LABELS)
def test_clean_hits_have_the_written_distance_and_spread(label):
    """Straight from the file, without the code's closed forms; a median's standard error is 1.2533 s / sqrt(n)."""
    truth = written(label)
    target, _, finishes = sample(label)
    clean = ~finishes.mishit
    distance = target + finishes.long_yd[clean]
    sd = truth["distance_yd"] * truth["depth_pct"] / 100
    count = int(clean.sum())
    assert np.median(distance) == pytest.approx(truth["distance_yd"], abs=ERRORS * 1.2533 * sd / math.sqrt(count))
    assert distance.std() == pytest.approx(sd, abs=ERRORS * sd / math.sqrt(2 * count))
    shaped = clean & (finishes.shape == truth["shape"])
    side = truth["distance_yd"] * math.tan(math.radians(truth["side_deg"]))
    count = int(shaped.sum())
    assert finishes.right_yd[shaped].std() == pytest.approx(side, abs=ERRORS * side / math.sqrt(2 * count))
    assert finishes.right_yd[shaped].mean() == pytest.approx(0, abs=ERRORS * side / math.sqrt(count))


@pytest.mark.parametrize("label", LABELS)
def test_mishits_come_as_often_and_as_short_as_written(label):
    truth = written(label)
    target, _, finishes = sample(label)
    share = truth["mishit_share"]
    assert finishes.mishit.mean() == pytest.approx(share, abs=ERRORS * math.sqrt(share * (1 - share) / N))
    short = -finishes.long_yd[finishes.mishit]
    middle = target * sum(truth["mishit_short_pct"]) / 200
    assert short.mean() == pytest.approx(middle, abs=ERRORS * mean_error(short))
    low, high = truth["mishit_short_pct"]
    sd = target / 100 * math.sqrt(truth["depth_pct"] ** 2 + (high - low) ** 2 / 12)
    assert short.std() == pytest.approx(sd, abs=ERRORS * spread_error(short))


@pytest.mark.parametrize("label", LABELS)
def test_the_planned_shape_comes_as_often_as_written_and_misses_finish_outside_its_curve(label):
    truth = written(label)
    _, _, finishes = sample(label)
    share = truth["shape_share"]
    came = finishes.shape == truth["shape"]
    assert came.mean() == pytest.approx(share, abs=ERRORS * math.sqrt(share * (1 - share) / N))
    outside = {"draw": (1, "straight"), "fade": (-1, "straight"), "straight": (1, "fade")}[truth["shape"]]
    missed = finishes.right_yd[finishes.shape == outside[1]]
    assert missed.mean() == pytest.approx(outside[0] * truth["curve_yd"], abs=ERRORS * mean_error(missed))


@pytest.mark.parametrize("label", LABELS)
def test_median_of_all_balls_agrees_with_the_sample(label):
    """Standard error of a median: 1 / (2 f sqrt(n)); the density f is at least that of the clean hits alone."""
    target, swing, finishes = sample(label)
    distance = target + finishes.long_yd
    median = swing.median_distance(target)
    z = (median - target) / swing.depth_sd(target)
    density = (1 - swing.mishit_share) * math.exp(-z * z / 2) / math.sqrt(2 * math.pi) / swing.depth_sd(target)
    assert np.median(distance) == pytest.approx(median, abs=ERRORS / (2 * density * math.sqrt(N)))
    assert target * 0.98 < median < target


def test_the_better_iron_is_tighter_in_truth_and_in_samples():
    better, rival = PLAYER.trial
    assert {better, rival} == {"4 iron A", "4 iron B"}
    for lie in ("tee", "fairway", "rough"):
        target_b, swing_b, finishes_b = sample(better, lie)
        target_r, swing_r, finishes_r = sample(rival, lie, seed=8)
        ours, theirs = swing_b.moments(target_b), swing_r.moments(target_r)
        assert ours.long_sd < 0.75 * theirs.long_sd
        assert ours.right_sd < 0.8 * theirs.right_sd
        assert finishes_b.long_yd.std() < finishes_r.long_yd.std()
        assert finishes_b.right_yd.std() < finishes_r.right_yd.std()
        assert finishes_b.mishit.mean() < finishes_r.mishit.mean()


def test_the_season_shows_the_better_iron_from_like_lies(season):
    """At least 60 full swings each, by turns or from one spot, many from the same lies."""
    full = season[(season.swing == "full") & season.right_yd.notna()]
    by_club = full[full.club.isin(PLAYER.trial)].groupby("club")
    counts, spread = by_club.size(), by_club[["long_yd", "right_yd"]].std()
    better, rival = PLAYER.trial
    assert counts.min() >= 60
    assert (spread.loc[better] < spread.loc[rival]).all()
    lies = full[full.club.isin(PLAYER.trial)].groupby(["club", "lie"]).size().unstack(fill_value=0)
    for lie in ("tee", "fairway"):
        assert lies[lie].min() >= 20


def test_the_setup_change_truly_narrowed_the_driver():
    change = FACTS["setup_change"][0]
    assert change["club"] == "driver"
    before, after = (sample("driver", day=day)[2].right_yd for day in (SPRING, SUMMER))
    target, swing, _ = sample("driver", day=SUMMER)
    assert swing.side == pytest.approx(math.tan(math.radians(change["side_deg"])))
    assert after.std() == pytest.approx(swing.moments(target).right_sd, abs=ERRORS * spread_error(after))
    assert after.std() < 0.8 * before.std()


def test_the_setup_change_starts_on_its_day():
    since = FACTS["setup_change"][0]["since"]
    day_before = date.fromordinal(since.toordinal() - 1)
    assert PLAYER.club("driver", day_before) == PLAYER.clubs["driver"]
    assert PLAYER.club("driver", since) != PLAYER.clubs["driver"]
    assert PLAYER.club("3 wood", since) == PLAYER.clubs["3 wood"]


def test_part_swings_fly_farther_than_intended_by_the_written_bias():
    swing = PLAYER.part_swing("7 iron", "fairway", 155.0, SPRING)
    finishes = hit(swing, 155.0, np.random.RandomState(9), N)
    clean = finishes.long_yd[~finishes.mishit]
    bias = 155.0 * FACTS["part_swing"]["long_bias_pct"] / 100
    assert clean.mean() == pytest.approx(bias, abs=ERRORS * mean_error(clean))


def test_a_left_hander_misses_the_other_way(tmp_path):
    mirrored = tmp_path / "truth.toml"
    mirrored.write_text(
        TRUTH.read_text(encoding="utf-8").replace('plays = "right"', 'plays = "left"'), encoding="utf-8"
    )
    target, swing = load_truth(mirrored).full_swing("3 wood", "tee", SPRING)
    ours = PLAYER.full_swing("3 wood", "tee", SPRING)[1].moments(target)
    assert swing.moments(target).right_mean == pytest.approx(-ours.right_mean)
    assert swing.moments(target).right_sd == pytest.approx(ours.right_sd)


@pytest.mark.parametrize("feet", [1, 2, 3, 5, 8, 12, 20, 35, 60])
def test_putts_fall_at_the_closed_form_of_the_model(feet):
    """Gelman and Nolan (2002), Gelman (2019). Standard error sqrt(p (1 - p) / n), with p at least 1e-3 in it."""
    rate = make_rate(PLAYER.putting, feet)
    holed = putt(PLAYER.putting, feet, np.random.RandomState(11), N).holed.mean()
    spread = max(rate * (1 - rate), 1e-3)
    assert holed == pytest.approx(rate, abs=ERRORS * math.sqrt(spread / N))


def test_the_closed_form_reproduces_the_published_fit():
    """The tour fit of Gelman (2019), sigma_angle 0.0178 and sigma_distance 0.0801, against the tour's 50 % from 8 ft
    (Broadie, Every Shot Counts, 2014). Tolerance: half the printed percent, and half a percent for the fit."""
    tour = type(PLAYER.putting)(0.0178021, 0.0800665, 1.0, 3.0)
    assert make_rate(tour, 8) == pytest.approx(0.50, abs=0.01)
    hole, ball = 4.25 / 2 / 12, 1.68 / 2 / 12
    assert widest_angle(10) == pytest.approx(math.asin((hole - ball) / 10), abs=1e-15)


def test_a_missed_putt_stops_where_angle_and_roll_say():
    putts = putt(PLAYER.putting, 20, np.random.RandomState(12), N)
    missed = ~putts.holed
    roll = np.hypot(20 + putts.past_ft, putts.right_ft)
    assert roll.mean() == pytest.approx(21, abs=ERRORS * mean_error(roll))
    assert roll.std() == pytest.approx(21 * FACTS["putting"]["distance_sd"], abs=ERRORS * spread_error(roll))
    angle = np.arctan2(putts.right_ft, 20 + putts.past_ft)
    sd = FACTS["putting"]["angle_sd_rad"]
    assert angle.std() == pytest.approx(sd, abs=ERRORS * sd / math.sqrt(2 * N))
    angle = np.abs(angle)
    inside = (angle < widest_angle(20)) & (roll > 20) & (roll < 23)
    assert not (inside & missed).any()
