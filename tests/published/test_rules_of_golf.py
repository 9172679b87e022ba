"""Each line of the Rules of Golf that moves the ball or adds a stroke, through `attribute`.

Source: The R&A and USGA, Rules of Golf, effective January 2023, as summed up in
reference/rules_of_golf_2023.csv. E values in the comments are printed rows of the shipped tables. The
Committee's local rules come first."""

from __future__ import annotations

import re

import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.order_of_play import check_bag, check_round
from server.game.penalties import MOST_CLUBS, WAYS_ON, returns_to_same_spot
from server.game.provisional import provisional_in_play
from tests.analysis.played import feet, frame, records, shot
from tests.published.reference_tables import read_rows

TOUR = load_baseline("tour")
LINES = {row["situation"]: row for row in read_rows("rules_of_golf_2023.csv")}
ROUNDING = 1e-12

# situation -> (penalised shot, where the next shot starts, strokes gained by hand)
CASES = {
    # E(tee 400) - E(tee 400) - 2
    "out of bounds or lost (3 min)": (shot("tee", 400, penalty_reason="out_of_bounds"), ("tee", 400), -2.0),
    # E(rough 100) - E(rough 100) - 2
    "stroke and distance, any time": (shot("rough", 100, penalty_reason="other"), ("rough", 100), -2.0),
    "penalty area: stroke and distance": (
        shot("fairway", 200, penalty_reason="penalty_area"),
        ("fairway", 200),
        -2.0,
    ),
    # 3.19 - 2.91 - 2: fairway 200 to a drop at rough 80 (2.96)
    "penalty area: back on the line": (
        shot("fairway", 200, penalty_reason="penalty_area"),
        ("rough", 80),
        3.19 - 2.96 - 2,
    ),
    # 3.19 to a drop at rough 40 (2.78)
    "red penalty area: lateral": (
        shot("fairway", 200, penalty_reason="penalty_area"),
        ("rough", 40),
        3.19 - 2.78 - 2,
    ),
    # no penalty, the next shot from where the ball lies: 3.19 to recovery 30 (3.57)
    "penalty area: as it lies": (
        shot("fairway", 200, penalty_reason="penalty_area"),
        ("recovery", 30),
        3.19 - 3.57 - 1,
    ),
    "unplayable: stroke and distance": (
        shot("fairway", 180, penalty_reason="unplayable"),
        ("fairway", 180),
        -2.0,
    ),
    # 3.99 (tee 400) to rough 200 (3.42)
    "unplayable: back on the line": (
        shot("tee", 400, penalty_reason="unplayable"),
        ("rough", 200),
        3.99 - 3.42 - 2,
    ),
    # 3.99 to rough 160 (3.23)
    "unplayable: lateral": (shot("tee", 400, penalty_reason="unplayable"), ("rough", 160), 3.99 - 3.23 - 2),
    # fairway 160 (2.98) plugged in sand, dropped in sand at 20 yd (2.53)
    "unplayable in bunker, line or lateral": (
        shot("fairway", 160, penalty_reason="unplayable"),
        ("sand", 20),
        2.98 - 2.53 - 2,
    ),
    # the same, dropped outside the bunker at rough 40 (2.78) for two strokes
    "unplayable in bunker, line outside": (
        shot("fairway", 160, penalty_reason="unplayable"),
        ("rough", 40),
        2.98 - 2.78 - 3,
    ),
    # tee 400 (3.99) out of bounds, dropped at the fairway's edge at 160 yd (2.98), the player then plays the
    # fourth
    "local rule alternative to stroke and distance": (
        shot("tee", 400, penalty_reason="out_of_bounds"),
        ("fairway", 160),
        3.99 - 2.98 - 3,
    ),
    # two strokes for a breach on a shot that went from fairway 160 (2.98) to green 30 ft (1.98)
    "more than 14 clubs, stroke play": (
        shot("fairway", 160, penalty_reason="other"),
        ("green", 10),
        2.98 - 1.98 - 3,
    ),
    "breach of practice rule": (shot("fairway", 160, penalty_reason="other"), ("green", 10), 2.98 - 1.98 - 3),
    "general penalty": (shot("fairway", 160, penalty_reason="other"), ("green", 10), 2.98 - 1.98 - 3),
}

ELSEWHERE = {
    "provisional ball",  # below: it only counts once the first ball is lost
    "more than 14 clubs, match play",  # moves a match score, never a stroke: nothing here to value
}


def strokes_of(situation: str) -> int:
    """The penalty strokes of one line: the first number of its text."""
    found = re.search(r"\d", LINES[situation]["penalty_strokes"])
    assert found is not None
    return int(found.group())


def test_every_line_of_the_file_has_its_case():
    assert set(CASES) | ELSEWHERE == set(LINES)
    assert len(LINES) == 17


@pytest.mark.parametrize("situation", CASES)
def test_strokes_gained_of_each_line(situation):
    penalised, (lie, yards), expected = CASES[situation]
    shots = frame([penalised | {"penalty_strokes": strokes_of(situation)}, shot(lie, yards, holed=True)])
    valued = attribute(shots, TOUR)
    assert valued["strokes_gained"][0] == pytest.approx(expected, abs=ROUNDING)
    assert valued["end_lie"][0] == lie
    assert valued["end_distance_yd"][0] == yards


