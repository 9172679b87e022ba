"""A squad in order: adjusted for courses, chances of ranks that come true, and nobody first where nobody is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from server.analysis.evidence.ranking import (
    DRAWS,
    LEAST_ROUNDS,
    SquadRounds,
    ranking_words,
    standings,
    standings_of_many,
)
from tests.tiers import count

ROUND_SD = 3.0


def squad(
    draw: np.random.Generator, levels: Any, rounds: int, courses: Any = (0.0, 0.0), home: bool = False
) -> SquadRounds:
    """Invented rounds: a level a player, what each course adds, the day. `home`: player k plays mostly on course k."""
    player = np.repeat(np.arange(len(levels)), rounds)
    course = draw.integers(0, len(courses), player.size)
    if home:
        course = np.where(draw.random(player.size) < 0.7, player % len(courses), course)
    course[: len(courses)] = np.arange(len(courses))
    strokes = np.asarray(levels)[player] + np.asarray(courses)[course] + draw.normal(0, ROUND_SD, player.size)
    return SquadRounds(strokes, np.ones(player.size), player, course)


def test_the_order_the_chances_and_the_words() -> None:
    found = standings(squad(np.random.default_rng(1), [4.0, 0.0, -4.0], 40))
    assert [row["player"] for row in found] == [0, 1, 2]
    for row in found:
        assert sum(row["chances"]) == pytest.approx(1)
        assert row["low"] < row["beside_squad"] < row["high"]
        assert row["rank_low"] == row["rank_high"] == row["player"] + 1, row
    assert found[0]["chance_above_next"] is not None
    assert found[0]["chance_above_next"] > 0.99
    assert found[2]["chance_above_next"] is None
    assert ranking_words(found, ["Ash", "Birch", "Cedar"], "all strokes").startswith("Ash is first in all strokes (")


def test_squads_beside_each_other_are_those_alone_and_ranks_are_quantiles_of_their_chances() -> None:
    draw = np.random.default_rng(11)
    squads = [squad(draw, draw.normal(0, 1, many), 8, (0.0, 1.0, -2.0)) for many in (5, 9, 5)]
    squads.insert(1, squad(draw, [1.0], 10))
    found = standings_of_many(squads, 0.8)
    assert found == [standings(one, 0.8) for one in squads]
    assert [len(rows) for rows in found] == [5, 0, 9, 5]
    for rows, rounds in zip(found, squads, strict=True):
        for row in rows:
            mine = rounds.player == row["player"]
            assert row["courses"] == len(set(rounds.course[mine].tolist()))
            assert row["mean"] == pytest.approx(rounds.strokes[mine].mean())
            times = np.rint(np.array(row["chances"]) * DRAWS).astype(int)
            placed = np.repeat(np.arange(1, len(rows) + 1), times)
            assert placed.size == DRAWS
            ends = np.quantile(placed, [0.1, 0.9], method="nearest")
            assert [row["rank_low"], row["rank_high"]] == ends.tolist()


def test_the_names_of_players_and_courses_move_nothing() -> None:
    draw = np.random.default_rng(31)
    rounds = squad(draw, draw.normal(0, 0.7, 7), 12, (0.0, 1.5, -2.0))
    players, courses = draw.permutation(7), draw.permutation(3)
    renamed = rounds._replace(player=players[rounds.player], course=courses[rounds.course])
    for row, other in zip(standings(rounds), standings(renamed), strict=True):
        assert other["player"] == players[row["player"]]
        assert other["chances"] == pytest.approx(row["chances"], abs=1 / DRAWS)
        assert other["chance_above_next"] == (
            row["chance_above_next"] and pytest.approx(row["chance_above_next"], abs=1e-9)
        )


def test_of_two_players_the_chance_to_be_above_is_that_to_be_first() -> None:
    draw = np.random.default_rng(32)
    for _ in range(20):
        first, _ = standings(squad(draw, draw.normal(0, 1, 2), 10))
        above = first["chance_above_next"]
        assert above is not None
        error = 5 * np.sqrt(above * (1 - above) / DRAWS)
        assert first["chances"][0] == pytest.approx(above, abs=float(error))


def test_nobody_is_first_whose_interval_of_ranks_holds_another_place() -> None:
    """At 0.99 a chance of 96 in 100 leaves the second place open: the words do not say more than the ranks do."""
    draw = np.random.default_rng(21)
    looked_at = 0
    for _ in range(40):
        rows = standings(squad(draw, [2.0, 0.0, -2.0], 20), 0.99)
        words = ranking_words(rows, ["Ash", "Birch", "Cedar"], "all strokes")
        first = rows[0]
        looked_at += first["chances"][0] >= 0.95 and first["rank_high"] > 1
        assert (" is first in " in words) == (first["chances"][0] >= 0.95 and first["rank_high"] == 1)
    assert looked_at > 0


def test_players_alike_have_no_first() -> None:
    """Ten players who differ by nothing: in at most one squad of twenty somebody is called first."""
    draw = np.random.default_rng(2)
    squads = count(30, 400)
    first = sum(standings(squad(draw, np.zeros(10), 12))[0]["chances"][0] >= 0.95 for _ in range(squads))
    assert first <= binom.ppf(0.999, squads, 0.05)
    words = ranking_words(standings(squad(draw, np.zeros(10), 12)), [str(place) for place in range(10)], "putting")
    assert words.startswith("Nobody is clearly first in putting.")


@pytest.mark.simulation
def test_a_hard_home_course_is_not_held_against_its_players() -> None:
    """Six players, the best on a course four strokes harder, where the others seldom play: as played the best is first
    in few seasons, adjusted for courses in most."""
    draw = np.random.default_rng(3)
    levels, courses = [1.5, 0.5, 0.0, 0.0, -0.5, -1.5], [-4.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    seasons = count(20, 300)
    adjusted = plain = 0
    for _ in range(seasons):
        rounds = squad(draw, levels, 30, courses, home=True)
        rows = standings(rounds)
        adjusted += rows[0]["player"] == 0
        plain += max(rows, key=lambda row: row["mean"])["player"] == 0
    print(f"first: {adjusted} of {seasons} adjusted for courses, {plain} as played")
    assert adjusted > 0.5 * seasons > 2.5 * plain


def test_rounds_of_a_day_on_one_course_count_as_one() -> None:
    """Each round told twice, on one day and course: no more is known than from one. Twice on two days there is."""
    once = squad(np.random.default_rng(11), [1.0, 0.0, -2.0], 5, (0.0, 2.0))
    at = np.repeat(np.arange(15), 2)
    twice = SquadRounds(once.strokes[at], once.parts[at], once.player[at], once.course[at], at)
    for one, other in zip(standings(once), standings(twice), strict=True):
        for name in ("player", "beside_squad", "low", "high", "rank_low", "rank_high", "chances", "mean", "courses"):
            assert dict(other)[name] == pytest.approx(dict(one)[name], abs=1e-9)
        assert (one["rounds"], other["rounds"]) == (5, 10)
    apart = standings(twice._replace(day=np.arange(30)))
    width = [sum(row["high"] - row["low"] for row in rows) for rows in (standings(twice), apart)]
    assert width[1] < 0.9 * width[0]


@pytest.mark.simulation
def test_equals_with_two_rounds_a_day_have_intervals_that_hold() -> None:
    """Days apart by 2.7 strokes, rounds by 1.3, three days of two rounds: taken as six rounds apart the intervals of
    players alike held 0 in 81 %."""
    draw = np.random.default_rng(3)
    held, squads = 0, count(60, 1000)
    for _ in range(squads):
        day = np.repeat(np.arange(18), 2)
        course = draw.integers(0, 3, 18)
        course[:3] = [0, 1, 2]
        strokes = draw.normal(0, 2.7, 18)[day] + draw.normal(0, 1.3, 36)
        rows = standings(SquadRounds(strokes, np.ones(36), np.repeat(np.arange(6), 6), course[day], day))
        held += sum(row["low"] <= 0 <= row["high"] for row in rows)
    print(f"two rounds a day: held {100 * held / squads / 6:.1f} %")
    assert held / squads / 6 >= 0.88


@pytest.mark.simulation
def test_intervals_and_rank_intervals_hold_the_truth() -> None:
    """Levels drawn with a spread of 2 strokes, 20 rounds each: 90 % intervals hold 87 to 95 % of the levels beside the
    squad's mean; the interval of ranks holds the true rank in 87 % at least."""
    draw = np.random.default_rng(4)
    held = ranked = total = 0
    for _ in range(count(30, 500)):
        levels = draw.normal(0, 2, 8)
        rank = np.argsort(np.argsort(-levels)) + 1
        for row in standings(squad(draw, levels, 20, draw.normal(0, 2, 4))):
            true = levels[row["player"]] - levels.mean()
            held += row["low"] <= true <= row["high"]
            ranked += row["rank_low"] <= rank[row["player"]] <= row["rank_high"]
            total += 1
    print(f"held {100 * held / total:.1f} %, ranks {100 * ranked / total:.1f} % of {total}")
    slack = 3 * np.sqrt(0.09 / total)
    assert 0.87 - slack <= held / total <= 0.95 + slack
    assert ranked / total >= 0.87 - slack


def test_what_cannot_be_ordered_has_no_order() -> None:
    draw = np.random.default_rng(5)
    assert standings(squad(draw, [1.0], 10)) == []
    assert standings(squad(draw, [1.0, 2.0], LEAST_ROUNDS - 1)) == []
    one_course = SquadRounds(np.arange(8.0), np.ones(8), np.repeat([0, 1], 4), np.zeros(8, dtype=int))
    assert [row["player"] for row in standings(one_course)] == [1, 0]
    for still in ([1.0] * 8, [0.1 + place * 1e-16 for place in range(8)], [1.0] * 4 + [4.0] * 4):
        assert standings(one_course._replace(strokes=np.array(still))) == []
    assert "at least two players" in ranking_words([], [], "all strokes")
    assert "at least two players" in ranking_words([], ["Ash"], "all strokes")
    told = "No order: the rounds of each player are all equal: no spread to judge by."
    assert ranking_words([], ["Ash", "Birch"], "all strokes") == told
    with pytest.raises(ValueError, match="level: 1 is outside"):
        standings(one_course, 1.0)
