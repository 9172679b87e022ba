"""The make-rate curve from guessed and rounded lengths: against an exact integral, and over simulated seasons."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from server.analysis.lengths.heaping import heaping
from server.analysis.putting.make_rates import CARELESS, TOUR_PRIOR, make_rate, posterior
from server.analysis.putting.player_curve import CURVE_FT, curve_with_errors, length_errors, make_rate_curve
from server.analysis.putting.true_lengths import (
    NODES,
    EnteredPutts,
    _entered_given_true,
    blurred_posterior,
    entered_putts,
    true_lengths,
)
from server.game.lengths_taken import GREEN_ERRORS, LENGTH_ERRORS, LENGTHS_TAKEN
from tests.tiers import LONG, count, some

LENGTHS = np.array([1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 20, 25, 30, 40, 50], dtype=np.float64)
MIX = np.array([22, 12, 9, 6, 5, 4, 5, 4, 4, 6, 5, 5, 5, 4, 3, 1]) / 100
"""A player's lengths, rounded from the demo season; true lengths lie 12 % about them."""
AT_FT = (5, 10, 20)


def season(draw: np.random.Generator, putts: int, truth: Any, error: float, heaped: float) -> pd.DataFrame:
    """Putts of a season as `putts_of` gives them: guessed with `error`, that share of them rounded to fives, the others
    to whole feet."""
    true = draw.choice(LENGTHS, size=putts, p=MIX) * np.exp(0.12 * draw.standard_normal(putts))
    holed = draw.random(putts) < (1 - CARELESS) * make_rate(true, *truth)
    guess = true * np.exp(error * draw.standard_normal(putts))
    fives = 5 * np.round(guess / 5)
    entered = np.where((draw.random(putts) < heaped) & (fives > 0), fives, np.maximum(np.round(guess), 1))
    return pd.DataFrame({"feet": entered, "holed": holed, "round_id": np.arange(putts) // 36, "lengths_taken": None})


def taken(putts: pd.DataFrame, word: str | None) -> pd.DataFrame:
    return putts.assign(lengths_taken=pd.Series([word] * len(putts), dtype="object", index=putts.index))


def held(seasons: int, putts: int, error: float, heaped: float, word: str | None) -> tuple[Any, Any]:
    """Shares of seasons, of players drawn from the prior, whose 90 % interval holds the true make-rate at `AT_FT`: by
    lengths as entered, and as the report does with that word of the rounds."""
    draw = np.random.default_rng(20_261_128 + putts)
    found = np.zeros((2, len(AT_FT)))
    for _ in range(seasons):
        truth = np.exp(TOUR_PRIOR.mean + TOUR_PRIOR.sd * draw.standard_normal(2))
        true = (1 - CARELESS) * make_rate(AT_FT, *truth)
        frame = taken(season(draw, putts, truth, error, heaped), word)
        strong = heaping(frame["feet"].to_numpy(), "ft")["strong"]
        for row, errors in enumerate((np.zeros(putts), length_errors(frame, strong))):
            low, _, high = curve_with_errors(frame, errors).interval(AT_FT)
            found[row] += (low <= true) & (true <= high)
    return tuple(found / seasons)


def test_the_chance_of_an_entry_is_an_exact_integral():
    """From 7 ft with 15 %: entered as 5, when rounded to fives, is the guess's density integrated from 2.5 to 7.5."""
    given = _entered_given_true(np.array([2.0, 5.0, 7.0, 20.0]), np.array([7.0, 15.5]), 0.15)

    def density(guess: float) -> float:
        return float(norm.pdf(math.log(guess / 7) / 0.15) / 0.15 / guess)

    assert given[1, 1, 0] == pytest.approx(quad(density, 2.5, 7.5)[0], abs=1e-10)
    assert given[0, 2, 0] == pytest.approx(quad(density, 6.5, 7.5)[0], abs=1e-10)
    assert given[1, 2, 0] == 0, "nobody who rounds to fives enters 7"
    ten = norm.cdf(math.log(25 / 15.5) / 0.15) - norm.cdf(math.log(15 / 15.5) / 0.15)
    assert given[2, 3, 1] == pytest.approx(ten, abs=1e-12)


@pytest.mark.parametrize("true", [1.2, 4.0, 9.0, 16.0, 33.0])
def test_every_putt_is_entered_somehow(true: float):
    """Over all that may be entered the chances of each rounding sum to 1."""
    given = _entered_given_true(np.arange(1.0, 151.0), np.array([true]), 0.15)
    # what is guessed under half a foot is entered as 1, which the model leaves out
    assert given[:, :, 0].sum(axis=1) == pytest.approx(np.ones(3), abs=2e-3)


def test_with_hardly_any_error_it_is_the_plain_posterior():
    """Errors of 1 %, whole feet from 3 ft on: rates within 0.004."""
    draw = np.random.default_rng(4)
    feet = draw.choice(np.arange(3.0, 31.0), 600)
    holed = (draw.random(600) < make_rate(feet, 0.021, 0.088)).astype(float)
    entered = entered_putts(feet, holed, 0.034)
    plain = posterior(entered.feet, entered.tried, entered.made)
    assert blurred_posterior([entered]).rates(CURVE_FT) == pytest.approx(plain.rates(CURVE_FT), abs=0.01)


def test_the_mix_of_true_lengths_is_found_again():
    """100,000 putts guessed with 15 %, four in five rounded to fives: the share of true lengths below 2.5, 4.5, 7.5 and
    15 ft within 0.015, the mean true length of a putt entered as 5 ft within 0.1 ft."""
    draw = np.random.default_rng(3)
    putts = 100_000
    true = draw.choice(LENGTHS, size=putts, p=MIX) * np.exp(0.12 * draw.standard_normal(putts))
    guess = true * np.exp(0.15 * draw.standard_normal(putts))
    fives = 5 * np.round(guess / 5)
    entered = np.where((draw.random(putts) < 0.8) & (fives > 0), fives, np.maximum(np.round(guess), 1))
    part = entered_putts(entered, np.zeros(putts), 0.15)
    nodes = np.geomspace(0.3, 200, NODES)
    mixes = true_lengths([part], nodes)
    assert mixes.sum(axis=1) == pytest.approx(np.ones(part.feet.size))
    together = np.cumsum(part.tried / putts @ mixes)
    for length in (2.5, 4.5, 7.5, 15):
        assert np.interp(length, nodes, together) == pytest.approx((true < length).mean(), abs=0.015)
    five = mixes[part.feet == 5][0]
    assert five @ nodes == pytest.approx(true[entered == 5].mean(), abs=0.1)


def test_lengths_as_entered_where_nothing_says_otherwise():
    """Not recorded and not heaped: the same posterior as before, to the last bit."""
    draw = np.random.default_rng(5)
    frame = taken(season(draw, 300, (0.021, 0.088), 0.0001, 0.0), None)
    strong = heaping(frame["feet"].to_numpy(), "ft")["strong"]
    errors = length_errors(frame, strong)
    assert not errors.any()
    feet, place = np.unique(frame["feet"], return_inverse=True)
    plain = posterior(feet, np.bincount(place), np.bincount(place, weights=frame["holed"]))
    assert np.array_equal(curve_with_errors(frame, errors).weight, plain.weight)


def test_which_error_each_putt_carries():
    frame = pd.DataFrame({"lengths_taken": pd.Series(["guessed", "laser", None], dtype="object")})
    assert length_errors(frame, False).tolist() == [0.15, 0.05, 0.05]
    assert length_errors(frame, True).tolist() == [0.15, 0.05, 0.15]
    assert length_errors(frame.iloc[2:], False).tolist() == [0]
    assert length_errors(frame.iloc[2:], True).tolist() == [0.15]
    assert length_errors(frame.head(0), True).size == 0


def test_every_way_has_its_errors():
    assert list(LENGTH_ERRORS) == list(GREEN_ERRORS) == list(LENGTHS_TAKEN)
    assert all(0.01 <= error <= GREEN_ERRORS[word] for word, error in LENGTH_ERRORS.items())


@pytest.mark.parametrize("word", [None, "guessed", "paced"])
def test_a_curve_says_what_errors_of_length_would_move(word: str | None):
    frame = taken(season(np.random.default_rng(6), 900, (0.021, 0.088), 0.05, 0.0), word)
    found = make_rate_curve(frame, heaping(frame["feet"].to_numpy(), "ft"), 0.9)
    lengths, half = found["lengths"], found["half_ft"]
    assert lengths["allowed_for"] == (None if word is None else GREEN_ERRORS[word])
    moved = lengths["sensitivity"]
    assert moved is not None
    assert half is not None
    too_long, too_short = moved["half_ft"]["too_long"], moved["half_ft"]["too_short"]
    assert too_long is not None
    assert too_short is not None
    # the curve keeps its form but for the prior: half of the putts fall from 1 / 1.1 and 1 / 0.9 of the length
    assert too_long == pytest.approx(half / 1.1, rel=0.02)
    assert too_short == pytest.approx(half / 0.9, rel=0.02)
    assert all(row["too_long"] < row["too_short"] for row in moved["curve"])
    assert len(lengths["words"]) == (1 if word is None else 2)


def test_too_few_putts_say_nothing_of_errors():
    frame = taken(season(np.random.default_rng(6), 19, (0.021, 0.088), 0.05, 0.0), "guessed")
    found = make_rate_curve(frame, heaping(frame["feet"].to_numpy(), "ft"), 0.9)
    assert (found["lengths"]["sensitivity"], found["lengths"]["words"]) == (None, [])
    none = make_rate_curve(frame.head(0), heaping(np.empty(0), "ft"), 0.9)
    assert (none["lengths"]["taken"], none["lengths"]["allowed_for"]) == ([], None)


@pytest.mark.parametrize("feet", [[5.0], [0.1, 150.0], [10.0] * 1000])
def test_any_putts_give_rates_that_fall_with_length(feet: list[float]):
    """One putt, the nearest and the farthest, all from one length."""
    for holed in (np.zeros(len(feet)), np.ones(len(feet))):
        rates = blurred_posterior([entered_putts(np.array(feet), holed, 0.15)]).rates(CURVE_FT)
        assert np.all(np.diff(rates) < 0)
        assert np.all((rates > 0) & (rates < 1))


@pytest.mark.parametrize("putts", [[], [EnteredPutts(np.array([5.0]), np.ones(1), np.ones(1), 0.0)]])
def test_no_putt_and_no_error_are_refused(putts: list[EnteredPutts]):
    with pytest.raises(ValueError, match="putts: at least one"):
        blurred_posterior(putts)


@pytest.mark.simulation
@pytest.mark.parametrize(
    ("putts", "heaped", "word"), some([(300, 1.0, "guessed"), (1000, 1.0, None), (1000, 0.8, "guessed")], 0)
)
def test_intervals_hold_the_truth_of_guessed_lengths_heaped_at_fives(putts: int, heaped: float, word: str | None):
    """90 % intervals, guessed with 15 %: 85 % at least, where lengths as entered hold fewer from 5 and 10 ft."""
    seasons = count(25, 1000)
    plain, found = held(seasons, putts, 0.15, heaped, word)
    print(f"{putts} putts, {heaped} heaped, {word}: as entered {plain.round(3)}, allowed for {found.round(3)}")
    slack = 3 * math.sqrt(0.85 * 0.15 / seasons)
    assert found.min() >= 0.85 - (slack if not LONG else 0.0)
    assert np.all(found[:2] > plain[:2])


@pytest.mark.simulation
@pytest.mark.parametrize(("error", "word"), some([(0.0001, None), (0.0001, "paced"), (0.05, "paced")], 0, 2))
def test_intervals_of_exact_and_paced_lengths_are_as_stated(error: float, word: str | None):
    """90 % intervals of whole feet, 300 putts: 87 to 93 %."""
    seasons = count(25, 1000)
    plain, found = held(seasons, 300, error, 0.0, word)
    print(f"error {error}, {word}: as entered {plain.round(3)}, allowed for {found.round(3)}")
    slack = 3 * math.sqrt(0.9 * 0.1 / seasons)
    assert np.all(np.abs(found - 0.9) <= max(0.03, slack))
