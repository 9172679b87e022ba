"""`attribute` on frames of every kind: the input stays, the index is kept, columns may come in many types."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.lies import CODE
from tests.analysis.played import feet, frame, shot

TOUR = load_baseline("tour")
SHOTS = frame(
    [
        shot("tee", 400, penalty_strokes=1, penalty_reason="out_of_bounds"),
        shot("tee", 400),
        shot("rough", 160),
        shot("tee", 400, ball=2, end_lie="sand", end_distance_yd=40.0),
        shot("green", feet(30)),
        shot("green", feet(3), holed=True),
    ]
)
COMPUTED = ["end_lie", "end_distance_yd", "category", "expected_before", "expected_after", "strokes_gained", "basis"]
VALUED = attribute(SHOTS, TOUR)


def same_values(table, wanted=VALUED):
    """The computed columns agree, row by row, whatever the index."""
    assert_frame_equal(table[COMPUTED].reset_index(drop=True), wanted[COMPUTED].reset_index(drop=True))


def test_columns_come_back_in_place_with_the_computed_ones():
    assert VALUED.columns.tolist()[: len(SHOTS.columns)] == SHOTS.columns.tolist()
    assert set(VALUED.columns) == set(SHOTS.columns) | set(COMPUTED)
    untouched = [name for name in SHOTS.columns if name not in COMPUTED]
    assert_frame_equal(VALUED[untouched], SHOTS[untouched])
    assert VALUED["strokes_gained"].dtype == np.float64


@pytest.mark.parametrize(
    "index",
    [
        [5, 4, 3, 2, 1, 0],
        [7, 7, 7, 7, 7, 7],
        list("fedcba"),
        [0.5, -1.0, 2.0, 2.0, 9.0, np.nan],
        pd.date_range("2026-05-01", periods=6),
        pd.MultiIndex.from_product([["a", "b"], [1, 2, 3]], names=["round", "place"]),
    ],
    ids=["reversed", "duplicate", "text", "floats", "days", "two levels"],
)
def test_index_is_kept(index):
    shots = SHOTS.set_index(pd.Index(index) if isinstance(index, list) else index)
    before = shots.copy(deep=True)
    table = attribute(shots, TOUR)
    assert table.index.equals(shots.index)
    assert table.index.names == shots.index.names
    same_values(table)
    assert_frame_equal(shots, before)


def test_input_is_not_changed():
    shots = SHOTS.astype({"lie": "category", "round_id": "category"})
    before = shots.copy(deep=True)
    attribute(shots, TOUR)
    assert_frame_equal(shots, before)


def test_writing_into_the_result_does_not_reach_the_input():
    shots = SHOTS.copy(deep=True)
    table = attribute(shots, TOUR)
    table.loc[:, "distance_yd"] = 1.0
    table.loc[:, "penalty_strokes"] = 2
    assert_frame_equal(shots, SHOTS)


def test_no_shots():
    table = attribute(SHOTS.iloc[:0], TOUR)
    assert len(table) == 0
    assert table.columns.tolist() == VALUED.columns.tolist()
    assert table["basis"].cat.categories.equals(VALUED["basis"].cat.categories)


def test_one_shot():
    table = attribute(SHOTS.iloc[[5]], TOUR)
    assert table["strokes_gained"].tolist() == pytest.approx([0.05], abs=1e-12)
    assert table["basis"].tolist() == ["printed"]


def test_rows_in_any_order_give_the_very_same_values():
    for seed in range(20):
        rows = np.random.default_rng(seed).permutation(len(SHOTS))
        same_values(attribute(SHOTS.iloc[rows], TOUR), VALUED.iloc[rows])


@pytest.mark.parametrize("name", ["round_id", "hole", "order", "lie", "distance_yd"])
def test_missing_column_is_named(name):
    with pytest.raises(KeyError, match=f"missing column {name}"):
        attribute(SHOTS.drop(columns=name), TOUR)


def test_all_missing_columns_are_named():
    with pytest.raises(KeyError, match="missing column round_id, hole, order, lie, distance_yd"):
        attribute(pd.DataFrame({"ball": [1]}), TOUR)


def test_other_columns_have_defaults():
    """Ball 1, par 4, not holed, no penalty, no entered end."""
    needed = ["round_id", "hole", "order", "lie", "distance_yd"]
    table = attribute(SHOTS.loc[[1, 2, 4, 5], needed], TOUR)
    assert table["strokes_gained"].isna().tolist() == [False, False, False, True]
    assert table["basis"].tolist() == ["printed", "printed", "printed", "no_end"]
    assert table["category"].tolist() == ["off_the_tee", "approach", "putting", "putting"]
    assert table["strokes_gained"][1] == VALUED["strokes_gained"][1]


LIE_FORMS = {
    "object": lambda lie: lie.astype(object),
    "str": lambda lie: lie.astype("str"),
    "string": lambda lie: lie.astype("string"),
    "category": lambda lie: lie.astype("category"),
    "codes": lambda lie: lie.map(CODE).astype("int64"),
    "short codes": lambda lie: lie.map(CODE).astype("int8"),
}


@pytest.mark.parametrize("form", LIE_FORMS)
def test_lies_of_every_form(form):
    same_values(attribute(SHOTS.assign(lie=LIE_FORMS[form](SHOTS["lie"])), TOUR))


@pytest.mark.parametrize("dtype", ["object", "str", "category"])
def test_ids_reasons_and_end_lies_of_every_form(dtype):
    columns = ["round_id", "penalty_reason", "end_lie"]
    same_values(attribute(SHOTS.astype(dict.fromkeys(columns, dtype)), TOUR))


@pytest.mark.parametrize("dtype", ["object", "Float64", "float64"])
def test_numbers_of_every_form(dtype):
    columns = ["distance_yd", "end_distance_yd", "penalty_strokes"]
    same_values(attribute(SHOTS.astype(dict.fromkeys(columns, dtype)), TOUR))


def test_missing_numbers_of_every_form():
    """A distance that is missing is a bad distance, penalty strokes that are missing are none."""
    wanted = SHOTS.astype({"penalty_strokes": float})
    wanted.loc[2, "distance_yd"] = np.nan
    wanted.loc[4, "penalty_strokes"] = np.nan
    table = attribute(wanted, TOUR)
    assert table["basis"].tolist() == ["printed", "bad_distance", "bad_distance", *["printed"] * 3]
    assert table["strokes_gained"][4] == VALUED["strokes_gained"][4]
    for dtype in ("object", "Float64"):
        same_values(attribute(wanted.astype({"distance_yd": dtype, "penalty_strokes": dtype}), TOUR), table)
    gone = wanted.astype({"distance_yd": object})
    gone.loc[2, "distance_yd"] = None
    same_values(attribute(gone, TOUR), table)


@pytest.mark.parametrize("dtype", ["int8", "int64", "float64", "Int64", "object"])
def test_numbering_of_every_form(dtype):
    same_values(attribute(SHOTS.astype({"order": dtype, "hole": dtype, "ball": dtype, "par": dtype}), TOUR))


@pytest.mark.parametrize("dtype", ["object", "boolean", "int8"])
def test_holed_of_every_form(dtype):
    same_values(attribute(SHOTS.astype({"holed": dtype}), TOUR))


@pytest.mark.parametrize(("dtype", "nothing"), [("object", None), ("object", np.nan), ("boolean", pd.NA)])
def test_holed_that_is_missing_is_not_holed(dtype, nothing):
    shots = SHOTS.astype({"holed": dtype})
    shots.loc[:4, "holed"] = nothing
    same_values(attribute(shots, TOUR))


def test_single_precision_is_valued_as_the_number_it_holds():
    narrow = SHOTS.astype({"distance_yd": "float32", "end_distance_yd": "float32"})
    wide = narrow.astype({"distance_yd": "float64", "end_distance_yd": "float64"})
    same_values(attribute(narrow, TOUR), attribute(wide, TOUR))


def test_valuing_twice_changes_nothing():
    """The computed columns are replaced, and the ends that were found are the ends that are found again."""
    assert_frame_equal(attribute(VALUED, TOUR), VALUED)
