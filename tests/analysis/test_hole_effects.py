"""Holes of a course: by hand, beside a least-squares fit with dummies, intervals that hold, and words otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from server.analysis.evidence.hole_effects import (
    ALONE,
    APART,
    CANNOT_SAY,
    EASIER,
    FEW,
    HARDER,
    NO_SHOT,
    Played,
    hole_effects,
    played_in,
    together,
)
from server.analysis.evidence.intervals import ALIKE
from server.analysis.evidence.tallies import Tally
from tests.analysis.tallied import CATEGORIES, every, made, tally
from tests.tiers import count, some


def played_on(course: str, *players: Tally) -> Played:
    return together([played_in(one, every(one) & (one.course == course)) for one in players])


def holes(*players: Tally, course: str = "Course 0", level: float = 0.9) -> Any:
    return hole_effects(played_on(course, *players), CATEGORIES, level)


def kept(one: Tally, mask: Any) -> Tally:
    """The tally with some of the holes alone."""
    return Tally(
        one.categories, one.ids, one.day, one.kind, one.course, one.round_[mask], one.hole[mask], one.par[mask],
        one.shots[mask], one.strokes[mask],
    )  # fmt: skip


def test_three_whole_rounds_by_hand() -> None:
    """Two holes, one category moved: hole 2 loses 1, 2 and 3 strokes more than hole 1."""
    strokes = np.zeros((3, 2, 4))
    strokes[:, :, 1] = [[0.5, -0.5], [0.0, -2.0], [1.0, -2.0]]
    first, second = holes(made(strokes, [0, 0, 0]))
    total = second["parts"][0]
    assert (first["hole"], first["par"], first["times"]) == (1, 4, 3)
    assert total["mean"] == pytest.approx(-1.5)
    assert first["parts"][0]["beside"] == pytest.approx(1.0)
    assert total["beside"] == pytest.approx(-1.0)
    # half the differences 1, 2 and 3: mean 1, standard error 0.5 / sqrt(3)
    reach = stats.t.ppf(0.95, 2) * 0.5 / np.sqrt(3)
    assert (total["low"], total["high"]) == pytest.approx((-1 - reach, -1 + reach))
    assert second["parts"][2]["beside"] == pytest.approx(-1.0)
    assert [row["part"] for row in second["parts"]] == ["total", *CATEGORIES]


def test_uneven_rounds_are_the_least_squares_fit_with_rounds_and_holes() -> None:
    """Strong players alone play the last holes: what a fit with a dummy for each round and hole says."""
    draw = np.random.default_rng(1)
    adds = draw.normal(0, 0.1, (18, 4))
    strong, weak = tally(draw, 5, 6.0, adds=adds), tally(draw, 7, -6.0, adds=adds)
    weak = kept(weak, weak.hole <= 12)
    found = holes(strong, weak)
    played = played_on("Course 0", strong, weak)
    y = played.strokes.sum(axis=1)
    rounds = np.unique(played.round_, return_inverse=True)[1]
    dummies = np.column_stack([np.eye(rounds.max() + 1)[rounds], np.eye(18)[played.hole - 1]])
    fitted = np.linalg.lstsq(dummies, y, rcond=None)[0][-18:]
    theirs = fitted - fitted.mean()
    assert [one["parts"][0]["beside"] for one in found] == pytest.approx(theirs)
    plain = np.array([one["parts"][0]["mean"] for one in found])
    assert plain[12:].mean() - plain[:12].mean() > 0.2, "as played the last holes look easy: strong players alone"


def test_parts_of_all_holes_are_those_of_each_hole_alone() -> None:
    """Holes played once, twice and more, by all or few, with gaps in a category: each mean with its textbook interval,
    each effect out of a fit with dummies of the holes that have such shots."""
    draw = np.random.default_rng(8)
    one, two = tally(draw, 9), tally(draw, 5, 2.0)
    one = kept(one, ~((one.hole == 5) & (one.round_ > 0)) & ~((one.hole == 6) & (one.round_ > 1)))
    two = kept(two, (two.hole <= 12) & (two.hole != 5) & (two.hole != 6))
    for tallied in (one, two):
        tallied.shots[tallied.hole == 3, 1] = 0
        tallied.strokes[tallied.hole == 8, 2] = 0.25
    played = played_on("Course 0", one, two)
    found = holes(one, two, level=0.8)
    assert [row["times"] for row in found] == [14] * 4 + [1, 2] + [14] * 6 + [9] * 6
    for part in range(5):
        strokes = played.strokes.sum(axis=1) if part == 0 else played.strokes[:, part - 1]
        judged = np.isin(played.hole, [5, 6, 3] if part == 2 else [5, 6], invert=True)
        rounds = np.unique(played.round_[judged], return_inverse=True)[1]
        numbers, place = np.unique(played.hole[judged], return_inverse=True)
        dummies = np.column_stack([np.eye(14)[rounds], np.eye(numbers.size)[place]])
        fitted = np.linalg.lstsq(dummies, strokes[judged], rcond=None)[0][14:]
        beside = dict(zip(numbers.tolist(), fitted - fitted.mean(), strict=True))
        for hole in found:
            row, mine = hole["parts"][part], strokes[played.hole == hole["hole"]]
            ends = [row["mean_low"], row["mean_high"]]
            if hole["hole"] in beside and np.ptp(mine) > 0:
                assert ends == pytest.approx(stats.t.interval(0.8, mine.size - 1, mine.mean(), stats.sem(mine)))
            else:
                assert ends == [None, None]
            assert row["beside"] == (pytest.approx(beside[hole["hole"]]) if hole["hole"] in beside else None)
            gone = part == 2 and hole["hole"] == 3
            assert row["mean"] == (None if gone else pytest.approx(mine.mean(), rel=1e-12))
            assert row["lacking"] == (NO_SHOT if gone else None if hole["hole"] in beside else FEW)


@pytest.mark.simulation
@pytest.mark.parametrize("rounds", some([6, 12, 40], 1))
def test_intervals_hold_the_truth(rounds: int) -> None:
    """Two players of unlike level, one of whom stops after nine holes at times."""
    draw = np.random.default_rng(2)
    held = total = called = 0
    courses = count(20, 500)
    for _ in range(courses):
        adds = draw.normal(0, 0.1, (18, 4))
        a, b = tally(draw, rounds, 0.0, adds=adds), tally(draw, rounds // 2, 4.0, adds=adds)
        b = kept(b, (b.hole <= 9) | (b.round_ < 2))
        true = adds.sum(axis=1) - adds.sum(axis=1).mean()
        for one in holes(a, b):
            row = one["parts"][0]
            held += row["low"] <= true[one["hole"] - 1] <= row["high"]
            total += 1
        alike = holes(tally(draw, rounds))
        called += any(one["parts"][0]["verdict"] in (HARDER, EASIER) for one in alike)
    print(f"{rounds} rounds: held {100 * held / total:.1f} %, called among equals {100 * called / courses:.1f} %")
    slack = 3 * np.sqrt(0.09 / courses)
    assert 0.87 - slack / 2 <= held / total <= 0.93 + slack / 2
    assert called / courses <= 0.10 + slack


def test_a_hard_hole_is_named_and_holes_of_another_course_do_not_count() -> None:
    draw = np.random.default_rng(3)
    adds = np.zeros((18, 4))
    adds[6, 3] = -0.6
    found = holes(tally(draw, 30, adds=adds, courses=(0, 0), played=[0] * 15 + [1] * 15))
    assert [one["hole"] for one in found if one["parts"][0]["verdict"] == HARDER] == [7]
    assert found[6]["times"] == 15
    assert found[6]["parts"][4]["verdict"] == HARDER
    assert holes(tally(draw, 5), course="Moor") == []


def test_what_cannot_be_answered_has_a_reason() -> None:
    draw = np.random.default_rng(4)
    one = tally(draw, 6)
    one.shots[one.hole == 3, 0] = 0
    assert holes(one)[2]["parts"][1]["lacking"] == NO_SHOT
    assert holes(one)[2]["parts"][1]["mean"] is None
    assert {row["lacking"] for hole in holes(tally(draw, 2)) for row in hole["parts"]} == {FEW}
    nine = tally(draw, 6)
    apart = holes(kept(nine, (nine.hole <= 9) == (nine.round_ < 3)))
    assert {row["lacking"] for hole in apart for row in hole["parts"]} == {APART}
    assert {row["beside"] for hole in apart for row in hole["parts"]} == {None}
    alone = holes(kept(nine, nine.hole == 4))
    assert alone[0]["parts"][0]["lacking"] == ALONE
    still = holes(made(np.full((5, 18, 4), 0.1), [0] * 5))
    assert {row["lacking"] for hole in still for row in hole["parts"]} == {ALIKE}


def test_rounds_that_all_say_the_same_give_no_interval_of_no_width() -> None:
    """One hole loses a stroke in every round, by the same shots: without any spread nothing is called harder or easier.
    A category that varies is told all the same."""
    strokes = np.full((6, 18, 4), 0.1)
    strokes[:, 2, 3] -= 1.0
    strokes[:, :, 1] = np.random.default_rng(5).normal(0, 0.2, (6, 18))
    found = holes(made(strokes, [0] * 6))
    for hole in found:
        putting, approach = hole["parts"][4], hole["parts"][2]
        assert (putting["lacking"], putting["verdict"]) == (ALIKE, CANNOT_SAY)
        assert [putting[end] for end in ("beside", "low", "high", "together_low", "together_high")] == [None] * 5
        assert putting["mean"] == pytest.approx(strokes[0, hole["hole"] - 1, 3])
        assert approach["lacking"] is None
        assert approach["low"] < approach["beside"] < approach["high"]


def test_nothing_played_and_bad_levels() -> None:
    nothing = np.zeros(0, dtype=int)
    empty = Played(nothing, nothing, nothing, np.zeros((0, 4), dtype=int), np.zeros((0, 4)))
    assert hole_effects(empty, CATEGORIES) == []
    with pytest.raises(ValueError, match="level: 1 is outside"):
        hole_effects(empty, CATEGORIES, 1.0)
