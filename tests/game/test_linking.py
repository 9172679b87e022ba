"""Linking the shots of a ball, and what is wrong where they cannot be linked."""

from __future__ import annotations

from unittest import mock

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.game.linking import AFTER_HOLED, GAP, IN_ORDER, NONE, REPEATED, link


def linked(order, holed=None, ball=None, hole=None, round_id=None):
    """`link` with what is not said the same for every shot."""
    size = len(order)
    return link(
        round_id if round_id is not None else ["r"] * size,
        hole if hole is not None else np.ones(size, dtype=int),
        ball if ball is not None else np.ones(size, dtype=int),
        order,
        np.array(holed if holed is not None else [False] * size, dtype=bool),
    )


def test_one_ball_in_order():
    links = linked([1, 2, 3, 4], [False, False, False, True])
    assert links.following.tolist() == [1, 2, 3, NONE]
    assert links.fault.tolist() == [IN_ORDER] * 4


def test_one_ball_in_any_order():
    links = linked([3, 1, 4, 2], [False, False, True, False])
    assert links.following.tolist() == [2, 3, NONE, 0]
    assert links.fault.tolist() == [IN_ORDER] * 4


def test_balls_holes_and_rounds_stay_apart():
    links = linked(
        [1, 2, 1, 2, 1, 2, 1, 2],
        ball=[1, 1, 2, 2, 1, 1, 1, 1],
        hole=[1, 1, 1, 1, 2, 2, 1, 1],
        round_id=["a", "a", "a", "a", "a", "a", "b", "b"],
    )
    assert links.following.tolist() == [1, NONE, 3, NONE, 5, NONE, 7, NONE]


@pytest.mark.parametrize("shots", [0, 1])
def test_no_shot_and_one_shot(shots):
    links = linked(np.ones(shots, dtype=int), [True] * shots)
    assert links.following.tolist() == [NONE] * shots
    assert links.fault.tolist() == [IN_ORDER] * shots


def test_missing_number_stops_the_chain():
    links = linked([1, 2, 4, 5])
    assert links.following.tolist() == [1, NONE, 3, NONE]
    assert links.fault.tolist() == [IN_ORDER, GAP, IN_ORDER, IN_ORDER]


def test_ball_that_starts_late_is_no_gap():
    links = linked([3, 4])
    assert links.following.tolist() == [1, NONE]
    assert links.fault.tolist() == [IN_ORDER, IN_ORDER]


@pytest.mark.parametrize("rows", [[0, 1, 2, 3, 4], [4, 3, 2, 1, 0], [2, 0, 4, 1, 3]])
def test_number_twice_and_the_shot_before_it(rows):
    """1, 2, 2, 3, 4: the end of 1 could be either 2, and neither 2 is known to lead to 3."""
    order = np.array([1, 2, 2, 3, 4])[rows]
    fault = np.array([REPEATED, REPEATED, REPEATED, IN_ORDER, IN_ORDER])[rows]
    links = linked(order)
    assert links.fault.tolist() == fault.tolist()
    assert [links.following[place] for place in np.flatnonzero(order < 3)] == [NONE] * 3
    three, four = np.flatnonzero(order == 3)[0], np.flatnonzero(order == 4)[0]
    assert links.following[three] == four
    assert links.following[four] == NONE


def test_number_three_times():
    assert linked([1, 1, 1, 2]).fault.tolist() == [REPEATED, REPEATED, REPEATED, IN_ORDER]


def test_number_twice_and_then_a_gap():
    assert linked([1, 1, 3]).fault.tolist() == [REPEATED, REPEATED, IN_ORDER]


def test_gap_before_a_number_twice():
    assert linked([1, 3, 3]).fault.tolist() == [GAP, REPEATED, REPEATED]


@pytest.mark.parametrize("rows", [[0, 1, 2, 3], [3, 2, 1, 0], [1, 3, 0, 2]])
def test_shots_after_the_hole(rows):
    order = np.array([1, 2, 3, 4])[rows]
    holed = np.array([False, True, False, True])[rows]
    fault = np.array([IN_ORDER, IN_ORDER, AFTER_HOLED, AFTER_HOLED])[rows]
    assert linked(order, holed).fault.tolist() == fault.tolist()


def test_holing_one_ball_does_not_touch_the_next():
    links = linked([1, 2, 1, 2, 3], [False, True, True, False, False], ball=[1, 1, 2, 2, 2])
    assert links.fault.tolist() == [IN_ORDER, IN_ORDER, IN_ORDER, AFTER_HOLED, AFTER_HOLED]


def test_number_twice_in_another_ball_is_no_fault():
    assert linked([1, 1, 1, 1], hole=[1, 2, 3, 4]).fault.tolist() == [IN_ORDER] * 4


IDS = ["zoe", "ann", "zoe", "bob", "ann", "bob"]
NUMBERS = {"zoe": 10**12, "ann": -5, "bob": 7}


@pytest.mark.parametrize(
    "column",
    [
        IDS,
        np.array(IDS),
        np.array(IDS, dtype=object),
        pd.Series(IDS, dtype=object),
        pd.Series(IDS, dtype="str"),
        pd.Series(pd.Categorical(IDS)),
        pd.Series(IDS, dtype="str", index=[5, 4, 3, 2, 1, 0]),
        pd.Series([NUMBERS[name] for name in IDS]),
        np.array([NUMBERS[name] % 100 for name in IDS], dtype=np.int8),
        pd.Series([float(NUMBERS[name]) for name in IDS]),
        pd.Series([NUMBERS[name] for name in IDS], dtype="Int64"),
        pd.to_datetime(pd.Series(["2026-05-03", "2026-05-01", "2026-05-03", "2026-05-02", "2026-05-01", "2026-05-02"])),
    ],
    ids=lambda column: f"{type(column).__name__}-{getattr(column, 'dtype', '')}",
)
def test_ids_of_every_form(column):
    links = linked([1, 1, 2, 2, 2, 1], round_id=column)
    assert links.following.tolist() == [2, 4, NONE, NONE, NONE, 3]
    assert links.fault.tolist() == [IN_ORDER] * 6


