"""A provisional ball that becomes the ball in play (rule 18.3c). Values are checked in tests/published."""

from __future__ import annotations

import copy

import pytest

from server.game.provisional import provisional_in_play


def shot(ball, order, provisional=False, **others):
    return {"ball": ball, "order": order, "provisional": provisional, "penalty_strokes": 0, **others}


HOLE = [
    shot(1, 1, lie="tee"),
    shot(1, 2, lie="rough", end_lie="recovery", end_distance_yd=80.0),
    shot(2, 1, True, lie="rough"),
    shot(3, 1, lie="tee"),
    shot(2, 2, True, lie="green", holed=True),
]


def test_shots_follow_the_ball_that_is_lost():
    hole = provisional_in_play(HOLE, 2, "out_of_bounds")
    assert [(row["ball"], row["order"]) for row in hole] == [(1, 1), (1, 2), (1, 3), (3, 1), (1, 4)]
    assert [row["penalty_strokes"] for row in hole] == [0, 1, 0, 0, 0]
    assert hole[1]["penalty_reason"] == "out_of_bounds"
    assert (hole[1]["end_lie"], hole[1]["end_distance_yd"]) == (None, None)
    assert not any(row["provisional"] for row in hole)
    assert hole[4]["holed"] is True


def test_input_stays_and_other_balls_do_too():
    before = copy.deepcopy(HOLE)
    hole = provisional_in_play(HOLE, 2, "lost")
    assert before == HOLE
    assert hole[0] == HOLE[0]
    assert hole[3] == HOLE[3]
    assert all(after is not row for after, row in zip(hole, HOLE, strict=True))


def test_shots_in_any_order():
    hole = provisional_in_play(HOLE[::-1], 2, "lost")
    assert hole[::-1] == provisional_in_play(HOLE, 2, "lost")


@pytest.mark.parametrize("reason", ["penalty_area", "unplayable", "other", "", None])
def test_other_reasons_do_not_bring_it_into_play(reason):
    with pytest.raises(ValueError, match=r"penalty_reason: .*18\.3c"):
        provisional_in_play(HOLE, 2, reason)


@pytest.mark.parametrize(("shots", "ball"), [(HOLE, 3), (HOLE, 4), (HOLE[2:], 2), ([], 2)])
def test_no_such_provisional_ball(shots, ball):
    with pytest.raises(ValueError, match="is not a provisional ball of this hole"):
        provisional_in_play(shots, ball, "lost")
