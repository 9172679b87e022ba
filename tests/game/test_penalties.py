"""Penalties: reasons, strokes, and the ways on. The rules' own lines are checked in tests/published."""

from __future__ import annotations

import pytest

from server.game.penalties import PENALTY_STROKES, REASONS, WAYS_ON, returns_to_same_spot


def test_every_reason_has_its_ways_on():
    assert set(WAYS_ON) == set(REASONS)
    assert all(ways for ways in WAYS_ON.values())


def test_ways_on_are_told_apart_by_name():
    for ways in WAYS_ON.values():
        names = [way.name for way in ways]
        assert len(names) == len(set(names))
        assert all(way.words and way.rule for way in ways)
        assert {way.strokes for way in ways} <= set(PENALTY_STROKES)


@pytest.mark.parametrize("reason", [reason for reason in REASONS if reason != "other"])
def test_stroke_and_distance_comes_first_and_costs_one(reason):
    first = WAYS_ON[reason][0]
    assert first.same_spot
    assert first.strokes == 1
    assert [way.same_spot for way in WAYS_ON[reason][1:]] == [False] * (len(WAYS_ON[reason]) - 1)


@pytest.mark.parametrize(
    ("reason", "strokes", "same"),
    [
        ("out_of_bounds", 1, True),
        ("lost", 1, True),
        ("out_of_bounds", 2, False),
        ("out_of_bounds", 0, False),
        ("penalty_area", 1, False),
        ("unplayable", 1, False),
        ("other", 1, False),
        (None, 1, False),
    ],
)
def test_where_only_stroke_and_distance_is_left(reason, strokes, same):
    assert returns_to_same_spot(reason, strokes) is same
