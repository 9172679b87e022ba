"""`attribute`: each `basis` by hand, where a shot ended, what outranks what. Values are printed rows of the tables."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import BASES, attribute
from server.game.categories import THREE_PART, CategoryScheme
from tests.analysis.played import baseline_of, feet, frame, shot

TOUR = load_baseline("tour")
ROUNDING = 1e-12

HOLE = [shot("tee", 400), shot("fairway", 160), shot("green", feet(30)), shot("green", feet(3), holed=True)]
HOLE_VALUES = [3.99 - 2.98 - 1, 2.98 - 1.98 - 1, 1.98 - 1.05 - 1, 1.05 - 1]


def valued(shots, baseline=TOUR, scheme=None, **same):
    return attribute(frame(shots, **same), baseline, scheme)


def bases(shots, baseline=TOUR):
    return valued(shots, baseline)["basis"].tolist()


def gained(shots, baseline=TOUR):
    """Strokes gained, None where there is none."""
    return [None if np.isnan(value) else value for value in valued(shots, baseline)["strokes_gained"]]


def close(*values):
    return [value if value is None else pytest.approx(value, abs=ROUNDING) for value in values]


def test_printed():
    table = valued(HOLE)
    assert table["basis"].tolist() == ["printed"] * 4
    assert table["expected_before"].tolist() == [3.99, 2.98, 1.98, 1.05]
    assert table["expected_after"].tolist() == [2.98, 1.98, 1.05, 0.0]
    assert table["strokes_gained"].tolist() == close(*HOLE_VALUES)
    assert table["end_lie"].tolist()[:3] == ["fairway", "green", "green"]
    assert table["end_lie"].isna().tolist() == [False, False, False, True]
    assert table["end_distance_yd"].tolist() == [160, 10, 1, 0]
    assert table["category"].tolist() == ["off_the_tee", "approach", "putting", "putting"]


def test_extended_start():
    """Fairway 5 yd: 2.18 - 0.11 = 2.07."""
    assert gained([shot("fairway", 5, holed=True)]) == close(1.07)
    assert bases([shot("fairway", 5, holed=True)]) == ["extended"]


def test_extended_end():
    """Green 1 ft: 1.005. The shot before it and the putt itself both rest on the extension."""
    shots = [shot("fairway", 100), shot("green", feet(1), holed=True)]
    assert gained(shots) == close(2.80 - 1.005 - 1, 0.005)
    assert bases(shots) == ["extended", "extended"]


def test_extended_touches_the_shots_beside_it_only():
    shots = [shot("tee", 400), shot("fairway", 160), shot("green", feet(120)), shot("green", feet(3), holed=True)]
    assert bases(shots) == ["printed", "extended", "extended", "printed"]


def test_no_end():
    shots = [shot("tee", 400), shot("fairway", 160)]
    assert bases(shots) == ["printed", "no_end"]
    assert gained(shots) == close(0.01, None)
    table = valued(shots)
    assert np.isnan(table["expected_after"][1])
    assert np.isnan(table["end_distance_yd"][1])
    assert table["expected_before"][1] == 2.98


def test_picked_up_with_an_end():
    shots = [shot("tee", 400), shot("fairway", 160, end_lie="green", end_distance_yd=10.0)]
    assert bases(shots) == ["printed", "printed"]
    assert gained(shots) == close(0.01, 0.0)


def test_shot_missing():
    shots = [shot("tee", 400, order=1), shot("green", feet(30), order=3), shot("green", feet(3), order=4, holed=True)]
    assert bases(shots) == ["shot_missing", "printed", "printed"]
    assert gained(shots) == close(None, 1.98 - 1.05 - 1, 0.05)


def test_entered_end_does_not_mend_a_missing_shot():
    """The end belongs to a ball that was picked up; here the next shot exists and was not recorded."""
    first = shot("tee", 400, order=1, end_lie="fairway", end_distance_yd=160.0)
    assert bases([first, shot("green", feet(30), order=3, holed=True)])[0] == "shot_missing"


def test_number_twice():
    shots = [
        shot("tee", 400, order=1),
        shot("fairway", 160, order=2),
        shot("rough", 160, order=2),
        shot("green", feet(3), order=3, holed=True),
    ]
    assert bases(shots) == ["number_twice", "number_twice", "number_twice", "printed"]
    assert gained(shots) == close(None, None, None, 0.05)


def test_after_holed():
    shots = [*HOLE[:2], shot("green", feet(30), holed=True), shot("green", feet(3), holed=True), shot("green", 1)]
    assert bases(shots) == ["printed", "printed", "printed", "after_holed", "after_holed"]
    assert gained(shots) == close(HOLE_VALUES[0], HOLE_VALUES[1], 0.98, None, None)


@pytest.mark.parametrize("lie", ["cart path", "", None, "Tee"])
def test_unknown_lie(lie):
    """Neither the shot from there nor the shot to there has a value; what is known of both is kept."""
    shots = [shot("tee", 400), shot(lie, 160), shot("green", feet(3), holed=True)]
    table = valued(shots)
    assert table["basis"].tolist() == ["unknown_lie", "unknown_lie", "printed"]
    assert table["expected_before"].tolist()[::2] == [3.99, 1.05]
    assert np.isnan(table["expected_before"][1])
    assert table["strokes_gained"].isna().tolist() == [True, True, False]
    assert table["category"].isna().tolist() == [False, True, False]


@pytest.mark.parametrize("yards", [0.0, -160.0, float("nan"), float("inf"), float("-inf"), 700.01, 1e9])
def test_bad_distance(yards):
    shots = [shot("tee", 400), shot("fairway", yards), shot("green", feet(3), holed=True)]
    assert bases(shots) == ["bad_distance", "bad_distance", "printed"]
    assert gained(shots) == close(None, None, 0.05)


@pytest.mark.parametrize(
    ("lie", "yards", "sound"), [("fairway", 700, True), ("green", 50, True), ("green", 50.01, False)]
)
def test_ends_of_the_ranges(lie, yards, sound):
    shots = [shot("tee", 400), shot(lie, yards, holed=True)]
    assert bases(shots) == (["extended", "extended"] if sound else ["bad_distance", "bad_distance"])


def test_lie_not_in_baseline(tmp_path):
    own = baseline_of(tmp_path, [("tee", "400", "yd", "4"), ("green", "10", "ft", "1.6")])
    shots = [shot("tee", 400), shot("sand", 20), shot("green", feet(10), holed=True)]
    assert bases(shots, own) == ["lie_not_in_baseline", "lie_not_in_baseline", "printed"]
    assert gained(shots, own) == close(None, None, 0.6)


def test_every_basis_is_explained_and_only_two_carry_a_value():
    assert list(BASES)[:2] == ["printed", "extended"]
    assert len(BASES) == 9
    assert valued(HOLE)["basis"].cat.categories.tolist() == list(BASES)


# what is entered for a ball with no next shot -> basis
ENTERED = [
    ({"end_lie": "fairway", "end_distance_yd": 160.0}, "printed"),
    ({"end_lie": "fairway"}, "bad_distance"),
    ({"end_distance_yd": 160.0}, "unknown_lie"),
    ({"end_lie": "path", "end_distance_yd": 160.0}, "unknown_lie"),
    ({"end_lie": "fairway", "end_distance_yd": 0.0}, "bad_distance"),
    ({"end_lie": "fairway", "end_distance_yd": 701.0}, "bad_distance"),
    ({"end_lie": "green", "end_distance_yd": 51.0}, "bad_distance"),
    ({"end_lie": "fairway", "end_distance_yd": 1.0}, "extended"),
    ({}, "no_end"),
]


@pytest.mark.parametrize(("end", "basis"), ENTERED)
def test_entered_ends(end, basis):
    assert bases([shot("tee", 400, **end)]) == [basis]


@pytest.mark.parametrize(("end", "basis"), ENTERED)
def test_next_shot_outranks_an_entered_end(end, basis):
    assert gained([shot("tee", 400, **end), *HOLE[1:]]) == close(*HOLE_VALUES)


@pytest.mark.parametrize(("end", "basis"), ENTERED)
def test_hole_outranks_an_entered_end(end, basis):
    assert gained([shot("tee", 400, holed=True, **end)]) == close(2.99)


def test_stroke_and_distance_is_minus_two_and_the_hole_still_sums():
    shots = [shot("tee", 400, penalty_strokes=1, penalty_reason="lost"), *HOLE]
    assert gained(shots) == close(-2.0, *HOLE_VALUES)
    assert sum(gained(shots)) == pytest.approx(3.99 - 6, abs=ROUNDING)


# penalty strokes, reason, entered end -> strokes gained and basis of a lone tee shot of 400 yd
ALONE = [
    (1, "lost", {}, -2.0, "printed"),
    (1, "out_of_bounds", {}, -2.0, "printed"),
    (1, "out_of_bounds", {"end_lie": "fairway", "end_distance_yd": 160.0}, 3.99 - 2.98 - 2, "printed"),
    (2, "out_of_bounds", {}, None, "no_end"),
    (2, "out_of_bounds", {"end_lie": "fairway", "end_distance_yd": 160.0}, 3.99 - 2.98 - 3, "printed"),
    (1, "penalty_area", {}, None, "no_end"),
    (1, "unplayable", {}, None, "no_end"),
    (1, "other", {}, None, "no_end"),
    (1, None, {}, None, "no_end"),
    (0, "lost", {}, None, "no_end"),
]


@pytest.mark.parametrize(("strokes", "reason", "end", "value", "basis"), ALONE)
def test_penalty_with_no_next_shot(strokes, reason, end, value, basis):
    shots = [shot("tee", 400, penalty_strokes=strokes, penalty_reason=reason, **end)]
    assert gained(shots) == close(value)
    assert bases(shots) == [basis]


def test_lost_beyond_the_printed_rows_is_marked():
    shots = [shot("tee", 650, penalty_strokes=1, penalty_reason="lost")]
    assert gained(shots) == [-2.0]
    assert bases(shots) == ["extended"]


def test_relief_counts_from_the_drop():
    shots = [shot("fairway", 200, penalty_strokes=1, penalty_reason="penalty_area"), shot("rough", 80, holed=True)]
    assert gained(shots) == close(3.19 - 2.96 - 2, 1.96)


def test_penalty_on_a_holed_shot():
    assert gained([shot("green", feet(3), holed=True, penalty_strokes=2, penalty_reason="other")]) == close(-1.95)


def test_extra_balls_have_values_of_their_own():
    extra = [shot("tee", 400, ball=2), shot("rough", 100, ball=2, holed=True)]
    assert gained([*HOLE, *extra]) == close(*HOLE_VALUES, 3.99 - 3.02 - 1, 2.02)


def test_balls_of_one_number_on_two_holes_and_rounds_stay_apart():
    shots = [row | {"round_id": name, "hole": hole} for name in ("a", "b") for hole in (1, 2) for row in HOLE]
    numbered = [row | {"order": place % 4 + 1} for place, row in enumerate(shots)]
    assert gained(numbered) == close(*HOLE_VALUES * 4)


def test_fringe_is_valued_as_fairway_and_named_fringe():
    table = valued([shot("tee", 400), shot("fringe", 12), shot("fairway", 12, holed=True)])
    assert table["expected_before"][1] == table["expected_before"][2]
    assert table["end_lie"][0] == "fringe"


def test_category_scheme_changes_the_category_alone():
    four, three = valued(HOLE), valued(HOLE, scheme=CategoryScheme(THREE_PART))
    assert three["category"].tolist() == ["long_game", "long_game", "putting", "putting"]
    assert four.drop(columns="category").equals(three.drop(columns="category"))


def test_tee_shots_on_par_three_are_approach():
    shots = [shot("tee", 160), shot("green", feet(30), holed=True)]
    assert valued(shots, par=3)["category"].tolist() == ["approach", "putting"]
    assert valued(shots, par=4)["category"].tolist() == ["off_the_tee", "putting"]


def test_next_shot_without_a_distance_is_not_taken_for_the_same_spot():
    """After a lost ball the next shot was recorded, without its distance: nobody knows where it was played from."""
    lost = shot("tee", 400, penalty_strokes=1, penalty_reason="lost")
    shots = [lost, shot("tee", float("nan")), shot("fairway", 160, holed=True)]
    assert bases(shots) == ["bad_distance", "bad_distance", "printed"]
    assert gained(shots) == close(None, None, 1.98)
