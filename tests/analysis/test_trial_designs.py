"""Designs of a trial, by hand: pairs from one spot, the order that was drawn, before and after, more clubs than two;
and the one verdict of two putters."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from server.analysis.evidence.confidence_sequences import reach
from server.analysis.evidence.matched import (
    NO_CONTROL,
)
from server.analysis.evidence.trial_words import (
    ALIKE,
    BETTER,
    CANNOT_TELL,
    LEANING,
    design_words,
    verdict,
)
from server.analysis.evidence.trials import ALTERNATED, BEFORE_AND_AFTER, CHOSEN, PAIRED
from server.analysis.putting.rows import PutterComparison, PutterSide
from server.game.alternation import club_of_hole
from tests.analysis.complete_rounds import filled
from tests.analysis.made_trials import DEFAULTS, season, shots, tried

CLOSE = 1e-12


def duels(pairs: int, gain: float, seed: int = 2) -> pd.DataFrame:
    """Both clubs from one spot in practice rounds; the spots differ much, and A is as much better on each."""
    draw = np.random.default_rng(seed)
    rows = []
    for pair in range(pairs):
        spot = {"round_id": f"r{pair % 6}", "hole": pair + 1, "distance_yd": 176.0 + pair % 24, "order": 1}
        hard = draw.normal(0, 1.0)
        for ball, club in enumerate(("A", "B") if pair % 2 else ("B", "A"), start=1):
            value = hard + draw.normal(0, 0.1) + gain * (club == "A")
            rows.append(DEFAULTS | spot | {"club": club, "club_id": club, "ball": ball, "strokes_gained": value})
    return pd.DataFrame(rows)


def test_pairs_from_one_spot_are_compared_spot_by_spot() -> None:
    """By hand: the difference is the mean of the differences of the pairs, whatever the spots were like."""
    valued = duels(30, 0.3)
    found = tried(valued)
    paired = valued.pivot(index="hole", columns="club", values="strokes_gained")
    assert found.matched.difference == pytest.approx((paired["A"] - paired["B"]).mean(), abs=1e-9)
    assert (found.design, found.pairs) == (PAIRED, 30)
    assert design_words(found).startswith("Paired: both were hit from the same spot 30 times")
    assert verdict(found, "A", "B").code == BETTER
    apart = tried(valued.assign(hole=np.arange(len(valued)) + 1))
    assert (apart.design, apart.pairs) == (CHOSEN, 0)
    same_ball = tried(valued.assign(ball=1))
    assert same_ball.pairs == 0, "one ball cannot be hit twice from one spot"


def test_more_clubs_on_trial_ask_for_more() -> None:
    """Three clubs are three pairs: each is held at a third of the chance of error; the look of one pair stays."""
    valued = filled(season(0.3, 0.0))
    one, three = tried(valued), tried(valued, pairs_on_trial=3)
    assert (three.matched.low, three.matched.high) == (one.matched.low, one.matched.high)
    wider = reach(11, 0.05 / 3) / reach(11, 0.05)
    assert wider > 1.1
    assert three.matched.always_high - three.matched.always_low == pytest.approx(
        wider * (one.matched.always_high - one.matched.always_low)
    )
    assert three.shots_needed > one.shots_needed
    assert (
        "at every check and all 3 pairs on trial" in verdict(tried(season(0.9, 0.0), pairs_on_trial=3), "A", "B").words
    )


def alternated(heed: float, holes: int = 72) -> pd.DataFrame:
    """One shot a hole with the club drawn for it, or, for the part that is not heeded, with the other one."""
    draw = np.random.default_rng(6)
    rows = []
    for place in range(holes):
        round_id, hole = f"r{place // 18}", place % 18 + 1
        drawn = club_of_hole(("a", "b"), round_id, hole)
        club = drawn if draw.random() < heed else {"a": "b", "b": "a"}[drawn]
        spot = {"round_id": round_id, "hole": hole, "club": club.upper(), "club_id": club}
        rows.append(DEFAULTS | spot | {"strokes_gained": draw.normal()})
    return pd.DataFrame(rows)


def test_clubs_in_the_order_that_was_drawn_are_called_alternated() -> None:
    found = tried(alternated(1.0))
    assert (found.design, found.in_order) == (ALTERNATED, 72)
    assert design_words(found) == (
        "Alternated: 72 of 72 shots were with the club drawn for the hole, so choice does not bias it."
    )
    assert tried(alternated(0.9)).design == ALTERNATED
    assert tried(alternated(0.6)).design == CHOSEN
    assert tried(alternated(1.0, holes=18)).design == CHOSEN, "so few may be chance"
    assert tried(alternated(1.0).assign(kind="competition")).design == CHOSEN, "nothing is drawn in a competition"


def changed(before: float, after: float, others_before: float, others_after: float, others: int = 12) -> pd.DataFrame:
    """A club with a setup from round 6 on, beside other clubs in every round; means exactly in the samples."""
    draw = np.random.default_rng(8)
    parts = []
    for late, club, count, mean in (
        (False, "B", 6, before),
        (True, "A", 6, after),
        (False, "C", others, others_before),
        (True, "C", others, others_after),
    ):
        noise = draw.normal(0, 0.2, 6 * count)
        values = mean + noise - noise.sum() / max(noise.size, 1)
        parts += [(club, f"r{place % 6 + 6 * late}", value) for place, value in enumerate(values)]
    return shots(*parts)


def test_before_and_after_takes_off_what_the_other_clubs_did() -> None:
    """By hand: +0.30 with the new setup, but the other clubs gained 0.25 over the same rounds: 0.05 is left."""
    found = tried(changed(0.0, 0.30, -0.1, 0.15))
    assert found.design == BEFORE_AND_AFTER
    assert found.matched.difference == pytest.approx(0.30 - 0.25, abs=CLOSE)
    assert found.matched.control_change == pytest.approx(0.25, abs=CLOSE)
    assert found.matched.control_shots == 144
    words = design_words(found)
    assert words.startswith("Before and after: of 6 and 6 rounds they share none.")
    assert "Your other clubs changed by +0.250 strokes a shot" in words


def test_before_and_after_without_enough_control_gives_no_verdict() -> None:
    found = tried(changed(0.0, 0.5, 0.0, 0.0, others=0))
    assert (found.matched.lacking, found.matched.difference) == (NO_CONTROL, None)
    said = verdict(found, "new shaft", "old shaft")
    assert said.code == CANNOT_TELL
    assert "the two share hardly a round, so form and courses may explain the difference" in said.words
    putts_only = changed(0.0, 0.5, 0.0, 0.0)
    putts_only.loc[putts_only["club"].eq("C"), ["lie", "distance_yd"]] = ["green", 5.0]
    assert tried(putts_only).matched.lacking == NO_CONTROL, "putts are no control of irons"


def test_putters_get_one_verdict_from_both_measures() -> None:
    """Strokes gained and make-rates the same way, one of them alone, and against each other."""
    trial = tried(filled(season(0.15, 0.0, sd=0.3)).assign(lie="green", distance_yd=5.0, sort="putter"))
    assert verdict(trial, "A", "B").code == LEANING
    assert verdict(trial, "A", "B", make_rates(0.05, 0.01, 0.09)).side == "a"
    against = verdict(trial, "A", "B", make_rates(-0.05, -0.09, -0.01))
    assert (against.code, against.side) == (CANNOT_TELL, None)
    assert "by strokes gained A is ahead" in against.words
    assert "but B holes more putts" in against.words
    unsure = tried(filled(season(0.03, 0.0, sd=0.3)).assign(lie="green", distance_yd=5.0, sort="putter"))
    assert verdict(unsure, "A", "B").code == CANNOT_TELL
    assert verdict(unsure, "A", "B", make_rates(0.05, 0.01, 0.09)).code == LEANING
    alike = tried(filled(season(0.0, 0.001, sd=0.02)).assign(lie="green", distance_yd=5.0, sort="putter"))
    assert verdict(alike, "A", "B", make_rates(0.0, -0.02, 0.02)).code == ALIKE
    assert verdict(alike, "A", "B", make_rates(-0.05, -0.09, -0.01)).code != ALIKE


def make_rates(middle: float, low: float, high: float) -> PutterComparison:
    sides: list[PutterSide] = [{"name": name, "putts": 200} for name in ("A", "B")]
    return {
        "a": sides[0], "b": sides[1], "minimum_effect": 0.03, "difference": middle, "low": low, "high": high,
        "chance_a_better": None, "putts_needed": None, "feet": [], "words": "",
    }  # fmt: skip
