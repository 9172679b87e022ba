"""Landings: evenly spread, true to the pattern; under drawn patterns they have the drawn centre, spread and mishits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.analysis.plan.landings import LANDINGS, PRIOR_SHOTS, Landings, of_pattern, own_landings, stated, usual_at
from server.analysis.plan.posterior import Prior
from server.analysis.plan.priors import Skill, prior_of

PRIOR = prior_of(Skill())


def shots(n: int, seed: int = 0) -> np.ndarray:
    right, along = stated(Skill(), 250.0, 4096, seed=9)
    pick = np.random.default_rng(seed).choice(4096, n, replace=False)
    return np.column_stack([right, along])[pick]


def usual(n: int, seed: int = 0) -> np.ndarray:
    """Shots without mishits."""
    return np.random.default_rng(seed).normal([0.0, 250.0], [20.0, 11.0], (n, 2))


def without_mishits() -> Prior:
    return replace(PRIOR, mishits=(1e-6, 1e6))


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


def test_usual_shots_are_scaled_to_one_standard_deviation() -> None:
    """Of Student's t with 8 degrees of freedom the variance is 8 / 6."""
    z = usual_at((np.arange(20_000) + 0.5) / 20_000)
    assert z.std() == pytest.approx(1.0, abs=0.005)
    assert np.mean(np.abs(z) > 3) > 2 * 0.0027


@pytest.mark.parametrize("n", [5, 15, 60, 400])
def test_own_shots_weigh_as_stated(n: int) -> None:
    made = own_landings(usual(n), without_mishits())
    assert made.own_share == pytest.approx(n / (n + PRIOR_SHOTS), abs=0.02)
    assert made.own_shots == n
    assert made.share.sum() == pytest.approx(1.0)
    assert made.share.min() >= 0
    assert 0.8 * LANDINGS <= made.share.size <= 1.2 * LANDINGS


@pytest.mark.parametrize("n", [30, 200])
def test_landings_keep_centre_and_spread_of_many_shots(n: int) -> None:
    own = usual(n)
    made = own_landings(own, without_mishits())
    right, along = made.share @ made.right, made.share @ made.along
    assert (right, along) == (
        pytest.approx(own[:, 0].mean() * n / (n + PRIOR.side.shots), abs=0.5),
        pytest.approx(own[:, 1].mean(), abs=0.5),
    )
    for place, belief in enumerate((PRIOR.side, PRIOR.depth)):
        shares, middle = own[:, place] / 250, own[:, place].mean() / 250
        squares = ((shares - middle) ** 2).sum()
        _, _, freedom, variance = belief.updated(np.array([float(n)]), np.array([middle]), np.array([squares]))
        expected = 250 * np.sqrt(variance[0] * freedom[0] / (freedom[0] - 2))
        x, mean = (made.right, right) if place == 0 else (made.along, along)
        assert np.sqrt(made.share @ (x - mean) ** 2) == pytest.approx(expected, rel=0.08)


def test_a_mishit_stays_where_it_was() -> None:
    made = own_landings(np.vstack([shots(40), [60.0, 120.0]]), PRIOR)
    near = (np.abs(made.right - 60) < 20) & (np.abs(made.along - 120) < 15)
    assert made.share[near].sum() == pytest.approx(1 / 42, rel=0.6)
    assert (made.share @ np.where(near, made.right, 0)) / made.share[near].sum() == pytest.approx(60, abs=5)


def test_few_shots_lean_on_the_prior_and_many_do_not() -> None:
    """Own shots all 20 yd right of the prior, whose centre is worth (4.5 / 1.5 degrees)^2 = 9 shots: the mean moves
    n / (n + 9) of the way."""
    assert PRIOR.side.shots == pytest.approx(9.0, rel=0.01)
    for n in (5, 45, 400):
        own = usual(n) - usual(n).mean(axis=0) + [20.0, 250.0]
        made = own_landings(own, without_mishits())
        assert made.share @ made.right == pytest.approx(20 * n / (n + 9), abs=1.2)


@pytest.mark.parametrize("n", [8, 30, 150])
def test_under_drawn_patterns_the_landings_have_their_moments(n: int) -> None:
    """No landing moves: the weights alone bring centre, spread and share of mishits. What is left off is a tenth of
    what the draws differ by, and a fifth for the spread."""
    made = own_landings(shots(n, 3), PRIOR)
    pattern = made.pattern
    assert pattern is not None
    drawn = made.drawn
    assert drawn.sum(axis=1) == pytest.approx(np.ones(len(drawn)), abs=1e-4)
    fair = pattern.sizes[0] + pattern.sizes[1]
    assert drawn[:, :fair].sum(axis=1) == pytest.approx(1 - pattern.mishits, abs=1e-4)
    weights = drawn[:, :fair] / drawn[:, :fair].sum(axis=1, keepdims=True)
    centre = weights @ pattern.z[:fair]
    spread = np.sqrt(weights @ pattern.z[:fair] ** 2 - centre**2)
    for place in (0, 1):
        slope, _ = np.polyfit(pattern.centre[:, place], centre[:, place], 1)
        assert slope == pytest.approx(1.0, abs=0.1)
        slope, _ = np.polyfit(pattern.spread[:, place], spread[:, place], 1)
        assert slope == pytest.approx(1.0, abs=0.2)
    assert drawn.mean(axis=0) == pytest.approx(made.share, abs=1e-6)


def test_weights_rest_on_hundreds_of_landings() -> None:
    """1 / sum of squared weights, of 2,000: the median draw of a club with 8 shots, and with 150."""
    for n in (8, 150):
        effective = 1 / (own_landings(shots(n), PRIOR).drawn ** 2).sum(axis=1)
        assert np.median(effective) > 500


def test_a_known_pattern_has_one_draw_and_the_same_shots_the_same_draws() -> None:
    known = of_pattern(np.zeros(4), np.full(4, 150.0))
    assert known.drawn.tolist() == [[0.25] * 4]
    one, other = (own_landings(shots(20), PRIOR) for _ in range(2))
    assert np.array_equal(one.drawn, other.drawn)
    assert not np.array_equal(one.drawn[0], own_landings(shots(20, 1), PRIOR).drawn[0][: one.share.size])


def test_two_shots_are_too_few_and_the_latest_500_count() -> None:
    with pytest.raises(ValueError, match="2 shots are too few to plan with; at least 5 are needed"):
        own_landings(shots(2), PRIOR)
    assert own_landings(shots(700), PRIOR).own_shots == 500


@pytest.mark.parametrize(
    "own",
    [
        np.tile([0.0, 150.0], (8, 1)),
        np.column_stack([np.zeros(6), [5.0, 150, 150, 150, 5, 150]]),
        np.column_stack([[-80.0, 80, -80, 80, 0], [150.0, 20, 300, 150, 10]]),
        np.array([[0.0, 20], [0, 25], [1, 30], [120, 200], [-130, 210], [140, 220]]),
    ],
    ids=["all on one spot", "tops", "anywhere", "short or aside, all of them"],
)
def test_odd_shots_give_finite_landings(own: np.ndarray) -> None:
    made: Landings = own_landings(own, PRIOR)
    assert np.isfinite(made.right).all()
    assert np.isfinite(made.along).all()
    assert np.isfinite(made.drawn).all()
    assert made.share.sum() == pytest.approx(1.0)
