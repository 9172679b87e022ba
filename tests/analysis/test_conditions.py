"""Wind, temperature and firmness taken out: which are used, what they cost, and that a windy span is no worse play."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.evidence.adjusted_spans import TwoRates, adjusted_difference, costs_of, is_sure
from server.analysis.evidence.conditions import (
    CONDITIONS,
    LEAST_ROUNDS,
    PRIOR_SPREAD,
    Columns,
    condition_columns,
    condition_values,
    conditions_words,
)
from server.analysis.evidence.course_model import averaged
from server.analysis.evidence.level import Rates
from server.analysis.evidence.month_trend import stated_trend
from server.analysis.evidence.two_spans import compare
from tests.analysis.made_courses import rates, rounds_frame
from tests.tiers import count, some

COST = 1.4
"""Strokes a round that 10 mph of wind cost, in most cases below."""
COURSES = np.array([0.0, -1.0])
SPAN = [0, 1] * 10
CALM = (7.0, 4.0)
WINDY = (18.0, 5.0)


def blown(draw: np.random.Generator, wind: tuple[float, float], cost: float, recorded: float = 1.0) -> Rates:
    """20 rounds on two courses in such a wind, mean and spread; that share of them, windier ones first, recorded it."""
    made = rates(draw, SPAN, COURSES)
    mph = np.maximum(draw.normal(*wind, len(SPAN)), 0)
    values = np.full((mph.size, len(CONDITIONS)), np.nan)
    values[:, 0] = mph
    # a windy day is recorded sooner
    order = np.argsort(mph + draw.normal(0, 5, mph.size))
    values[order[: mph.size - round(recorded * mph.size)], 0] = np.nan
    return made._replace(strokes=made.strokes - cost * mph / 10, conditions=values)


def spans(
    seed: int, winds: tuple[tuple[float, float], tuple[float, float]], cost: float, recorded: float, seasons: int
) -> tuple[float, float, float]:
    """How often the first span is called better or worse with wind taken out and without, and how often the interval of
    90 % holds the truth, which is 0 of play."""
    draw = np.random.default_rng(seed)
    said = plainly = held = 0
    for _ in range(seasons):
        both = TwoRates(*(blown(draw, wind, cost, recorded) for wind in winds))
        found = adjusted_difference(both, 0.9)
        assert found["adjusted_low"] is not None
        assert found["adjusted_high"] is not None
        said += is_sure(found["chance_first_better"])
        held += found["adjusted_low"] <= 0 <= found["adjusted_high"]
        without = TwoRates(*(one._replace(conditions=None) for one in both))
        plainly += is_sure(adjusted_difference(without, 0.9)["chance_first_better"])
    return said / seasons, plainly / seasons, held / seasons


@pytest.mark.simulation
@pytest.mark.parametrize("recorded", some([1.0, 0.7], 1))
def test_a_windy_span_is_not_called_worse_play(recorded: float) -> None:
    """18 mph against 7: at most 7 % of pairs of spans, both ways together."""
    seasons = count(60, 2000)
    said, plainly, held = spans(5, (WINDY, CALM), COST, recorded, seasons)
    print(f"windy, {recorded} recorded: said {said:.4f}, without conditions {plainly:.4f}, held {held:.4f}")
    assert said <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / seasons)
    assert plainly > said


@pytest.mark.simulation
@pytest.mark.parametrize(
    ("winds", "recorded"), some([((CALM, CALM), 1.0), ((WINDY, CALM), 1.0), ((WINDY, CALM), 0.7)], 2)
)
def test_where_no_wind_matters_intervals_hold_as_stated(winds: Any, recorded: float) -> None:
    """90 % intervals: 87 to 93 %."""
    seasons = count(60, 2000)
    said, _, held = spans(6, winds, 0.0, recorded, seasons)
    print(f"no cost, {winds}, {recorded} recorded: held {held:.4f}, said {said:.4f}")
    slack = 3 * np.sqrt(0.1 * 0.9 / seasons)
    assert abs(held - 0.9) <= max(0.03, slack)
    assert said <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / seasons)


@pytest.mark.simulation
def test_worse_play_in_the_wind_is_still_seen() -> None:
    """Five strokes worse in a windy span: said in most pairs of spans."""
    draw, seasons = np.random.default_rng(7), count(60, 1000)
    seen = 0
    for _ in range(seasons):
        windy, calm = blown(draw, WINDY, COST), blown(draw, CALM, COST)
        found = adjusted_difference(TwoRates(windy._replace(strokes=windy.strokes - 5), calm), 0.9)
        seen += is_sure(found["chance_first_better"]) and (found["adjusted"] or 0) < 0
    print(f"five strokes worse: seen {seen / seasons:.4f}")
    assert seen / seasons > 0.7


@pytest.mark.simulation
def test_the_cost_of_wind_is_held() -> None:
    """90 % intervals of 10 mph, over players whose cost is drawn from the prior: 87 to 93 %."""
    draw, seasons = np.random.default_rng(8), count(60, 2000)
    held = 0
    for _ in range(seasons):
        cost = draw.normal(0, 3.0 * PRIOR_SPREAD)
        both = TwoRates(blown(draw, WINDY, cost), blown(draw, CALM, cost))
        (wind,) = costs_of(both, 0.9)
        held += wind["low"] <= cost <= wind["high"]
    print(f"cost of wind: held {held / seasons:.4f}")
    assert abs(held / seasons - 0.9) <= max(0.03, 3 * np.sqrt(0.09 / seasons))


@pytest.mark.simulation
def test_a_windy_autumn_is_no_falling_form() -> None:
    """Wind that rises from 5 to 20 mph over 40 weeks: a slope is said in at most 7 % of seasons."""
    draw, seasons = np.random.default_rng(9), count(60, 1000)
    said = plainly = 0
    for _ in range(seasons):
        made = rates(draw, [0, 1] * 20, COURSES)
        mph = np.maximum(np.linspace(5, 20, 40) + draw.normal(0, 4, 40), 0)
        values = np.column_stack([mph, np.full((40, 2), np.nan)])
        made = made._replace(strokes=made.strokes - COST * mph / 10, conditions=values)
        for known in (True, False):
            found = stated_trend(made if known else made._replace(conditions=None), 0)
            sure = is_sure(found["chance_better"])
            said, plainly = said + (sure and known), plainly + (sure and not known)
    print(f"windy autumn: said {said / seasons:.4f}, without conditions {plainly / seasons:.4f}")
    assert said / seasons <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / seasons)
    assert plainly > said


def test_with_a_prior_the_effect_is_ridge_regressions() -> None:
    """One course, rounds of 18 holes: b = (X'X + L)^-1 X'y for every spread of courses alike, freedom n - 1."""
    draw = np.random.default_rng(1)
    wind, y = draw.normal(0, 1, 30), draw.normal(0, 3, 30)
    same, days = np.zeros(30, dtype=np.intp), np.arange(30)
    found = averaged(y, np.ones((30, 1)), same, days, np.ones(30), held=wind[:, None], precision=np.array([4.0]))
    assert found is not None
    assert found.freedom == 29
    assert found.contrast([0.0, 1.0]).errors.max() < 3
    centred = wind - wind.mean()
    ridge = centred @ (y - y.mean()) / (centred @ centred + 4)
    # the widest spread of courses leaves the mean free
    assert found.fixed[-1, 1] == pytest.approx(ridge, abs=1e-3)


def test_without_columns_it_is_the_model_as_it_was() -> None:
    draw = np.random.default_rng(2)
    made = rates(draw, SPAN, COURSES)
    where = (np.ones((20, 1)), made.course, made.day, made.parts)
    taken = columns_of(None, np.zeros(20, dtype=np.intp))
    plain = averaged(made.strokes, *where)
    found = averaged(made.strokes, *where, held=taken.columns, precision=taken.precision)
    assert plain is not None
    assert found is not None
    assert np.array_equal(plain.fixed, found.fixed)
    assert plain.freedom == found.freedom


def test_a_condition_that_goes_with_the_span_widens_no_further_than_its_prior() -> None:
    """All of one span at 20 mph, all of the other at 5: the error grows by 1.5 steps of the prior, and an answer
    stays."""
    draw = np.random.default_rng(3)
    both = TwoRates(blown(draw, (20, 0.001), 0.0), blown(draw, (5, 0.001), 0.0))
    without = TwoRates(*(one._replace(conditions=None) for one in both))
    wide, narrow = (adjusted_difference(one, 0.9) for one in (both, without))
    reach = [(found["adjusted_high"] or 0) - (found["adjusted_low"] or 0) for found in (wide, narrow)]
    assert reach[0] > reach[1]
    assert reach[0] < 2 * 1.75 * np.sqrt((reach[1] / 3.3) ** 2 + (1.5 * PRIOR_SPREAD * 4.0) ** 2)


def columns_of(known: Any, group: np.ndarray) -> Columns:
    """The columns of a difference of such groups."""
    return condition_columns(known, np.column_stack([np.ones(group.size), group]), group)


def values(*wind: float) -> np.ndarray:
    return np.column_stack([wind, np.full((len(wind), 2), np.nan)])


def test_which_conditions_are_used() -> None:
    """Eight rounds with a value, half of each span, a spread of 2 mph."""
    two = np.repeat([0, 1], 8)
    every = np.tile([5.0, 15.0], 8)
    assert [one.name for one in columns_of(values(*every), two).used] == ["wind_mph"]
    assert columns_of(values(*np.tile([5.0, 6.0], 8)), two).used == (), "it hardly varies"
    half = np.where(np.arange(16) % 4 < 2, every, np.nan)
    assert columns_of(values(*half), two).known == (8,)
    first = np.where(np.arange(16) < 11, every, np.nan)
    assert columns_of(values(*first), two).used == (), "three of eight rounds of the second span"
    assert columns_of(values(*every[: LEAST_ROUNDS - 1]), np.zeros(7, dtype=np.intp)).used == ()
    assert columns_of(values(*np.full(16, np.nan)), two).used == ()
    assert columns_of(None, two).columns.shape == (16, 0)


def test_rounds_without_a_value_share_an_effect_of_their_own() -> None:
    wind = np.array([5.0, 15, 5, 15, 5, 15, 5, 15, np.nan, np.nan])
    taken = columns_of(values(*wind), np.zeros(10, dtype=np.intp))
    assert taken.columns[:, 0] == pytest.approx([-0.5, 0.5] * 4 + [0, 0])
    assert taken.columns[:, 1] == pytest.approx([-0.2] * 8 + [0.8] * 2)
    assert taken.precision.tolist() == pytest.approx([PRIOR_SPREAD**-2] * 2)


def test_a_round_without_a_value_takes_that_of_its_span() -> None:
    """Spans of 20 and 5 mph on the mean: 20 and 5 in the place of what lacks, each less the mean of all."""
    wind = np.array([18.0, 22, 18, 22, np.nan, 3, 7, 3, 7, np.nan])
    taken = columns_of(values(*wind), np.repeat([0, 1], 5))
    assert taken.columns[[4, 9], 0] == pytest.approx([0.75, -0.75])


def test_values_of_rounds() -> None:
    frame = pd.DataFrame(
        {"wind_mph": [12.0, np.nan], "temperature_c": [None, 20.0], "firmness": pd.Categorical(["firm", None])}
    )
    assert np.array_equal(condition_values(frame), [[12, np.nan, 1], [np.nan, 20, np.nan]], equal_nan=True)
    assert np.isnan(condition_values(frame[[]])).all()
    assert condition_values(frame.head(0)).shape == (0, 3)


def test_a_comparison_names_what_is_taken_out_and_what_it_costs() -> None:
    """Two strokes a round for 10 mph; the windy span's total is put right."""
    draw = np.random.default_rng(4)
    frames = []
    for name, (middle, spread) in (("new", WINDY), ("old", CALM)):
        mph = np.maximum(draw.normal(middle, spread, 20), 0)
        made = rounds_frame(list(draw.normal(0, 1, 20) - 0.2 * mph), ["North", "South"] * 10)
        by_round = dict(zip(dict.fromkeys(made["round_id"]), mph, strict=True))
        frames.append(made.assign(wind_mph=made["round_id"].map(by_round), round_id=name + made["round_id"]))
    found = compare(*frames, "club")
    (wind,) = found.conditions
    assert (wind["condition"], wind["step"], wind["rounds"]) == ("wind_mph", 10, 40)
    assert wind["low"] < 2 < wind["high"]
    assert wind["cost"] == pytest.approx(2, abs=0.7)
    assert found.courses.endswith(conditions_words(found.conditions))
    assert "10 mph of wind: 2" in conditions_words(found.conditions) or "10 mph of wind: 1" in found.courses
    total = found.total.difference
    assert total["per_round"] == pytest.approx(-2.2, abs=1)
    assert abs(total["adjusted"] or 0) < 1
    plain = compare(*(frame.drop(columns="wind_mph") for frame in frames), "club")
    assert (plain.conditions, conditions_words([])) == ([], "")
    assert plain.total.difference["adjusted"] < -1


def test_wind_makes_no_answer_where_there_was_none() -> None:
    """One course each: span and course are the same thing, whatever the wind."""
    frames = []
    for wind, name in ((0.0, "North"), (5.0, "South")):
        made = rounds_frame([0.0, 1, 2, 3, 4, 5, 6, 7], [name] * 8)
        frames.append(made.assign(wind_mph=wind, round_id=name + made["round_id"]))
    found = compare(*frames, "club")
    assert (found.total.difference["adjusted"], found.conditions) == (None, [])
