"""Trials by hand: like places, weights, a typical round, the auxiliary measures, and what cannot be said."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest

from server.analysis.evidence.auxiliary import brown_forsythe, newcombe, wilson
from server.analysis.evidence.confidence_sequences import reach
from server.analysis.evidence.matched import (
    ALL_ALIKE,
    NO_OVERLAP,
    ONE_ROUND_CARRIES_ALL,
    TOO_FEW_ROUNDS,
    TOO_FEW_SHOTS,
)
from server.analysis.evidence.sample_size import spread_factors
from server.analysis.evidence.trial_words import (
    ALIKE,
    BETTER,
    CANNOT_TELL,
    LEANING,
    design_words,
    length_words,
    playable_words,
    verdict,
)
from server.analysis.evidence.trials import run_trial
from tests.analysis.complete_rounds import filled
from tests.analysis.made_trials import season, shots, sides, tried

CLOSE = 1e-12


def test_overlap_weights_by_hand() -> None:
    """Fairway: A 0.2 in 2, B 0.1 in 2, weight 1. Rough: A -0.3 in 1, B -0.1 in 3, weight 3/4. Sand: B alone, unused."""
    valued = pd.concat(
        [
            shots(("A", "r1", 0.3), ("A", "r2", 0.1), ("B", "r1", 0.2), ("B", "r2", 0.0)),
            shots(("A", "r1", -0.3), ("B", "r1", -0.2), ("B", "r2", -0.1), ("B", "r2", 0.0), lie="rough"),
            shots(("B", "r2", -3.0), lie="sand"),
        ],
        ignore_index=True,
    )
    found = tried(valued)
    assert found.matched.lacking == TOO_FEW_SHOTS
    assert (found.shots_a, found.shots_b, found.matched.used_a, found.matched.used_b) == (3, 6, 3, 5)
    assert found.matched.effective == pytest.approx(2 * 1.75)
    places = found.strata.set_index("lie")
    assert places["distance"].tolist() == ["over 175 to 200 yd"] * 2
    assert places.loc["fairway", ["shots_a", "shots_b"]].tolist() == [2, 2]
    assert places.loc["rough", ["mean_a", "mean_b", "weight"]].tolist() == pytest.approx([-0.3, -0.1, 0.75 / 1.75])
    assert "sand" not in places.index
    twice = pd.concat([valued, valued], ignore_index=True)
    assert tried(twice).matched.difference == pytest.approx((1 * 0.1 + 0.75 * -0.2) / 1.75, abs=CLOSE)


def test_distance_bands_are_not_mixed() -> None:
    near, far = shots(("A", "r1", 0.1), ("A", "r2", 0.2)), shots(("B", "r1", 0.1), ("B", "r2", 0.2), distance_yd=201.0)
    assert tried(pd.concat([near, far], ignore_index=True)).matched.lacking == NO_OVERLAP


def test_swapping_the_sides_turns_everything_round() -> None:
    valued = season(0.1, -0.1)
    a, b = sides(valued)
    found, turned = run_trial(valued, a, b), run_trial(valued, b, a)
    assert found.matched.difference == pytest.approx(0.2, abs=CLOSE)
    assert turned.matched.difference == pytest.approx(-0.2, abs=CLOSE)
    assert (turned.matched.low, turned.matched.high) == pytest.approx((-found.matched.high, -found.matched.low))
    assert turned.matched.chance == pytest.approx(1 - found.matched.chance)
    assert verdict(found, "one", "two").words == verdict(turned, "two", "one").words


def test_a_typical_round_counts_the_ball_of_record_over_every_round() -> None:
    """8 shots a round with either in 12 rounds; 12 more rounds without them; nine holes are half a round; extra balls
    add evidence alone; a round of one hole is none."""
    valued = season(0.2, 0.0)
    assert (tried(valued).rounds, tried(valued).short_rounds, tried(valued).shots_a_typical_round) == (0, 12, 0)
    valued = filled(valued)
    others = filled(shots(*[("putter", f"s{place}", 0.0) for place in range(12)]))
    assert tried(pd.concat([valued, others], ignore_index=True)).shots_a_typical_round == pytest.approx(4)
    assert tried(filled(season(0.2, 0.0), holes=9)).shots_a_typical_round == pytest.approx(16)
    extra = pd.concat([valued, valued.assign(ball=2)], ignore_index=True)
    assert tried(extra).shots_a_typical_round == pytest.approx(8)
    assert tried(extra).shots_a == 2 * tried(valued).shots_a


def test_shots_missing_follow_the_formula() -> None:
    """8 shots a round, so 0.3 a round is 0.0375 a shot: 2 (c + 0.842)^2 s^2 / d^2 with each, c the reach of the 95 %
    sequence at n / 4 rounds."""
    found = tried(filled(season(0.0, 0.0, sd=0.3)))
    sd = found.matched.shot_sd
    assert sd == pytest.approx(0.3, rel=0.15)
    needed = found.shots_needed
    wide = reach(needed / 4 - 1, 0.05) + 0.8416
    assert needed == pytest.approx(found.design_effect * 2 * (wide * sd / 0.0375) ** 2, rel=0.001)
    assert found.matched.effective == 48
    low, high = spread_factors(94, 0.9)
    assert found.missing_between == pytest.approx((needed * low**2 - 48, needed * high**2 - 48), rel=0.03)
    assert found.shots_missing == np.ceil(found.shots_needed - 48)
    assert tried(filled(season(0.0, 0.0)), minimum_effect=5.0).shots_missing == 0
    assert tried(season(0.0, 0.0)).shots_missing is None, "no round is long enough to say how often they are used"


def test_round_effects_raise_the_design_effect() -> None:
    valued = season(0.0, 0.0)
    assert tried(valued).design_effect < 1.2
    common = valued["round_id"].map({f"r{place}": 0.4 * (-1) ** place for place in range(12)})
    found = tried(valued.assign(strokes_gained=valued["strokes_gained"] + common))
    assert found.matched.round_share > 0.5
    assert found.design_effect == pytest.approx(1 + 3 * found.matched.round_share)


def test_verdicts_and_their_reasons() -> None:
    better = verdict(tried(filled(season(0.3, -0.1))), "blade", "wide")
    assert (better.code, better.side) == (BETTER, "a")
    assert better.words.startswith(
        "blade is better than wide: it gains 3.20 strokes a round from the same lie and distance (95 % "
        "interval at every check +"
    )
    small = verdict(tried(filled(season(0.0, 0.03, sd=0.02))), "blade", "wide")
    assert (small.code, small.side) == (BETTER, "b")
    assert small.words.endswith("; that is less than the 0.3 a round that matters.")
    alike = verdict(tried(filled(season(0.0, 0.001, sd=0.02))), "blade", "wide")
    assert (alike.code, alike.side) == (ALIKE, None)
    assert "blade and wide are similar: they differ by less than 0.3 strokes a round" in alike.words
    leaning = verdict(tried(filled(season(0.15, 0.0, sd=0.3))), "blade", "wide")
    assert (leaning.code, leaning.side) == (LEANING, "a")
    assert leaning.words.startswith(
        "Leaning to blade, not settled: it gains 1.20 strokes a round on wide so far (90 % interval +"
    )
    assert re.search(
        r"about [\d,]+ more shots with each \([\d,]+ to [\d,]+\) would settle 0\.3 a round\.$", leaning.words
    )
    cannot = verdict(tried(filled(season(0.01, 0.0, rounds=6, each=3, sd=0.5))), "blade", "wide")
    assert (cannot.code, cannot.side) == (CANNOT_TELL, None)
    assert cannot.words.startswith("Not clear yet: the difference may be anything (90 % interval -")


def test_worth_is_asked_by_the_round_so_the_use_decides() -> None:
    """A tenth of a stroke a shot is 0.8 a round with 8 shots a round, and 0.1 with one shot a round."""
    often = tried(filled(season(0.0, 0.001, sd=0.06)))
    assert often.effect_a_shot == pytest.approx(0.3 / 8)
    seldom = tried(filled(pd.concat([season(0.0, 0.001, sd=0.06), others(84)], ignore_index=True)))
    assert seldom.effect_a_shot == pytest.approx(0.3)
    assert (verdict(often, "A", "B").code, verdict(seldom, "A", "B").code) == (CANNOT_TELL, ALIKE)


def others(rounds: int) -> pd.DataFrame:
    """Rounds between the first and the last of a season in which neither side is hit."""
    return shots(*[("putter", f"s{place}", 0.0) for place in range(rounds)])


def test_distance_within_the_band_is_a_covariate() -> None:
    """Strokes gained falls with the distance inside a band, and A is hit from the farther half: the plain difference
    blames A, the regression with one slope does not. Held to numpy's least squares on the same columns."""
    draw = np.random.default_rng(11)
    valued = season(0.0, 0.0, rounds=12, each=6)
    a = valued["club"].eq("A").to_numpy()
    position = np.clip(draw.uniform(0, 0.8, len(valued)) + 0.2 * a, 0.02, 0.98)
    rough = draw.random(len(valued)) < 0.4
    valued = valued.assign(
        distance_yd=175 + 25 * position,
        lie=np.where(rough, "rough", "fairway"),
        strokes_gained=valued["strokes_gained"] - 1.5 * position,
    )
    found = tried(valued).matched
    columns = np.column_stack([a, position, rough, ~rough]).astype(float)
    wanted = np.linalg.lstsq(columns, valued["strokes_gained"].to_numpy(), rcond=None)[0][0]
    assert found.difference == pytest.approx(wanted, abs=1e-9)
    assert abs(found.difference) < 0.12
    assert valued["strokes_gained"][a].mean() - valued["strokes_gained"][~a].mean() < -0.2


