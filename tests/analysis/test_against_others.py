"""A player beside the others: the dense equations, intervals that hold, and words where nothing can be said."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.against_others import (
    BETTER,
    CANNOT_SAY,
    FEW,
    NO_SHOT,
    NONE_SHARED,
    POINTS,
    WORSE,
    Entered,
    Together,
    _Sums,
    against_others,
    against_parts,
    together,
)
from server.analysis.evidence.intervals import ALIKE
from server.analysis.evidence.level import ONE_DAY
from server.analysis.evidence.tallies import Tally
from tests.analysis.tallied import every, made, tally
from tests.tiers import count, some


def entered(one: Tally) -> Entered:
    return Entered(one, one.chosen())


def parts(player: Tally, others: list[Tally], least: int = 2, level: float = 0.9) -> Any:
    return against_parts(entered(player), [entered(one) for one in others], least, level)


def test_the_equations_are_those_of_the_full_covariance() -> None:
    """Adjusting for players and courses step by step gives what the matrix of all rounds gives: prediction, error of
    prediction, what is left, and log chance."""
    draw = np.random.default_rng(1)
    players, courses, rounds = 4, 3, 30
    player = np.r_[np.arange(players), draw.integers(0, players, rounds - players)]
    course = np.r_[np.arange(courses), draw.integers(0, courses, rounds - courses)]
    lengths = draw.choice([0.5, 1.0], rounds)
    strokes = draw.normal(0, 3, (rounds, 2)) + draw.normal(0, 2, players)[player][:, None]
    apart = np.array([-1 / 3, 1.0, -1 / 3, -1 / 3])
    spread, ratios = 0.7, np.array([0.4, 2.0])
    rounds_ = Together(strokes, lengths, player, course)
    found = _Sums.of(rounds_, player, course).at(spread, ratios, apart, np.zeros(courses))
    for place, ratio in enumerate(ratios):
        turned = _Sums.of(rounds_, course, player).at(ratio, np.array([spread]), np.zeros(courses), apart)
        assert all(one[0] == pytest.approx(other[place]) for one, other in zip(turned, found, strict=True))
    for place, ratio in enumerate(ratios):
        of_player, of_course, ones = np.eye(players)[player], np.eye(courses)[course], np.ones((rounds, 1))
        whole = np.diag(1 / lengths) + spread**2 * of_player @ of_player.T + ratio**2 * of_course @ of_course.T
        inverse = np.linalg.inv(whole)
        information = ones.T @ inverse @ ones
        left = strokes - ones @ np.linalg.solve(information, ones.T @ inverse @ strokes)
        effects = spread**2 * of_player.T @ inverse @ left
        ahead = spread**2 * of_player.T @ inverse
        unknown = (
            spread**2 * np.eye(players)
            - spread**2 * ahead @ of_player
            + ahead @ ones @ np.linalg.inv(information) @ (ahead @ ones).T
        )
        assert found[0][place] == pytest.approx(apart @ effects)
        assert found[1][place] == pytest.approx(apart @ unknown @ apart)
        assert found[3][place] == pytest.approx(np.einsum("ik,ij,jk->k", left, inverse, left))
        log = -0.5 * (np.linalg.slogdet(whole)[1] + np.log(information[0, 0]))
        # the same but for the lengths of the rounds, which are known
        assert found[2][place] - log == pytest.approx(-0.5 * np.log(lengths).sum())
    assert found[0].shape == (2, 2)


def test_three_players_of_many_rounds_by_hand() -> None:
    """With many rounds nothing is drawn to the mean: the player less the mean of the two others."""
    draw = np.random.default_rng(2)
    levels = (3.0, 0.0, -1.0)
    player = np.repeat(np.arange(3), 400)
    strokes = np.asarray(levels)[player] + np.tile(draw.normal(0, 3, 400), 3)
    plain = [strokes[player == one].mean() for one in range(3)]
    rounds = Together(strokes[:, None], np.ones(1200), player, np.zeros(1200, dtype=int))
    figure = against_others(rounds, 0)[0]
    assert figure is not None
    assert figure.mean == pytest.approx(plain[0] - (plain[1] + plain[2]) / 2, abs=0.05)
    assert figure.chances.size == POINTS**2


def test_the_players_own_shots_do_not_stand_in_the_reference() -> None:
    """Two players: the figure of one is that of the other turned round, and their plain difference drawn together."""
    draw = np.random.default_rng(3)
    strokes = np.r_[draw.normal(2, 3, 20), draw.normal(0, 3, 20)]
    rounds = Together(strokes[:, None], np.ones(40), np.repeat([0, 1], 20), np.zeros(40, dtype=int))
    first, second = (against_others(rounds, one)[0] for one in (0, 1))
    assert first is not None
    assert second is not None
    assert first.mean == pytest.approx(-second.mean)
    assert 0 < first.mean / (strokes[:20].mean() - strokes[20:].mean()) < 1


def test_more_courses_than_players_and_fewer_give_the_same() -> None:
    """Courses that nobody else played, one round each, change no more than their own few rounds."""
    draw = np.random.default_rng(11)
    player = np.repeat(np.arange(4), 12)
    strokes = draw.normal(0, 3, (48, 1)) + np.array([2.0, 0.0, -1.0, 0.0])[player][:, None]
    few = Together(strokes, np.ones(48), player, np.tile([0, 1, 2], 16))
    many = Together(strokes, np.ones(48), player, np.arange(48))
    for rounds in (few, many):
        figure = against_others(rounds, 0)[0]
        assert figure is not None
        low, high = figure.interval(0.9)
        assert low < figure.mean < high
        assert figure.chances.sum() == pytest.approx(1)


def test_rounds_of_one_day_and_course_count_as_one() -> None:
    found = together(
        np.array([[2.0], [4.0], [1.0]]),
        np.array([1.0, 0.5, 1.0]),
        np.zeros(3, dtype=int),
        np.array([0, 0, 1]),
        np.zeros(3, dtype=int),
    )
    assert found.strokes[:, 0].tolist() == pytest.approx([8 / 3, 1.0])
    assert found.parts.tolist() == [0.75, 1.0]


@pytest.mark.simulation
@pytest.mark.parametrize("spread", some([1.0, 2.0, 4.0], 1))
def test_intervals_hold_the_truth_with_six_players_of_twelve_rounds(spread: float) -> None:
    """Courses differ by 2 strokes, days by 2.7: 90 % intervals of all strokes and of a category hold the truth in 87
    to 93 %."""
    draw = np.random.default_rng(4)
    squads = count(35, 2000)
    held = np.zeros(2)
    for _ in range(squads):
        courses, levels = draw.normal(0, 2, 4), draw.normal(0, spread, 6)
        squad = [tally(draw, 12, level, courses) for level in levels]
        rows = parts(squad[0], squad[1:]).parts
        true = levels[0] - levels[1:].mean()
        held += [rows[0]["low"] <= true <= rows[0]["high"], rows[1]["low"] <= true / 4 <= rows[1]["high"]]
    rates = held / squads
    print(f"players {spread:g}: held {100 * rates} % of {squads}")
    slack = 3 * np.sqrt(0.09 / squads)
    assert np.all(rates[0] >= 0.87 - slack)
    assert np.all(rates[0] <= 0.93 + slack)
    assert rates[1] >= 0.87 - slack


@pytest.mark.simulation
def test_players_alike_are_seldom_called_better_or_worse() -> None:
    draw = np.random.default_rng(5)
    squads = count(35, 2000)
    called = 0
    for _ in range(squads):
        courses = draw.normal(0, 2, 4)
        squad = [tally(draw, 12, 0.0, courses) for _ in range(6)]
        called += parts(squad[0], squad[1:]).parts[0]["verdict"] in (BETTER, WORSE)
    print(f"called {100 * called / squads:.1f} % of {squads}")
    assert called / squads <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / squads)


def test_a_clear_difference_is_called_and_turned_round() -> None:
    draw = np.random.default_rng(6)
    strong, *weak = [tally(draw, 20, level, (0.0, 1.0)) for level in (8.0, 0.0, 0.0, 0.0)]
    assert parts(strong, weak).parts[0]["verdict"] == BETTER
    assert parts(weak[0], [strong, *weak[1:]]).parts[0]["difference"] < 0


def test_what_cannot_be_answered_has_a_reason() -> None:
    draw = np.random.default_rng(7)
    one, *others = [tally(draw, 6, 0.0, (0.0, 0.0)) for _ in range(4)]

    def lacking(player: Tally, beside: list[Tally], least: int = 2) -> Any:
        found = parts(player, beside, least)
        assert {row["verdict"] for row in found.parts if found.lacking} <= {CANNOT_SAY}
        assert all(row["difference"] is None for row in found.parts) == (found.lacking is not None)
        return found.lacking

    assert lacking(one, others) is None
    assert lacking(tally(draw, 2), others) == FEW
    assert lacking(tally(draw, 6, day=[5] * 6), others) == ONE_DAY
    assert lacking(one, [], 2).startswith("there are none besides the player")
    assert lacking(one, others[:1]).startswith("there is 1 besides the player")
    away = tally(draw, 6, played=[7] * 6, courses=[0.0] * 8)
    assert lacking(away, others) == NONE_SHARED
    # one course that all have played is no hindrance: there is nothing to take out
    assert lacking(tally(draw, 6), [tally(draw, 6) for _ in range(3)]) is None
    # one round a course: whoever played it says little, the interval is wide, and nothing breaks
    each = [tally(draw, 6, played=range(6), courses=[0.0] * 6) for _ in range(3)]
    assert lacking(each[0], each[1:]) is None


def test_no_shot_of_a_category_and_rounds_all_alike() -> None:
    draw = np.random.default_rng(8)
    squad = [tally(draw, 6) for _ in range(3)]
    for one in squad:
        one.shots[:, 2], one.strokes[:, 2] = 0, 0.0
    rows = parts(squad[0], squad[1:]).parts
    assert [row["lacking"] for row in rows] == [None, None, None, NO_SHOT, None]
    assert (rows[3]["mean"], rows[3]["difference"]) == (None, None)
    still = [made(np.full((5, 18, 4), 0.1), [0] * 5) for _ in range(3)]
    assert {row["lacking"] for row in parts(still[0], still[1:]).parts} == {ALIKE}
    assert every(still[0]).all()


def test_bad_levels_and_players_are_refused() -> None:
    draw = np.random.default_rng(9)
    squad = [tally(draw, 6) for _ in range(3)]
    with pytest.raises(ValueError, match="level: 1 is outside"):
        parts(squad[0], squad[1:], level=1.0)
    rounds = Together(np.ones((4, 1)), np.ones(4), np.zeros(4, dtype=int), np.zeros(4, dtype=int))
    with pytest.raises(ValueError, match="player: 0 is not one of 1 players"):
        against_others(rounds, 0)
