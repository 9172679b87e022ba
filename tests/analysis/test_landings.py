"""Landings: evenly spread, true to the pattern, own shots and prior mixed as stated."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.plan.landings import LANDINGS, PRIOR_SHOTS, Skill, own_landings, stated


def weights(landings: object) -> np.ndarray:
    """The weight of each landing."""
    counts = np.bincount(landings.atom)  # type: ignore[attr-defined]
    weight = landings.weight  # type: ignore[attr-defined]
    return np.repeat(weight / weight.sum() / counts, counts)


def shots(n: int, seed: int = 0) -> np.ndarray:
    right, along = stated(Skill(), 250.0, 4096, seed=9)
    pick = np.random.default_rng(seed).choice(4096, n, replace=False)
    return np.column_stack([right, along])[pick]


def test_a_stated_pattern_has_its_moments() -> None:
    """Mean loss: 8 % of 15 % of 250 = 3 yd; side variance (1 - 0.08 + 0.08 * 1.6^2) (250 tan 4.5)^2. Even points are
    far closer than chance: 1 % of the spread."""
    right, along = stated(Skill(), 250.0)
    assert along.mean() == pytest.approx(247.0, abs=0.2)
    side = 250 * np.tan(np.radians(4.5)) * np.sqrt(0.92 + 0.08 * 1.6**2)
    assert right.mean() == pytest.approx(0, abs=0.2)
    assert right.std() == pytest.approx(side, rel=0.01)
    loss = 0.08 * (37.5**2 + 50**2 / 12) - 9
    assert along.std() == pytest.approx(np.sqrt((0.045 * 250) ** 2 + loss), rel=0.01)
    assert "8% mishits" in Skill().words


@pytest.mark.parametrize("n", [5, 15, 60, 400])
def test_own_shots_weigh_as_stated(n: int) -> None:
    made = own_landings(shots(n), stated(Skill(), 250.0))
    own = weights(made)[made.atom < n].sum()
    assert own == pytest.approx(n / (n + PRIOR_SHOTS))
    assert made.own_shots == n
    assert np.all(np.diff(made.atom) >= 0)
    assert 0.8 * LANDINGS <= made.atom.size <= 1.2 * LANDINGS
    assert np.bincount(made.atom).min() > 0


@pytest.mark.parametrize("n", [30, 200])
def test_smoothing_keeps_centre_and_spread_of_the_shots(n: int) -> None:
    own = shots(n)
    made = own_landings(own, stated(Skill(), 250.0), prior_shots=0.0)
    assert made.right.mean() == pytest.approx(own[:, 0].mean(), abs=0.5)
    assert made.along.mean() == pytest.approx(own[:, 1].mean(), abs=1.0)
    assert made.right.std() == pytest.approx(own[:, 0].std(), rel=0.06)
    assert made.along.std() == pytest.approx(own[:, 1].std(), rel=0.12)


def test_a_mishit_stays_where_it_was() -> None:
    own = np.vstack([shots(40), [60.0, 120.0]])
    made = own_landings(own, stated(Skill(), 250.0))
    last = made.atom == 40
    assert (made.right[last].mean(), made.along[last].mean()) == pytest.approx((60, 120), abs=3)


def test_few_shots_lean_on_the_prior_and_many_do_not() -> None:
    """Own shots all 20 yd right of the prior: the mean moves n / (n + 15) of the way."""
    prior = stated(Skill(), 250.0)
    for n in (5, 45, 400):
        own = shots(n) - shots(n).mean(axis=0) + [20.0, 247.0]
        made = own_landings(own, prior)
        moved = float(weights(made) @ made.right)
        assert moved == pytest.approx(20 * n / (n + PRIOR_SHOTS), abs=0.6)


def test_two_shots_are_too_few_and_the_latest_500_count() -> None:
    with pytest.raises(ValueError, match="2 shots are too few to plan with; 5 are the least"):
        own_landings(shots(2), stated(Skill(), 250.0))
    assert own_landings(shots(700), stated(Skill(), 250.0)).own_shots == 500
