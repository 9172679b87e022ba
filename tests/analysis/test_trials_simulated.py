"""How often trials of equal clubs and setups err, with one look and with a look after every round, and how soon a true
difference is found. Each rate is printed; the guide's table is from the long tier."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.stats import binom

from server.analysis.evidence.matched import Control, Matched, compare_matched
from tests.analysis.simulated_seasons import shot_values
from tests.tiers import count, some

pytestmark = pytest.mark.simulation

TRIALS = count(100, 4000)
PLACES_A = np.array([0.35, 0.25, 0.20, 0.10, 0.07, 0.03])
PLACES_B = np.array([0.10, 0.20, 0.25, 0.20, 0.15, 0.10])
"""From where the two clubs are used: not alike, so that a plain difference of means would be wrong."""

OF_A_PLACE = np.linspace(-0.15, 0.15, 6)
OF_OTHER_PLACES = np.linspace(-0.2, 0.2, 12)


class Season(NamedTuple):
    """A season of two clubs, and the shots with the others."""

    a: Any
    place: Any
    round_: Any
    values: Any
    control: Control

    def until(self, rounds: int) -> Season:
        """The first rounds of it."""
        own, others = self.round_ < rounds, self.control.round_ < rounds
        control = Control(self.control.stratum[others], self.control.round_[others], self.control.values[others])
        return Season(self.a[own], self.place[own], self.round_[own], self.values[own], control)

    def compared(self, control: bool = True) -> Matched:
        return compare_matched(
            self.a, self.place, self.round_, self.values, 0.9, control=self.control if control else None
        )


def season(
    draw: np.random.Generator,
    rounds: int,
    a_round: tuple[float, float],
    *,
    gain: float = 0.0,
    split: bool = False,
    drift: float = 0.0,
    form: float = 0.0,
) -> Season:
    """One season of two clubs. `split`: A in the later half of the rounds, B in the earlier, as two setups are;
    `drift`: strokes a shot that the player gains with every club from the first to the last round; `form`: standard
    deviation of a form that lasts (AR(1) with 0.8 from round to round), with every club."""
    lasting = np.zeros(rounds)
    for place in range(1, rounds):
        lasting[place] = 0.8 * lasting[place - 1] + draw.normal(0, 0.6 * form)
    common: Any = draw.normal(0, 0.05, rounds) + np.linspace(0, drift, rounds) + lasting
    shots = [draw.poisson(usual, rounds) for usual in a_round]
    if split:
        shots[0][: rounds // 2] = shots[1][rounds // 2 :] = 0
    round_ = np.concatenate([np.repeat(np.arange(rounds), number) for number in shots])
    a = np.repeat([True, False], [number.sum() for number in shots])
    place = np.concatenate(
        [draw.choice(6, number.sum(), p=share) for number, share in zip(shots, (PLACES_A, PLACES_B), strict=True)]
    )
    values = shot_values(draw, a.size) + OF_A_PLACE[place] + common[round_] + gain * a
    others = np.repeat(np.arange(rounds), draw.poisson(25, rounds))
    where = draw.integers(0, 12, others.size)
    rest = shot_values(draw, others.size) + OF_OTHER_PLACES[where] + common[others]
    return Season(a, place, round_, values, Control(where, others, rest))


def at_most(share: float, hits: int, tries: int, what: str) -> None:
    """A rate is within its bound, with the Monte-Carlo error of this many tries (1 in 1,000)."""
    print(f"{what}: {100 * hits / tries:.1f} % of {tries} (+-{100 * np.sqrt(share * (1 - share) / tries):.1f})")
    assert hits <= binom.ppf(0.999, tries, share), what


def errors(found: list[Matched], share: float, what: str) -> None:
    reported = [one for one in found if one.low is not None and one.high is not None]
    assert len(reported) > len(found) / 2
    at_most(share, sum(one.low > 0 for one in reported), len(reported), f"{what}, A falsely better")  # type: ignore[operator, misc]
    at_most(share, sum(one.high < 0 for one in reported), len(reported), f"{what}, B falsely better")  # type: ignore[operator, misc]


@pytest.mark.parametrize("split", [False, True])
@pytest.mark.parametrize("rounds", some([6, 12, 40], 1))
def test_two_equal_clubs(rounds: int, split: bool) -> None:
    draw = np.random.default_rng([rounds, split])
    found = [season(draw, rounds, (4.0, 3.0), split=split).compared() for _ in range(TRIALS)]
    errors(found, 0.05, f"{rounds} rounds, {'before and after' if split else 'the same rounds'}")


@pytest.mark.parametrize("change", some([{"drift": 0.1}, {"drift": -0.1}, {"form": 0.06}], 0, 2))
def test_two_equal_setups_while_form_changes(change: dict[str, float]) -> None:
    """With the other clubs taken off at most 7 % each way; as they are, form is credited to the setup."""
    draw = np.random.default_rng(7)
    seasons = [season(draw, 40, (6.0, 6.0), split=True, **change) for _ in range(TRIALS)]
    errors([one.compared() for one in seasons], 0.07, f"setups, {change}")
    plain = [one.compared(control=False) for one in seasons]
    wrong = sum(one.low > 0 or one.high < 0 for one in plain)  # type: ignore[operator]
    print(f"setups, {change}, without the other clubs: {100 * wrong / len(plain):.1f} %")
    assert wrong > 0.12 * len(plain), "10 % is what an interval of 90 % may"


def test_the_other_clubs_cost_little_power() -> None:
    """The variance with the other clubs taken off against that without, at no drift: shots go with it; at most 1.5."""
    draw = np.random.default_rng(15)
    seasons = [season(draw, 40, (6.0, 6.0), split=True) for _ in range(TRIALS)]
    corrected, plain = (np.var([one.compared(use).difference for one in seasons]) for use in (True, False))
    print(f"variance ratio {corrected / plain:.2f}")
    assert corrected / plain <= 1.5


@pytest.mark.parametrize(("split", "drift"), some([(False, 0.1), (True, 0.0), (True, 0.1)], 2))
def test_a_look_after_every_round_settles_wrongly_in_at_most_one_of_twenty(split: bool, drift: float) -> None:
    """Equal clubs, a look after each of 40 rounds. Split: a new setup from round 21 on."""
    draw = np.random.default_rng([40, split, int(10 * drift)])
    tries, wrong, once = count(25, 3000), 0, 0
    for _ in range(tries):
        whole = season(draw, 40, (4.0, 3.0), split=split, drift=drift)
        looks = [whole.until(rounds).compared() for rounds in range(22 if split else 2, 41)]
        wrong += any(_clear(one.always_low, one.always_high) for one in looks)
        once += any(_clear(one.low, one.high) for one in looks)
    at_most(0.05, wrong, tries, f"settled wrongly at a look, {'setups' if split else 'same rounds'}, drift {drift}")
    print(f"by the interval of one look: {100 * once / tries:.1f} %")
    assert once > 2 * 0.05 * tries


def _clear(low: float | None, high: float | None) -> bool:
    return low is not None and high is not None and (low > 0 or high < 0)


def test_a_plain_difference_of_means_would_mislead_here() -> None:
    """Shots from hard places are A's: the simulation would catch a method that forgets the strata."""
    assert (PLACES_A - PLACES_B) @ OF_A_PLACE < -0.05


@pytest.mark.parametrize(("rounds", "gain", "least"), some([(40, 0.2, 0.9), (40, -0.2, 0.9), (12, 0.4, 0.9)], 1))
def test_a_true_difference_is_found(rounds: int, gain: float, least: float) -> None:
    """By one look; and over all looks to the last round in more than half of the seasons."""
    draw = np.random.default_rng([rounds, 7])
    found = [season(draw, rounds, (6.0, 6.0), gain=gain).compared() for _ in range(count(80, 1000))]
    rightly = [one for one in found if one.low is not None and one.high is not None]
    assert np.mean([one.low > 0 if gain > 0 else one.high < 0 for one in rightly]) >= least  # type: ignore[operator]
    settled = np.mean([_clear(one.always_low, one.always_high) for one in rightly])
    print(f"{rounds} rounds, {gain:+.1f} a shot: settled in {100 * settled:.0f} %")
    assert settled > 0.5
    assert np.mean([one.difference for one in rightly]) == pytest.approx(gain, abs=0.03)
