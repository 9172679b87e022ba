"""The trial of two clubs or setups as a document for people and programs."""

from __future__ import annotations

from typing import cast

import numpy as np
import pandas as pd

from server.analysis.evidence.trial_words import (
    SETTLED,
    Verdict,
    design_words,
    length_words,
    playable_words,
    verdict,
)
from server.analysis.evidence.trials import MINIMUM_EFFECT, Trial, run_trial
from server.analysis.expected_strokes.curves import Floats
from server.analysis.practice.duels import duels
from server.analysis.practice.rows import PracticeDuels
from server.analysis.putting.putters import compare_putters
from server.analysis.putting.putts import putts_of
from server.analysis.putting.rows import PutterComparison
from server.game.lies import GREEN
from server.game.practice import COURSE
from server.game.ranges import FARTHEST_ON_GREEN_YD
from server.game.units import FEET_PER_YARD
from server.questions.question import Chosen
from server.questions.sides import Side
from server.reports.heading import heading
from server.reports.practice_source import made_of, practised
from server.reports.trial_rows import (
    LengthRow,
    Place,
    PlayableRow,
    TrialDifference,
    TrialDocument,
    TrialSide,
    TrialVerdict,
)


def trial_document(
    chosen: Chosen, sides: tuple[Side, Side], *, minimum_effect: float = MINIMUM_EFFECT
) -> TrialDocument:
    """A trial of two sides. Differences are A less B in strokes gained; what cannot be stated is null, with the
    reason in
    the verdict. ValueError as `run_trial`."""
    a, b = sides
    make_rate = _make_rate(chosen.valued, a, b, chosen.level)
    found = trial_of(chosen, a, b, minimum_effect=minimum_effect)
    matched = found.matched
    decided = verdict(found, a.name, b.name, make_rate)
    return {
        **heading(chosen),
        **made_of(chosen),
        "minimum_effect": minimum_effect,
        "pairs_on_trial": found.pairs_on_trial,
        "rounds": found.rounds,
        "short_rounds": found.short_rounds,
        "a": _side_document(a, found.shots_a, matched.used_a, matched.rounds_a, found.uses_a),
        "b": _side_document(b, found.shots_b, matched.used_b, matched.rounds_b, found.uses_b),
        "difference": _difference(found),
        "chance_a_better": matched.chance,
        "chance_b_better": None if matched.chance is None else 1 - matched.chance,
        "shots_needed": found.shots_needed,
        "shots_missing": found.shots_missing,
        "shots_missing_low": found.missing_between[0] if found.missing_between else None,
        "shots_missing_high": found.missing_between[1] if found.missing_between else None,
        "design_effect": found.design_effect,
        "verdict": verdict_row(decided),
        "design": {
            "code": found.design,
            "words": design_words(found),
            "pairs": found.pairs,
            "in_order": found.in_order,
            "shared_rounds": matched.shared_rounds,
            "refused_shots": matched.refused,
            "control_shots": matched.control_shots,
            "control_change": matched.control_change,
        },
        "length": _length(found, a, b),
        "playable": _playable(found, a, b),
        "make_rate": make_rate,
        "places": cast(list[Place], found.strata.to_dict("records")),
        "practice": _duels(chosen, a, b),
    }


def _duels(chosen: Chosen, a: Side, b: Side) -> PracticeDuels | None:
    """Duels of practice sessions; two balls for all clubs have none."""
    if chosen.source == COURSE or a.by_rounds:
        return None
    balls = practised(chosen)

    def expected(feet: Floats) -> Floats:
        yards = np.minimum(feet / FEET_PER_YARD, FARTHEST_ON_GREEN_YD)
        return chosen.baseline.expected(GREEN, yards)

    return duels(balls, a.of(balls), b.of(balls), (a.name, b.name), expected, chosen.level)


def trial_of(chosen: Chosen, a: Side, b: Side, *, minimum_effect: float = MINIMUM_EFFECT) -> Trial:
    """The trial of two sides among the shots chosen. ValueError as `run_trial`."""
    valued = chosen.valued
    if a.by_rounds:  # rounds with a third ball, or with none named, are no part of it
        valued = valued[a.of(valued) | b.of(valued)]
    return run_trial(
        valued,
        a.of(valued),
        b.of(valued),
        level=chosen.level,
        minimum_effect=minimum_effect,
        pairs_on_trial=chosen.pairs_on_trial(a, b),
        by_rounds=a.by_rounds,
    )


def verdict_row(decided: Verdict) -> TrialVerdict:
    """A verdict for programs."""
    settled = decided.code in SETTLED
    return {"code": decided.code, "side": decided.side, "words": decided.words, "settled": settled}


def _make_rate(valued: pd.DataFrame, a: Side, b: Side, level: float) -> PutterComparison | None:
    """The auxiliary measure between putters: how often putts fall over the player's own mix of lengths."""
    sides = [valued[side.of(valued)] for side in (a, b)]
    if not all(len(side) and side["sort"].astype("object").eq("putter").all() for side in sides):
        return None
    return compare_putters(putts_of(sides[0]), putts_of(sides[1]), (a.name, b.name), level)


def _side_document(side: Side, shots: int, matched: int, rounds: int, uses_a_round: float) -> TrialSide:
    return {
        "name": side.name,
        "club": side.club or None,
        "ball": side.ball,
        "setup": side.setup,
        "shots": shots,
        "matched_shots": matched,
        "matched_rounds": rounds,
        "uses_a_round": uses_a_round,
    }


def _difference(found: Trial) -> TrialDifference | None:
    matched, often = found.matched, found.shots_a_typical_round
    if matched.difference is None or matched.low is None or matched.high is None or matched.standard_error is None:
        return None

    def a_round(strokes: float | None) -> float | None:
        return strokes * often if strokes is not None and often else None

    return {
        "per_shot": matched.difference,
        "low": matched.low,
        "high": matched.high,
        "standard_error": matched.standard_error,
        "shots_a_round": often,
        "per_round": a_round(matched.difference),
        "per_round_low": a_round(matched.low),
        "per_round_high": a_round(matched.high),
        "always_low": matched.always_low,
        "always_high": matched.always_high,
        "per_round_always_low": a_round(matched.always_low),
        "per_round_always_high": a_round(matched.always_high),
    }


def _length(found: Trial, a: Side, b: Side) -> LengthRow | None:
    length = found.length
    if length is None:
        return None
    test = length.test
    return {
        "shots_a": length.shots_a,
        "shots_b": length.shots_b,
        "typical_a_yd": None if test is None else test.typical_a,
        "typical_b_yd": None if test is None else test.typical_b,
        "statistic": None if test is None else test.statistic,
        "p": None if test is None else test.p,
        "words": length_words(length, a.name, b.name, found.level),
    }


def _playable(found: Trial, a: Side, b: Side) -> PlayableRow | None:
    playable = found.playable
    if playable is None:
        return None
    shares = playable.shares
    return {
        "shots_a": playable.shots_a,
        "shots_b": playable.shots_b,
        "share_a": None if shares is None else shares.share_a,
        "share_b": None if shares is None else shares.share_b,
        "difference": None if shares is None else shares.difference,
        "low": None if shares is None else shares.low,
        "high": None if shares is None else shares.high,
        "shots_needed": playable.shots_needed,
        "words": playable_words(playable, a.name, b.name, found.level),
    }