@pytest.mark.parametrize("situation", [name for name, row in LINES.items() if "previous" in row["next_position"]])
def test_stroke_and_distance_is_exactly_minus_two_from_anywhere(situation):
    assert strokes_of(situation) == 1
    for lie, yards in [
        ("tee", 437.7),
        ("fairway", 3.3),
        ("rough", 611.0),
        ("sand", 91.2),
        ("recovery", 88.8),
    ]:
        again = [shot(lie, yards, penalty_strokes=1, penalty_reason="other"), shot(lie, yards, holed=True)]
        assert attribute(frame(again), TOUR)["strokes_gained"][0] == -2.0


@pytest.mark.parametrize("reason", WAYS_ON)
def test_ways_on_carry_the_strokes_of_their_rule(reason):
    by_rule: dict[str, int] = {}
    for situation, row in LINES.items():
        by_rule.setdefault(row["rule"].replace("MLR", "model local rule"), strokes_of(situation))
    for way in WAYS_ON[reason]:
        if way.rule != "as ruled":
            assert way.strokes == by_rule[way.rule], way
            assert way.same_spot == (way.rule in {"18.2b", "17.1d(1)", "19.2a"}), way


def test_every_way_on_of_rules_17_to_19_is_offered():
    offered = {way.rule for ways in WAYS_ON.values() for way in ways}
    printed = {row["rule"].replace("MLR", "model local rule") for row in LINES.values()}
    in_force = {rule for rule in printed if rule.startswith(("17", "18.2", "19", "model"))}
    # 19.3a is 19.2b and 19.2c played inside the bunker, for the same stroke
    assert in_force - offered == {"19.3a"}


def test_lost_and_out_of_bounds_alone_leave_no_other_way():
    assert returns_to_same_spot("out_of_bounds", 1)
    assert returns_to_same_spot("lost", 1)
    assert not returns_to_same_spot("lost", 2)
    assert not returns_to_same_spot("penalty_area", 1)
    assert not returns_to_same_spot("unplayable", 1)
    assert not returns_to_same_spot(None, 0)


def provisional_hole(ended):
    """A drive in doubt, a provisional from the same tee, its second shot."""
    first = shot("tee", 400, **ended)
    second = shot("tee", 400, ball=2, provisional=True)
    third = shot("fairway", 160, ball=2, provisional=True, end_lie="green", end_distance_yd=feet(30))
    return records(frame([first, second, third]))


def test_provisional_ball_that_comes_into_play():
    """18.3c: the first ball is lost, so the provisional counts, after one stroke for the first: it is played
    as the third shot. -2 for the lost drive; 3.99 - 2.98 - 1 for the provisional drive; 2.98 - 1.98 - 1 for
    its second."""
    hole = provisional_in_play(provisional_hole({}), 2, "lost")
    assert [row["ball"] for row in hole] == [1, 1, 1]
    assert [row["order"] for row in hole] == [1, 2, 3]
    assert [row["penalty_strokes"] for row in hole] == [strokes_of("provisional ball"), 0, 0]
    assert [row["provisional"] for row in hole[1:]] == [False, False]
    valued = attribute(frame(hole), TOUR)
    assert valued["strokes_gained"].tolist() == pytest.approx([-2.0, 3.99 - 2.98 - 1, 2.98 - 1.98 - 1], abs=ROUNDING)


def test_provisional_ball_that_is_abandoned():
    """18.3c(3): the first ball is found in the rough at 160 yd (3.23) and the provisional never counts for
    the score."""
    found = provisional_hole({"end_lie": "rough", "end_distance_yd": 160.0})
    valued = attribute(frame(found), TOUR)
    of_record = valued[valued["ball"] == 1]
    assert of_record["strokes_gained"].tolist() == pytest.approx([3.99 - 3.23 - 1], abs=ROUNDING)
    assert check_round(found, [1], "competition") == []


def test_provisional_ball_is_not_for_a_penalty_area():
    """18.3a: not allowed if the only possible place is a penalty area."""
    with pytest.raises(ValueError, match="penalty_area"):
        provisional_in_play(provisional_hole({}), 2, "penalty_area")


def test_more_than_fourteen_clubs_are_warned_of():
    assert MOST_CLUBS == 14
    clubs = [f"club {number}" for number in range(15)]
    assert check_bag(clubs[:14], "competition") == []
    (problem,) = check_bag(clubs, "competition")
    assert problem.severity == "warning"
    assert "4.1b" in problem.message
    assert "15 clubs" in problem.message
    assert [problem.severity for problem in check_bag(clubs, "casual")] == ["warning"]
    assert check_bag(clubs, "practice") == []


@pytest.mark.parametrize(("kind", "refused"), [("practice", False), ("casual", True), ("competition", True)])
def test_extra_balls_belong_to_practice(kind, refused):
    """5.5: no practice stroke during the play of a hole."""
    hole = records(frame([shot("tee", 150, holed=True), shot("tee", 150, ball=2, holed=True)]))
    problems = check_round(hole, [1], kind)
    assert [(problem.field, problem.place, problem.severity) for problem in problems] == (
        [("ball", 1, "error")] if refused else []
    )
