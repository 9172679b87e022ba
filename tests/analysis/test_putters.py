"""Two putters: equal ones are seldom called different, a better one is found, too little is said plainly."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from server.analysis.putting.make_rates import CARELESS, TOUR, Prior, make_rate, posterior
from server.analysis.putting.putters import PUTTER_SD, compare_putters, difference
from tests.analysis.test_make_rate_curve import DEMO, LENGTHS, MIX
from tests.tiers import count

GOLFER_90 = (0.0225, 0.184)
SEASONS = count(80, 400)


def putts(draw: np.random.Generator, count: int, sigma: tuple[float, float]) -> pd.DataFrame:
    feet = draw.choice(LENGTHS, count, p=MIX)
    return pd.DataFrame({"feet": feet, "holed": draw.random(count) < make_rate(feet, *sigma) * (1 - CARELESS)})


@pytest.mark.simulation
@pytest.mark.parametrize(
    ("counts", "sigma"), [((300, 300), TOUR), ((60, 300), DEMO), ((1000, 60), GOLFER_90), ((60, 60), GOLFER_90)]
)
def test_two_equal_putters_are_called_better_in_at_most_5_percent_each_way(
    counts: tuple[int, int], sigma: tuple[float, float]
):
    """400 seasons each; also for a player far from the tour, and where one putter was hardly used.

    Same steps as `compare_putters`, without its words. Tolerance: 5 % and 1.65 standard errors of a share of 400.
    """
    draw = np.random.default_rng(counts[0] + counts[1])
    rate = make_rate(LENGTHS, *sigma) * (1 - CARELESS)
    called = [0, 0]
    for _ in range(SEASONS // 50):
        tried = np.stack([draw.multinomial(count, MIX, size=50) for count in counts], axis=1)
        made = draw.binomial(tried, rate)
        centres = posterior(LENGTHS, tried.sum(axis=1), made.sum(axis=1)).log_mean()
        for each in range(50):
            curves = posterior(LENGTHS, tried[each], made[each], Prior(centres[each], np.array(PUTTER_SD)))
            _, low, high, _ = difference(curves, LENGTHS, tried[each].sum(axis=0) / tried[each].sum(), 0.9)
            called[0] += low > 0
            called[1] += high < 0
    assert max(called) / SEASONS <= 0.05 + 1.65 * np.sqrt(0.05 * 0.95 / SEASONS), called


@pytest.mark.simulation
def test_a_better_putter_is_found():
    """0.018 against 0.026 with 600 putts each: about 7 of 100 over the mix."""
    draw = np.random.default_rng(5)
    found = [
        compare_putters(putts(draw, 600, (0.018, 0.08)), putts(draw, 600, (0.026, 0.11)), ("A", "B")) for _ in range(20)
    ]
    better = [one for one in found if one["low"] > 0]
    assert len(better) >= 18
    truth = (make_rate(LENGTHS, 0.018, 0.08) - make_rate(LENGTHS, 0.026, 0.11)) @ MIX
    assert 0.5 * truth < np.mean([one["difference"] for one in found]) < 1.05 * truth
    assert all(one["words"].startswith("Make-rate: A holed ") for one in better)


def test_the_other_way_round_is_the_same_with_the_sign_turned():
    draw = np.random.default_rng(6)
    one, two = putts(draw, 200, (0.018, 0.08)), putts(draw, 150, (0.024, 0.1))
    ab, ba = compare_putters(one, two, ("A", "B")), compare_putters(two, one, ("B", "A"))
    assert ab["difference"] == pytest.approx(-ba["difference"], abs=1e-9)
    assert (ab["low"], ab["high"]) == pytest.approx((-ba["high"], -ba["low"]), abs=1e-6)
    assert ab["chance_a_better"] == pytest.approx(1 - ba["chance_a_better"], abs=1e-3)
    assert ab["low"] < ab["difference"] < ab["high"]


def test_more_putts_are_asked_for_while_it_is_not_clear():
    draw = np.random.default_rng(8)
    found = compare_putters(putts(draw, 80, (0.02, 0.09)), putts(draw, 80, (0.02, 0.09)), ("A", "B"))
    assert found["low"] < 0 < found["high"]
    assert "putts with each would settle 3 of 100" in found["words"]
    assert 200 < found["putts_needed"] < 5000


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((0, 100), "no putt with A"),
        ((1, 100), "one putt with A"),
        ((100, 19), "19 putts with B"),
        ((0, 0), "no putt with B"),
    ],
)
def test_too_few_putts_are_a_sentence(counts: tuple[int, int], words: str):
    draw = np.random.default_rng(1)
    found = compare_putters(*(putts(draw, count, (0.02, 0.09)) for count in counts), ("A", "B"))
    assert found["difference"] is None
    assert found["words"].startswith("Make-rate: ")
    assert words in found["words"]


def test_all_holed_from_one_length():
    same = pd.DataFrame({"feet": [2.0] * 40, "holed": [True] * 40})
    found = compare_putters(same, same, ("A", "B"))
    assert found["difference"] == pytest.approx(0, abs=1e-9)
    assert found["chance_a_better"] == pytest.approx(0.5, abs=0.01)
    assert found["low"] < 0 < found["high"]
