"""The benches run at tiny size, and the ways they compare give the same results. No test here looks at a time."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.lies import CODE, LIES
from tests.bench import bench_valuation as bench

TOUR = load_baseline("tour")
ROUNDING = 1e-12


@pytest.fixture(scope="module")
def frame():
    return bench.season_frame(900)


def test_season_frame_is_unsorted_and_always_the_same(frame):
    assert frame.equals(bench.season_frame(900))
    assert not frame["order"].eq(np.arange(900) % 5 + 1).all()
    assert frame["round_id"].nunique() == 10
    assert set(frame["lie"]) == set(LIES)
    assert frame.groupby("round_id", observed=True).size().tolist() == [90] * 10


def test_text_frame_holds_the_same_shots_in_cells_of_their_own(frame):
    text = bench.with_plain_text(frame)
    for name in ("lie", "round_id"):
        assert text[name].dtype == "str"
        assert text[name].tolist() == frame[name].tolist()
        assert len({id(cell) for cell in text[name].to_numpy(dtype=object)}) == len(frame)


def test_expected_agrees_with_interp_curve_by_curve(frame):
    """On the fairway the two ways do the same work; the other lies have their own curves."""
    ends = bench.BothEnds.of(frame)
    bare, valued = bench.two_interps(TOUR, ends), bench.two_expected(TOUR, ends)
    for side, lies in enumerate((ends.lie, ends.end_lie)):
        fairway = (lies == CODE["fairway"]) | (lies == CODE["fringe"])
        assert fairway.any()
        assert np.allclose(valued[side][fairway], bare[side][fairway], 0, ROUNDING)
        assert not np.isnan(valued[side]).any()


def test_attribute_agrees_with_the_row_by_row_way(frame):
    table = attribute(frame, TOUR)
    assert set(table["basis"]) == {"printed"}
    assert np.allclose(table["strokes_gained"], bench.row_by_row(frame, TOUR), 0, ROUNDING)


def test_attribute_agrees_on_text_and_categorical_columns(frame):
    table, text = attribute(frame, TOUR), attribute(bench.with_plain_text(frame), TOUR)
    assert table["strokes_gained"].equals(text["strokes_gained"])
    assert table["basis"].equals(text["basis"])


def test_valuation_bench_prints_its_table(capsys):
    assert bench.main(["--shots", "450", "--few", "90", "--runs", "2"]) == 0
    printed = capsys.readouterr().out
    assert "Median of 2 runs, 450 shots" in printed
    rows = [line for line in printed.splitlines() if line.startswith("| ")]
    assert len(rows) == 6
    assert all(line.count("|") == 6 for line in rows)
    assert "on 90 rows" in rows[-1]