def test_order_as_whole_floats():
    assert linked(np.array([2.0, 1.0, 3.0])).following.tolist() == [2, 0, NONE]


def test_wide_ids_and_numbers_do_not_collide():
    """Rounds, holes, balls and shot numbers as wide as 64 bits can name them."""
    wide = np.array([0, 2**62, 0, 2**62, 2**61, 2**61])
    links = linked([1, 1, 2, 2, 1, 2], round_id=wide, hole=wide, ball=wide)
    assert links.following.tolist() == [2, 3, NONE, NONE, 5, NONE]
    far = linked([1, 2, 10**15, 10**15 + 1], round_id=["a"] * 4)
    assert far.following.tolist() == [1, NONE, 3, NONE]
    assert far.fault.tolist() == [IN_ORDER, GAP, IN_ORDER, IN_ORDER]


def test_many_balls_with_far_numbers_do_not_collide():
    """100,000 balls whose numbers reach 10**15: more than 64 bits hold as one number."""
    balls = np.arange(100_000)
    rounds = np.repeat(balls, 2)
    order = np.tile([1, 10**15], balls.size)
    links = linked(order, round_id=rounds)
    assert (links.fault[::2] == GAP).all()
    assert (links.fault[1::2] == IN_ORDER).all()
    assert (links.following == NONE).all()


def test_inputs_stay_as_they_were():
    order, holed = np.array([2, 1, 3, 3]), np.array([False, False, True, False])
    ids = pd.Series(["b", "a", "b", "b"])
    before = order.copy(), holed.copy(), ids.copy()
    link(ids, np.ones(4, dtype=int), np.ones(4, dtype=int), order, holed)
    assert np.array_equal(order, before[0])
    assert np.array_equal(holed, before[1])
    assert ids.equals(before[2])


def test_against_a_plain_walk():
    """1,000 shots of random balls with faults, against the rules spelt out shot by shot."""
    draw = np.random.default_rng(17)
    size = 1000
    round_id, hole, ball = draw.integers(0, 12, size), draw.integers(1, 5, size), draw.integers(1, 3, size)
    order, holed = draw.integers(1, 12, size), draw.random(size) < 0.05
    links = link(round_id, hole, ball, order, holed)
    for place in range(size):
        same = (round_id == round_id[place]) & (hole == hole[place]) & (ball == ball[place])
        numbers = order[same]
        twins = np.sum(numbers == order[place])
        heirs = np.flatnonzero(same & (order == order[place] + 1))
        if np.any(same & holed & (order < order[place])):
            assert links.fault[place] == AFTER_HOLED
        elif twins > 1 or heirs.size > 1:
            assert links.fault[place] in (REPEATED, AFTER_HOLED)
        elif heirs.size == 0 and np.any(numbers > order[place]):
            assert links.fault[place] == GAP
        else:
            assert links.fault[place] == IN_ORDER
        assert links.following[place] == (heirs[0] if twins == 1 and heirs.size == 1 else NONE)


@pytest.mark.parametrize("dtype", [object, "str", "string", "category"])
def test_missing_ids_are_one_and_the_same(dtype):
    """Shots without a round belong together, apart from those with one, however "missing" is written."""
    missing = [None, float("nan"), float("nan")] if dtype is object else [None] * 3
    ids = pd.Series([missing[0], "a", missing[1], "a", missing[2]], dtype=dtype)
    links = linked([1, 1, 2, 2, 3], round_id=ids)
    assert links.following.tolist() == [2, 3, 4, NONE, NONE]


def test_many_text_ids_against_their_numbers():
    """5,000 rows of 700 rounds, named by text with some missing, link as the same rows named by numbers."""
    draw = np.random.default_rng(11)
    numbers, order = draw.integers(0, 700, 5000), draw.integers(1, 9, 5000)
    names = np.array([f"round {number}" for number in range(700)], dtype=object)[numbers]
    names[numbers == 3] = None
    by_number = linked(order, round_id=numbers)
    for text in (names, pd.Series(names, dtype="str"), pd.Series(pd.Categorical(names))):
        by_text = linked(order, round_id=text)
        assert np.array_equal(by_text.following, by_number.following)
        assert np.array_equal(by_text.fault, by_number.fault)


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(1, 3), st.integers(1, 6), st.booleans()), max_size=40))
def test_places_and_order_link_alike(shots: list[tuple[int, int, int, bool]]) -> None:
    """Whatever is missing, twice or after the hole: linking by place says what putting rows in order says."""
    round_id, hole, order = (np.array([shot[at] for shot in shots], dtype=np.int64) for at in range(3))
    holed = np.array([shot[3] for shot in shots], dtype=np.bool_)
    ball = np.ones(len(shots), dtype=np.int64)
    by_place = link(round_id, hole, ball, order, holed)
    with mock.patch("server.game.linking.MOST_PLACES_A_SHOT", 0), mock.patch("server.game.linking.LEAST_PLACES", -1):
        in_order = link(round_id, hole, ball, order, holed)
    assert by_place.following.tolist() == in_order.following.tolist()
    assert by_place.fault.tolist() == in_order.fault.tolist()
