"""How often a plan errs, by simulated clubs whose truth is known: `simulated_patterns` says from which population.

`tests/run --long` prints the rates by hole; DEVELOPERS.md has the table. By default few plans, all holes together:
bounds leave room for three Monte-Carlo errors. An interval of half the width would still fail.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.analysis.simulated_patterns import HOLES, Rates, rates
from tests.tiers import count, some

pytestmark = pytest.mark.simulation

HELD, CALLED, BIAS = 0.85, 0.06, 0.03


@pytest.fixture(scope="module", params=some([8, 20, 60, 150], 0, 3))
def found(request: pytest.FixtureRequest) -> list[Rates]:
    """Rates on every hole, of clubs with so many shots each."""
    made = [rates(name, request.param, count(8, 400), 11) for name in HOLES]
    for name, one in zip(HOLES, made, strict=True):
        print(f"{request.param} shots, {name}: {one}")
    return made


def room(share: float, plans: int) -> float:
    """Three Monte-Carlo errors."""
    return 3 * float(np.sqrt(share * (1 - share) / plans))


def test_the_interval_contains_the_true_strokes_of_what_is_advised(found: list[Rates]) -> None:
    plans = sum(one.plans for one in found)
    assert np.mean([one.held for one in found]) >= HELD - room(HELD, plans)


def test_of_two_equal_clubs_none_is_called_better_too_often(found: list[Rates]) -> None:
    plans = sum(one.plans for one in found)
    assert np.mean([one.called for one in found]) <= CALLED + room(CALLED, plans)


def test_the_value_of_the_best_option_is_not_flattered(found: list[Rates]) -> None:
    for one in found:
        assert abs(one.bias) < BIAS + 3 * one.bias_error


def test_more_shots_make_intervals_narrower() -> None:
    few, many = (rates("narrow", n, count(6, 40), 3).width for n in (8, 150))
    assert many < 0.6 * few