def test_places_where_the_two_start_far_apart_are_refused() -> None:
    """In one band A from 178 yd and B from 197: more than half a band apart."""
    near, far = season(0.2, 0.0), season(0.2, 0.0)
    far = far.assign(lie="rough", distance_yd=np.where(far["club"].eq("A"), 178.0, 197.0))
    found = tried(pd.concat([near, far], ignore_index=True))
    assert found.matched.refused == len(far)
    assert found.strata["lie"].tolist() == ["fairway"]
    assert f"{len(far)} shots were left out: the two start too far apart there" in design_words(found)
    assert tried(far).matched.lacking == NO_OVERLAP


def test_hardly_used_from_like_places_is_the_first_reason_given() -> None:
    valued = season(0.01, 0.0, rounds=6, each=3, sd=0.5)
    elsewhere = season(0.2, 0.0, rounds=6, each=9)
    elsewhere = elsewhere[elsewhere["club"].eq("A")].assign(lie="tee")
    found = verdict(tried(pd.concat([valued, elsewhere], ignore_index=True)), "blade", "wide")
    assert found.words.startswith(
        "Not clear yet: the two were rarely used from the same lie and distance (only 18 of 72 and "
        "18 of 18 shots have a counterpart), and"
    )
    sure = pd.concat([season(0.5, -0.5, rounds=6, each=3, sd=0.1), elsewhere], ignore_index=True)
    found = verdict(tried(sure), "blade", "wide")
    assert found.code == BETTER
    assert found.words.endswith("; but only 18 of 72 and 18 of 18 shots have a counterpart.")


