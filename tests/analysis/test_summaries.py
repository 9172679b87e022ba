"""Summaries of valued shots, by hand, and their sums."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.analysis.strokes_gained.summaries import (
    BANDS_FT,
    BANDS_YD,
    GROUPINGS,
    NO_SETUP,
    default_balls,
    distance_band,
    summarise,
)
from server.analysis.strokes_gained.summary_intervals import COLUMNS as INTERVALS
from tests.analysis.played import feet, frame, shot

TOUR = load_baseline("tour")
CLOSE = 1e-12
COLUMNS = ["shots", "rounds", "strokes_gained", "per_shot", "extended"]


def every_column(by):
    """Intervals stand behind the plain figures; shrunk means only where clubs or categories are compared."""
    keys = ["hole", "course"] if by == "hole" else [by]
    return [
        *keys,
        *COLUMNS,
        *(name for name in INTERVALS if not name.startswith("shrunk") or by in ("club", "category")),
    ]


def season():
    """Two rounds: a par 4 in four with an extra ball, a par 3 picked up, the par 4 again with a long putt."""
    first = [
        shot("tee", 400, club="driver"),
        shot("fairway", 160, club="7 iron"),
        shot("green", feet(30), club="putter"),
        shot("green", feet(3), club="putter", holed=True),
        shot("fairway", 160, ball=2, club="7 iron", end_lie="green", end_distance_yd=feet(10)),
    ]
    short = [shot("tee", 160, hole=2, par=3, club="7 iron"), shot("sand", 20, hole=2, par=3, club="wedge")]
    again = [
        shot("tee", 400, club="driver"),
        shot("rough", 160, club="7 iron"),
        shot("green", feet(120), club="putter"),
        shot("green", feet(3), club="putter", holed=True),
    ]
    parts = [
        frame(first, round_id="r1", played_on="2026-04-30", setup="2026-01-01 old shaft"),
        frame(short, round_id="r1", played_on="2026-04-30", setup=None),
        frame(again, round_id="r2", played_on="2026-05-01", setup="2026-05-01 new shaft"),
    ]
    return attribute(pd.concat(parts, ignore_index=True), TOUR)


SEASON = season()
LONG_PUTT = 2.36 + 10 * (2.36 - 2.21) / 10
"""E(green, 120 ft), by the extension: 30 ft beyond the last row."""
VALUE = {
    "drive 1": 3.99 - 2.98 - 1,
    "iron 1": 2.98 - 1.98 - 1,
    "putts 1": 1.98 - 2,
    "extra iron": 2.98 - 1.61 - 1,
    "short tee": 2.99 - 2.53 - 1,
    "drive 2": 3.99 - 3.23 - 1,
    "iron 2": 3.23 - LONG_PUTT - 1,
    "putts 2": LONG_PUTT - 2,
}
"""Strokes gained of every valued shot by hand; the sand shot was picked up without an end."""


def by_hand(rows, by):
    """The expected rows: (group, names of the shots' values, shots, rounds, extended), best first."""
    made = []
    for group, names, shots, rounds, extended in rows:
        total = sum(VALUE[name] for name in names)
        made.append([group, shots, rounds, total, total / shots, extended])
    return pd.DataFrame(made, columns=[by, *COLUMNS])


def check(by, rows, balls=None):
    got = summarise(SEASON, by, balls).rows
    wanted = by_hand(rows, by)
    wanted = wanted.sort_values("strokes_gained", ascending=False, kind="stable", ignore_index=True)
    got = got.assign(**{by: got[by].astype(object)})[[by, *COLUMNS]]
    assert_frame_equal(got, wanted.astype({by: object}), rtol=0, atol=CLOSE, check_dtype=False)


def test_by_club_takes_every_ball():
    irons = ["iron 1", "extra iron", "short tee", "iron 2"]
    check(
        "club",
        [
            ("driver", ["drive 1", "drive 2"], 2, 2, 0),
            ("7 iron", irons, 4, 2, 1),
            ("putter", ["putts 1", "putts 2"], 4, 2, 1),
        ],
    )


def test_by_category_takes_the_ball_of_record():
    check(
        "category",
        [
            ("off_the_tee", ["drive 1", "drive 2"], 2, 2, 0),
            ("approach", ["iron 1", "short tee", "iron 2"], 3, 2, 1),
            ("putting", ["putts 1", "putts 2"], 4, 2, 1),
        ],
    )


def test_by_lie():
    check(
        "lie",
        [
            ("tee", ["drive 1", "drive 2", "short tee"], 3, 2, 0),
            ("fairway", ["iron 1"], 1, 1, 0),
            ("rough", ["iron 2"], 1, 1, 1),
            ("green", ["putts 1", "putts 2"], 4, 2, 1),
        ],
    )


def test_a_hole_is_one_of_its_course():
    """Hole 1 of two courses is two holes; without a course it is one more."""
    course = SEASON["round_id"].map({"r1": "North", "r2": "South"})
    rows = summarise(SEASON.assign(course=course), "hole").rows
    first = VALUE["drive 1"] + VALUE["iron 1"] + VALUE["putts 1"]
    again = VALUE["drive 2"] + VALUE["iron 2"] + VALUE["putts 2"]
    found = {(row["course"], row["hole"]): row["strokes_gained"] for row in rows.to_dict("records")}
    assert found == pytest.approx({("North", 1): first, ("North", 2): VALUE["short tee"], ("South", 1): again})
    assert set(summarise(SEASON, "hole").rows["course"]) == {"no course"}


def test_by_hole_round_and_month():
    first = ["drive 1", "iron 1", "putts 1"]
    second = ["drive 2", "iron 2", "putts 2"]
    check("hole", [(1, first + second, 8, 2, 2), (2, ["short tee"], 1, 1, 0)])
    check("round", [("r1", [*first, "short tee"], 5, 1, 0), ("r2", second, 4, 1, 2)])
    check("month", [("2026-04", [*first, "short tee"], 5, 1, 0), ("2026-05", second, 4, 1, 2)])
    days = SEASON.assign(played_on=pd.to_datetime(SEASON["played_on"]))
    assert summarise(days, "month").rows.equals(summarise(SEASON, "month").rows)


def test_by_distance():
    table = summarise(SEASON, "distance").rows
    counts = dict(zip(table["distance"], table["shots"], strict=True))
    assert counts == {
        "over 300 to 400 yd": 2,
        "over 150 to 175 yd": 3,
        "over 20 to 30 ft": 1,
        "over 60 to 150 ft": 1,
        "over 0 to 3 ft": 2,
    }


def test_by_setup():
    table = summarise(SEASON, "setup").rows
    counts = dict(zip(table["setup"], table["shots"], strict=True))
    assert counts == {
        "driver, 2026-01-01 old shaft": 1,
        "7 iron, 2026-01-01 old shaft": 2,
        "putter, 2026-01-01 old shaft": 2,
        f"7 iron, {NO_SETUP}": 1,
        "driver, 2026-05-01 new shaft": 1,
        "7 iron, 2026-05-01 new shaft": 1,
        "putter, 2026-05-01 new shaft": 2,
    }


def test_which_balls_count_can_be_chosen():
    check("category", [("off_the_tee", ["drive 1", "drive 2"], 2, 2, 0),
        ("approach", ["iron 1", "short tee", "iron 2", "extra iron"], 4, 2, 1),
        ("putting", ["putts 1", "putts 2"], 4, 2, 1)], "all")  # fmt: skip
    clubs = summarise(SEASON, "club", "of_record").rows.set_index("club")
    assert clubs.loc["7 iron", "shots"] == 3
    assert [default_balls(by) for by in GROUPINGS] == ["all", *["of_record"] * 7, "all"]


@pytest.mark.parametrize("balls", ["of_record", "all"])
@pytest.mark.parametrize("by", GROUPINGS)
def test_rows_sum_to_the_total(by, balls):
    made = summarise(SEASON, by, balls)
    valued = SEASON if balls == "all" else SEASON[SEASON["ball"] == 1]
    total = made.total
    assert made.by == by
    assert made.rows.columns.tolist() == every_column(by)
    assert total["strokes_gained"] == pytest.approx(valued["strokes_gained"].sum(), abs=CLOSE)
    assert made.rows["strokes_gained"].sum() == pytest.approx(total["strokes_gained"], abs=CLOSE)
    assert made.rows["shots"].sum() == total["shots"] == (10 if balls == "all" else 9)
    assert made.rows["extended"].sum() == total["extended"] == 2
    assert (total["rounds"], total["short_rounds"], total["holes"]) == (0, 2, 0)
    assert total["unvalued"] == 1
    assert total["per_shot"] == total["strokes_gained"] / total["shots"]
    parts = total["of_record"], total["extra_balls"]
    assert sum(part["shots"] for part in parts) == total["shots"]
    assert sum(part["strokes_gained"] for part in parts) == pytest.approx(total["strokes_gained"], abs=CLOSE)
    assert made.rows["strokes_gained"].is_monotonic_decreasing


def test_a_missing_group_still_counts_in_the_sum():
    some = SEASON.assign(club=SEASON["club"].where(SEASON["club"] != "driver", None))
    made = summarise(some, "club")
    assert made.rows["strokes_gained"].sum() == pytest.approx(made.total["strokes_gained"], abs=CLOSE)
    assert made.rows["shots"].sum() == made.total["shots"]


@pytest.mark.parametrize("by", GROUPINGS)
def test_no_shots_and_no_valued_shots(by):
    for nothing in (SEASON.iloc[:0], SEASON[SEASON["lie"] == "sand"]):
        made = summarise(nothing, by)
        assert len(made.rows) == 0
        assert made.rows.columns.tolist() == every_column(by)
        assert made.total["shots"] == 0
        assert made.total["strokes_gained"] == 0
        assert made.total["per_shot"] is None
        assert made.total["unvalued"] == len(nothing)


@pytest.mark.parametrize("by", GROUPINGS)
def test_one_shot(by):
    made = summarise(SEASON.iloc[[0]], by)
    assert made.rows["shots"].tolist() == [1]
    assert made.rows["strokes_gained"].tolist() == made.rows["per_shot"].tolist() == pytest.approx([0.01], abs=CLOSE)


@pytest.mark.parametrize("by", GROUPINGS)
def test_index_and_order_of_rows_do_not_matter_and_input_stays(by):
    wanted = summarise(SEASON, by)
    mixed = SEASON.iloc[np.random.default_rng(4).permutation(len(SEASON))].set_index(np.zeros(len(SEASON), dtype=int))
    before = mixed.copy(deep=True)
    got = summarise(mixed, by)
    assert_frame_equal(got.rows, wanted.rows, rtol=0, atol=CLOSE)
    assert_frame_equal(mixed, before)


def test_unknown_groupings_are_refused():
    with pytest.raises(ValueError, match="by: 'weather' is not one of club, "):
        summarise(SEASON, "weather")
    with pytest.raises(ValueError, match="balls: 'lost' is not one of of_record, all"):
        summarise(SEASON, "club", "lost")


def test_upper_bounds_belong_to_their_band():
    yards = [edge for edge in BANDS_YD if edge]
    off = distance_band(pd.Series(["rough"] * len(yards)), pd.Series(yards))
    wanted = [f"over {low:g} to {high:g} yd" for low, high in zip(BANDS_YD, yards, strict=False)]
    assert off.tolist() == wanted
    on = distance_band(pd.Series(["green"] * 9), pd.Series([edge / 3 for edge in BANDS_FT[1:]]))
    assert on.tolist() == [f"over {low:g} to {high:g} ft" for low, high in pairwise(BANDS_FT)]
    assert off.cat.categories.tolist() == on.cat.categories.tolist()


def test_every_possible_distance_has_a_band():
    yards = np.r_[np.nextafter(0, 1), np.linspace(0.01, 700, 7001)]
    assert distance_band(pd.Series(["fairway"] * yards.size), pd.Series(yards)).notna().all()
    putts = yards[yards <= 50]
    assert distance_band(pd.Series(["green"] * putts.size), pd.Series(putts)).notna().all()
    beyond = distance_band(pd.Series(["green", "rough", "rough"]), pd.Series([50.1, 700.1, np.nan]))
    assert beyond.isna().all()
