"""Scores of holes from valued shots of the ball of record."""

from __future__ import annotations

import pandas as pd
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.analysis.strokes_gained.scorecard import COLUMNS, hole_scores
from tests.analysis.played import feet, frame, shot

TOUR = load_baseline("tour")
IN_FOUR = [shot("tee", 400), shot("fairway", 160), shot("green", feet(30)), shot("green", feet(3), holed=True)]


def scores(*parts):
    return hole_scores(attribute(pd.concat(parts, ignore_index=True), TOUR))


def test_strokes_penalties_putts_and_strokes_gained():
    lost = shot("tee", 400, penalty_strokes=1, penalty_reason="lost")
    extra = shot("tee", 400, ball=2, holed=True, penalty_strokes=2)
    table = scores(frame(IN_FOUR), frame([lost, *IN_FOUR, extra], hole=2))
    assert table.columns.tolist() == list(COLUMNS)
    assert table.index.tolist() == [("r1", 1), ("r1", 2)]
    assert table["strokes"].tolist() == [4, 6]
    assert table["penalty_strokes"].tolist() == [0, 1]
    assert table["putts"].tolist() == [2, 2]
    assert table["strokes_gained"].tolist() == pytest.approx([3.99 - 4, 3.99 - 6], abs=1e-12)
    assert table["unvalued"].tolist() == [0, 0]
    assert table["complete"].tolist() == [True, True]


INCOMPLETE = {
    "picked up": IN_FOUR[:2],
    "picked up with an end": [shot("tee", 400, end_lie="rough", end_distance_yd=90.0)],
    "number missing": [IN_FOUR[0] | {"order": 1}, IN_FOUR[3] | {"order": 3}],
    "first number missing": [IN_FOUR[2] | {"order": 3}, IN_FOUR[3] | {"order": 4}],
    "number twice": [IN_FOUR[0] | {"order": 1}, IN_FOUR[1] | {"order": 1}, IN_FOUR[3] | {"order": 2}],
    "shot after the hole": [*IN_FOUR, shot("green", 1)],
    "holed twice": [*IN_FOUR, shot("green", 1, holed=True)],
}


@pytest.mark.parametrize("what", INCOMPLETE)
def test_hole_without_a_score(what):
    table = scores(frame(INCOMPLETE[what]))
    assert table["complete"].tolist() == [False]
    assert table["strokes"].tolist() == [len(INCOMPLETE[what])]


def test_shots_without_a_value_are_counted():
    assert scores(frame(IN_FOUR[:2]))["unvalued"].tolist() == [1]
    whole = scores(frame([IN_FOUR[0], shot("path", 160), *IN_FOUR[2:]]))
    assert whole["unvalued"].tolist() == [2]
    assert whole["complete"].tolist() == [True]


def test_extra_balls_alone_make_no_row():
    assert len(scores(frame([shot("tee", 400, ball=2, holed=True)]))) == 0


def test_no_shots():
    assert len(scores(frame(IN_FOUR).iloc[:0])) == 0


def test_order_of_rows_does_not_matter():
    shots = pd.concat([frame(IN_FOUR), frame(IN_FOUR[:2], hole=2), frame(IN_FOUR, round_id="r2")], ignore_index=True)
    wanted, got = scores(shots), scores(shots.iloc[::-1])
    assert got.index.equals(wanted.index)
    assert got["complete"].equals(wanted["complete"])
    assert got["strokes_gained"].tolist() == pytest.approx(wanted["strokes_gained"].tolist(), abs=1e-12)