def alternating(club: str, rounds: int, each: int, values: tuple[float, ...]) -> list[tuple[str, str, float]]:
    return [(club, f"r{place % rounds}", values[place % len(values)]) for place in range(rounds * each)]


@pytest.mark.parametrize(
    ("rows", "lacking", "words"),
    [
        ([("A", "r1", 0.1)], NO_OVERLAP, "no shots with wide in these days"),
        ([("C", "r1", 0.1)], NO_OVERLAP, "no shots with blade or wide in these days"),
        (
            [("A", "r1", 0.1), ("B", "r1", 0.1)],
            TOO_FEW_SHOTS,
            "too few shots from the same lie and distance (1 with blade, 1 with wide",
        ),
        (
            alternating("A", 1, 6, (0.1, 0.3)) + alternating("B", 1, 6, (0.2, 0.0)),
            TOO_FEW_ROUNDS,
            "too few rounds (1 with blade, 1 with wide; at least 2 with each are needed)",
        ),
        (
            alternating("A", 3, 3, (0.1,)) + alternating("B", 3, 3, (0.1,)),
            ALL_ALIKE,
            "every shot gained the same, so there is no spread to judge by",
        ),
    ],
)
def test_what_cannot_be_answered_is_named(rows: list[tuple[str, str, float]], lacking: str, words: str) -> None:
    found = tried(shots(*rows))
    matched = found.matched
    assert matched.lacking == lacking
    assert (matched.difference, matched.low, matched.high, matched.standard_error, matched.chance) == (None,) * 5
    said = verdict(found, "blade", "wide")
    assert (said.code, said.side) == (CANNOT_TELL, None)
    assert words in said.words
    assert "nan" not in said.words


