"""Confidence sequences: the mixture by numerical integration, the edge, and how often a look after every round errs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import nct, norm, t

from server.analysis.evidence.confidence_sequences import log_evidence, reach
from tests.tiers import count


@pytest.mark.parametrize("rounds", [3, 8, 30])
@pytest.mark.parametrize("value", [-4.0, 0.0, 0.7, 3.0])
@pytest.mark.parametrize("variance", [0.25, 1.0])
def test_the_evidence_is_the_mixed_likelihood_ratio(rounds: int, value: float, variance: float) -> None:
    """Noncentral t over true effects N(0, g), integrated by scipy, against central t."""

    def weighed(effect: float) -> float:
        chance = nct.pdf(value, rounds - 1, np.sqrt(rounds) * effect) * norm.pdf(effect, scale=np.sqrt(variance))
        return float(chance)

    mixed = quad(weighed, -12, 12, limit=200, points=[-1, 0, 1])[0]
    wanted = np.log(mixed / t.pdf(value, rounds - 1))
    assert log_evidence(value, rounds - 1, variance) == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize("freedom", [4, 10, 40, 400])
@pytest.mark.parametrize("alpha", [0.01, 0.05, 0.2])
def test_the_reach_is_where_the_evidence_meets_its_bound(freedom: float, alpha: float) -> None:
    edge = reach(freedom, alpha)
    if np.isfinite(edge):
        assert log_evidence(edge, freedom) == pytest.approx(np.log(1 / alpha), abs=1e-9)
    else:
        assert log_evidence(1e9, freedom) < np.log(1 / alpha)
    assert edge > t.ppf(1 - alpha / 2, freedom), "looking at every round costs something"


def test_a_few_rounds_exclude_nothing() -> None:
    assert [np.isfinite(reach(freedom, 0.05)) for freedom in (0, 1, 2, 3, 4)] == [False, False, False, False, True]


@pytest.mark.simulation
def test_looks_after_every_round() -> None:
    """Normal rounds without a difference, a look after each of 40: at most 5 % ever leave zero by the sequence, far
    more by the interval of one look."""
    draw = np.random.default_rng(40)
    seasons = count(2000, 20000)
    rounds = np.arange(1, 41)
    values = draw.normal(0, 1, (seasons, 40))
    mean = values.cumsum(axis=1) / rounds
    spread = np.sqrt(
        np.maximum((values**2).cumsum(axis=1) / rounds - mean**2, 1e-12) * rounds / np.maximum(rounds - 1, 1)
    )
    size = np.abs(mean) / (spread / np.sqrt(rounds))
    edges = np.array([reach(number - 1, 0.05) for number in rounds])
    wrong = float((size > edges)[:, 1:].any(axis=1).mean())
    once = np.array([t.ppf(0.975, max(number - 1, 1)) for number in rounds])
    assert wrong <= 0.05
    assert float((size > once)[:, 1:].any(axis=1).mean()) > 0.2


@pytest.mark.parametrize(
    ("rounds", "alpha", "published"), [(100, 0.05, 32.7302), (400, 0.10, 65.1940), (1000, 0.05, 113.6359)]
)
def test_many_rounds_have_the_published_boundary_of_a_known_spread(rounds: int, alpha: float, published: float) -> None:
    """H. Robbins, Annals of Mathematical Statistics 41, 1970, 1397-1409: a sum of n standard normals ever leaves
    sqrt((n + m) (a^2 + ln(1 + n/m))) with a chance of at most exp(-a^2 / 2), here with m = 1; the same as the conjugate
    mixture margin sqrt(2 (n r + 1) / (n^2 r) ln(sqrt(n r + 1) / alpha)) with r = 1 of I. Waudby-Smith, D. Arbour, R.
    Sinha, E. H. Kennedy and A. Ramdas, Annals of Statistics 52, 2024 (formulas)."""
    by_robbins = math.sqrt((rounds + 1) * (math.log(rounds + 1) - 2 * math.log(alpha)))
    by_mixture = rounds * math.sqrt(2 * (rounds + 1) / rounds**2 * math.log(math.sqrt(rounds + 1) / alpha))
    assert by_robbins == pytest.approx(published, abs=5e-5)
    assert by_mixture == pytest.approx(published, abs=5e-5)
    # with an unknown spread t of n - 1 degrees of freedom reaches farther, by less the more rounds there are
    with_t = reach(rounds - 1, alpha) * math.sqrt(rounds)
    assert 0 < with_t / published - 1 < 8 / rounds
    many = 10**7
    limit = math.sqrt((1 + 1 / many) * (math.log(many + 1) - 2 * math.log(alpha)))
    assert reach(many - 1, alpha) == pytest.approx(limit, rel=1e-4)
