"""Two players side by side: nobody better between equals, simultaneous over the rows, words where nothing is known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from server.analysis.evidence.intervals import ALIKE
from server.analysis.evidence.pair import (
    A_BETTER,
    B_BETTER,
    CANNOT_SAY,
    FEW,
    NO_COURSE,
    NO_SHOT,
    NONE_SHARED,
    pair_parts,
)
from server.analysis.evidence.tallies import Tally
from tests.analysis.tallied import every, made, tally
from tests.tiers import count


def pair(a: Tally, b: Tally, level: float = 0.9) -> Any:
    return pair_parts(a, b, (every(a), every(b)), level)


def test_one_course_is_the_textbook_interval_of_two_means() -> None:
    """Both on one course alone: Student's interval of the difference with equal spreads."""
    draw = np.random.default_rng(1)
    a, b = tally(draw, 9, 1.0), tally(draw, 14, 0.0)
    found = pair(a, b)
    for place, row in enumerate(found):
        sums = [(one.by_round(row["part"]) if place else one.by_round()) for one in (a, b)]
        theirs = stats.ttest_ind(*sums).confidence_interval(0.9)
        wide = stats.ttest_ind(*sums).confidence_interval(1 - 0.1 / 5)
        assert row["difference"] == pytest.approx(sums[0].mean() - sums[1].mean())
        assert (row["low"], row["high"]) == pytest.approx(theirs, abs=1e-6)
        assert (row["together_low"], row["together_high"]) == pytest.approx(wide, abs=1e-6)
        assert row["mean_a"] == pytest.approx(sums[0].mean())
        p = stats.ttest_ind(*sums, alternative="greater").pvalue
        assert row["chance_a_better"] == pytest.approx(1 - p, abs=1e-6)


def test_a_pair_turned_round_says_the_opposite() -> None:
    draw = np.random.default_rng(2)
    a, b = tally(draw, 20, 8.0, (0.0, 2.0)), tally(draw, 20, 0.0, (0.0, 2.0))
    there, back = pair(a, b), pair(b, a)
    assert there[0]["verdict"] == A_BETTER
    assert back[0]["verdict"] == B_BETTER
    assert there[0]["difference"] == pytest.approx(-back[0]["difference"])
    assert there[0]["low"] == pytest.approx(-back[0]["high"])
    assert there[0]["chance_a_better"] == pytest.approx(1 - back[0]["chance_a_better"])


@pytest.mark.simulation
def test_two_equal_players_are_told_apart_in_anything_in_one_pair_of_ten_at_most() -> None:
    """Twelve rounds each on four courses that differ by 2 strokes: the intervals of one row hold 0 in about 90 %, all
    five rows together in 87 % at least; somebody is called better in anything in 10 % at most."""
    draw = np.random.default_rng(3)
    pairs = count(30, 2000)
    held = together = called = total = 0
    for _ in range(pairs):
        courses = draw.normal(0, 2, 4)
        rows = pair(tally(draw, 12, 0.0, courses), tally(draw, 12, 0.0, courses))
        held += sum(row["low"] <= 0 <= row["high"] for row in rows)
        together += all(row["together_low"] <= 0 <= row["together_high"] for row in rows)
        called += any(row["verdict"] in (A_BETTER, B_BETTER) for row in rows)
        total += rows[0]["verdict"] in (A_BETTER, B_BETTER)
        assert all(row["low"] * row["high"] > 0 for row in rows if row["verdict"] in (A_BETTER, B_BETTER))
    print(f"held {20 * held / pairs:.1f}, together {100 * together / pairs:.1f}, called {100 * called / pairs:.1f}, "
          f"in all {100 * total / pairs:.1f} % of {pairs}")  # fmt: skip
    slack = 3 * np.sqrt(0.09 / pairs)
    assert 0.87 - slack <= held / 5 / pairs <= 0.93 + slack
    assert together / pairs >= 0.87 - slack
    assert called / pairs <= 0.10 + slack


def test_what_cannot_be_answered_has_a_reason() -> None:
    draw = np.random.default_rng(4)
    many = tally(draw, 8, 0.0, (0.0, 1.0))

    def lacking(a: Tally, b: Tally) -> set[Any]:
        found = pair(a, b)
        assert {row["verdict"] for row in found} == {CANNOT_SAY}
        assert {row["difference"] for row in found} == {None}
        return {row["lacking"] for row in found}

    assert lacking(many, tally(draw, 1)) == {FEW}
    assert lacking(many, tally(draw, 5, day=[3] * 5)) == {FEW}
    assert lacking(tally(draw, 8), tally(draw, 8, played=[1] * 8, courses=(0, 0))) == {NONE_SHARED}
    nowhere = tally(draw, 5)
    nowhere.course[:] = None
    assert lacking(many, nowhere) == {NO_COURSE}
    assert lacking(many, tally(draw, 0)) == {NO_COURSE}
    still = made(np.full((5, 18, 4), 0.1), [0] * 5)
    assert lacking(still, still) == {ALIKE}


def test_a_category_without_a_shot_is_left_out_of_the_judgement_alone() -> None:
    draw = np.random.default_rng(5)
    a, b = tally(draw, 8), tally(draw, 8)
    b.shots[:, 2], b.strokes[:, 2] = 0, 0.0
    rows = pair(a, b)
    assert [row["lacking"] for row in rows] == [None, None, None, NO_SHOT, None]
    assert rows[3]["mean_b"] is None
    assert rows[3]["mean_a"] is not None


def test_bad_levels_are_refused() -> None:
    draw = np.random.default_rng(6)
    with pytest.raises(ValueError, match="level: 1 is outside"):
        pair(tally(draw, 5), tally(draw, 5), 1.0)