def test_one_round_that_carries_all_of_the_overlap() -> None:
    """A hits from the rough in one round and from the fairway in the other, B the other way round: without either round
    nothing is left to compare."""
    first = shots(*[("A", "r1", 0.1 * place) for place in range(3)], *[("B", "r2", 0.1 * place) for place in range(3)])
    second = shots(*[("A", "r2", 0.2 * place) for place in range(3)], *[("B", "r1", 0.2 * place) for place in range(3)])
    found = tried(pd.concat([first, second.assign(lie="rough")], ignore_index=True))
    assert (found.matched.rounds_a, found.matched.rounds_b) == (2, 2)
    assert (found.matched.lacking, found.matched.difference) == (ONE_ROUND_CARRIES_ALL, None)
    assert "only one round has both" in verdict(found, "blade", "wide").words


def test_an_empty_season() -> None:
    found = tried(season(0.0, 0.0).iloc[:0])
    assert (found.shots_a, found.shots_b, found.rounds, found.shots_missing) == (0, 0, 0, None)
    assert verdict(found, "blade", "wide").words == "Not clear yet: there are no shots in these days."


def test_shots_without_a_value_do_not_count() -> None:
    valued = season(0.2, 0.0)
    gaps = shots(*[("A", "r1", float("nan"))] * 3)
    both = tried(pd.concat([valued, gaps], ignore_index=True))
    assert both.shots_a == tried(valued).shots_a
    assert both.matched.difference == pytest.approx(tried(valued).matched.difference, abs=CLOSE)


def test_settings_and_sides_that_make_no_sense_are_refused() -> None:
    valued = season(0.0, 0.0)
    a, _ = sides(valued)
    with pytest.raises(ValueError, match="both sides have the same shots"):
        run_trial(valued, a, a)
    for minimum_effect in (0.0, 5.5, float("nan")):
        with pytest.raises(ValueError, match=r"minimum_effect: .* is outside 0\.05 to 5 strokes a round"):
            tried(valued, minimum_effect=minimum_effect)
    with pytest.raises(ValueError, match=r"level: 1 is outside 0\.5 to 0\.99"):
        tried(valued, level=1.0)


