"""Properties of any legal hole: it telescopes, and nothing that must not matter does."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.categories import FOUR_PART, SCHEMES, THREE_PART, CategoryScheme
from server.game.units import FOOT, METRE, YARD, from_yards, to_yards
from tests.analysis.played import frame, shot
from tests.analysis.repeatable import REPEATABLE

TOUR = load_baseline("tour")
CLOSE = 1e-9

OFF_GREEN = ("fairway", "fringe", "rough", "sand", "recovery")
SAME_SPOT = (("out_of_bounds", 1), ("lost", 1), ("penalty_area", 1), ("unplayable", 1))
RELIEF = (("penalty_area", 1), ("unplayable", 1), ("unplayable", 2), ("lost", 2), ("other", 2), ("other", 1))
NO_PENALTY = (None, 0)


@st.composite
def balls(draw, number=1, from_tee=True):
    """The shots of one ball from the tee to the hole: up to 12, penalties with stroke and distance or relief."""
    shots = []
    lie = "tee" if from_tee else draw(st.sampled_from([*OFF_GREEN, "green"]))
    for place in range(draw(st.integers(1, 12))):
        if place and lie != "tee":
            lie = draw(st.sampled_from([*OFF_GREEN, "green"]))
        yards = draw(st.floats(0.01, 50 if lie == "green" else 700))
        again = draw(st.booleans())
        reason, strokes = draw(st.just(NO_PENALTY) | st.sampled_from(SAME_SPOT if again else RELIEF))
        one = shot(lie, yards, ball=number, penalty_strokes=strokes, penalty_reason=reason)
        shots.append(one)
        if again and strokes:
            shots.append(one | {"penalty_strokes": 0, "penalty_reason": None})
        lie = "anywhere"
    shots[-1]["holed"] = True
    return shots


@st.composite
def holes(draw):
    """A ball of record and up to three extra balls, on a hole of any par, as a frame in playing order."""
    shots = draw(balls())
    for number in range(2, 2 + draw(st.integers(0, 3))):
        extra = draw(balls(number, from_tee=draw(st.booleans())))
        if draw(st.booleans()):
            extra[-1]["holed"] = False
        shots += extra
    return frame(shots, par=draw(st.integers(3, 6)))


def of_record(table):
    return table[table["ball"] == 1]


def score(shots):
    record = of_record(shots)
    return len(record) + int(record["penalty_strokes"].sum())


@REPEATABLE
@given(holes())
def test_any_legal_hole_telescopes(shots):
    """The sum over the ball of record is E(first shot) - score."""
    table = of_record(attribute(shots, TOUR))
    start = TOUR.expected(table["lie"].iloc[0], table["distance_yd"].iloc[0])[0]
    assert set(table["basis"]) <= {"printed", "extended"}
    assert abs(table["strokes_gained"].sum() - (start - score(shots))) <= CLOSE


@REPEATABLE
@given(holes(), st.integers(0, 2**32 - 1))
def test_order_of_rows_does_not_matter(shots, seed):
    rows = np.random.default_rng(seed).permutation(len(shots))
    table, mixed = attribute(shots, TOUR), attribute(shots.iloc[rows], TOUR)
    pd.testing.assert_frame_equal(mixed.sort_index(), table, check_exact=True)


@REPEATABLE
@given(holes())
def test_extra_balls_do_not_change_the_ball_of_record(shots):
    with_extra, alone = of_record(attribute(shots, TOUR)), attribute(of_record(shots), TOUR)
    pd.testing.assert_frame_equal(with_extra, alone, check_exact=True)


@REPEATABLE
@given(holes(), holes(), st.integers(0, 2**32 - 1))
def test_other_holes_and_rounds_do_not_change_a_hole(first, second, seed):
    """Two holes, each in two rounds, mixed: every one has the values that it has alone."""
    parts = [part.assign(round_id=name, hole=hole) for name in ("r1", "r2") for hole, part in ((1, first), (2, second))]
    alone = pd.concat([attribute(part, TOUR)["strokes_gained"] for part in parts], ignore_index=True)
    together = pd.concat(parts, ignore_index=True)
    rows = np.random.default_rng(seed).permutation(len(together))
    mixed = attribute(together.iloc[rows], TOUR)["strokes_gained"].sort_index()
    pd.testing.assert_series_equal(mixed, alone, check_exact=True)


@REPEATABLE
@given(holes(), st.sampled_from([YARD, FOOT, METRE]))
def test_unit_of_entry_does_not_matter(shots, unit):
    """Written down in feet, metres or yards and read back; no curve is steep enough to make 1e-9 of that rounding."""
    entered = [from_yards(yards, unit) for yards in shots["distance_yd"]]
    again = shots.assign(distance_yd=[to_yards(length, unit) for length in entered])
    inside = again.assign(distance_yd=again["distance_yd"].clip(upper=np.where(again["lie"] == "green", 50, 700)))
    difference = attribute(inside, TOUR)["strokes_gained"] - attribute(shots, TOUR)["strokes_gained"]
    assert np.nanmax(np.abs(difference), initial=0.0) <= CLOSE
    if unit == YARD:
        assert (difference.dropna() == 0).all()


@REPEATABLE
@given(st.integers(1, 150), st.sampled_from([YARD, FOOT]))
def test_whole_feet_are_the_same_in_feet_and_yards(length, unit):
    """A putt of a whole number of feet has one value, whichever of the two units it was written in."""
    yards = to_yards(from_yards(length / 3, unit), unit)
    assert attribute(frame([shot("green", yards, holed=True)]), TOUR)["strokes_gained"][0] == (
        TOUR.expected("green", length / 3)[0] - 1
    )


@REPEATABLE
@given(holes(), st.sampled_from([FOUR_PART, THREE_PART]), st.floats(1, 700))
def test_categories_sum_to_the_total(shots, name, short_game_yd):
    table = attribute(shots, TOUR, CategoryScheme(name, short_game_yd)).dropna(subset="strokes_gained")
    groups = table.groupby("category", observed=True)["strokes_gained"].sum()
    assert set(groups.index) <= set(SCHEMES[name])
    assert abs(math.fsum(groups) - math.fsum(table["strokes_gained"])) <= CLOSE


@REPEATABLE
@given(holes())
def test_values_keep_their_bounds(shots):
    """A value never exceeds E(before) - 1, and the best that can happen is to hole out."""
    table = attribute(shots, TOUR)
    known = table.dropna(subset="strokes_gained")
    assert (known["strokes_gained"] <= known["expected_before"] - 1).all()
    assert (known["expected_before"] >= 1).all()
    assert ((known["expected_after"] >= 1) | known["holed"]).all()
    assert table["strokes_gained"].isna().equals(~table["basis"].isin(["printed", "extended"]))