def test_spread_of_length_takes_full_swings_from_clean_lies() -> None:
    draw = np.random.default_rng(1)
    valued = season(0.0, 0.0)
    of_a = valued["club"].eq("A").to_numpy()
    long_yd = draw.normal(0, 1, len(valued)) * np.where(of_a, 12, 5)
    valued = valued.assign(long_yd=long_yd)
    wild = shots(*[("B", "r1", 0.0)] * 3, long_yd=90.0)
    rest = pd.concat([valued, wild.assign(lie="rough"), wild.assign(swing="part")], ignore_index=True)
    found = tried(rest).length
    assert found is not None
    assert (found.shots_a, found.shots_b) == (48, 48)
    assert found.test == brown_forsythe(long_yd[of_a], long_yd[~of_a])
    words = length_words(found, "blade", "wide", 0.9)
    assert words.startswith("Length: wide is tighter, off its middle by ")
    assert "p below 0.01; 48 shots with blade, 48 with wide" in words


def test_brown_forsythe_by_hand_and_at_its_edges() -> None:
    """Distances from the medians 2, 1, 0, 1, 2 and 4, 2, 0, 2, 4: means 1.2 and 2.4."""
    a, b = np.array([1.0, 2, 3, 4, 5]), np.array([2.0, 4, 6, 8, 10])
    found = brown_forsythe(a, b)
    assert found is not None
    # between: 5 * 0.6^2 * 2 = 3.6; within: (2.8 + 11.2) / 8 = 1.75
    assert found[:3] == pytest.approx((1.2, 2.4, 3.6 / 1.75))
    assert brown_forsythe(a[:4], b) is None
    still = brown_forsythe(np.ones(6), np.ones(7))
    assert still == (0, 0, None, None)


def test_share_playable_by_hand() -> None:
    valued = season(0.0, 0.0)
    of_a = valued["club"].eq("A")
    first = valued.index[of_a]
    valued.loc[first[:3], "penalty_strokes"] = 1
    valued.loc[first[3:8], "end_lie"] = "recovery"
    found = tried(valued).playable
    assert found is not None
    assert (found.shots_a, found.shots_b) == (48, 48)
    assert found.shares == newcombe(40, 48, 48, 48, 0.9)
    words = playable_words(found, "blade", "wide", 0.9)
    assert words.startswith("Playable: wide stays playable more often than blade, 100 % against 83 % (90 % interval +")
    even = tried(season(0.0, 0.0)).playable
    assert even is not None
    assert playable_words(even, "blade", "wide", 0.9).startswith("Playable: no difference, 100 % with either")


def test_wilson_at_the_edges() -> None:
    assert wilson(0, 9, 0.9)[0] == 0
    assert wilson(9, 9, 0.9)[1] == pytest.approx(1)
    assert 0 < wilson(0, 9, 0.9)[1] < 0.5


def test_few_shots_have_no_auxiliary_measure() -> None:
    found = tried(shots(*alternating("A", 2, 2, (0.1, 0.2)), *alternating("B", 2, 2, (0.1, 0.2))))
    assert found.length is not None
    assert found.playable is not None
    assert (found.length.test, found.playable.shares) == (None, None)
    assert length_words(found.length, "blade", "wide", 0.9).startswith("Length: not enough data;")
    assert playable_words(found.playable, "blade", "wide", 0.9).startswith("Playable: not enough data;")


def test_putters_have_neither_auxiliary_measure() -> None:
    found = tried(season(0.0, 0.0).assign(lie="green", distance_yd=5.0, sort="putter"))
    assert (found.length, found.playable) == (None, None)
    assert found.strata["distance"].tolist() == ["over 10 to 15 ft"]


def test_input_stays_and_index_does_not_matter() -> None:
    valued = pd.concat([season(0.1, 0.0), shots(("C", "r1", 0.3), ("C", "r2", 0.1))], ignore_index=True)
    before = valued.copy(deep=True)
    wanted = tried(valued)
    assert valued.equals(before)
    mixed = valued.iloc[np.random.default_rng(4).permutation(len(valued))].set_index(np.zeros(len(valued), dtype=int))
    found = tried(mixed)
    assert found.matched.difference == pytest.approx(wanted.matched.difference, abs=CLOSE)
    assert found.matched.standard_error == pytest.approx(wanted.matched.standard_error, abs=CLOSE)
    assert found.length == wanted.length
