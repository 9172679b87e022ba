"""A map from a few numbers: widths, trouble and green lie where they were said to lie."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import Point

from server.game.hole_maps import kind_of, map_fault, polygon
from server.game.map_form import (
    SIDES,
    TROUBLE,
    HoleForm,
    MapFormError,
    Trouble,
    form_faults,
    map_from_form,
    middle_line,
)
from server.game.ranges import FARTHEST_YD

FORM = HoleForm(
    length_yd=420,
    green_depth_yd=30,
    green_width_yd=24,
    fairway=((200, 36), (300, 28)),
    trouble=(
        Trouble("out_of_bounds", "right", 40),
        Trouble("red water", "left", 30, 180, 260),
        Trouble("bunker", "short", 3),
        Trouble("trees", "long", 12),
    ),
)


def width_at(form: HoleForm, y: float) -> tuple[float, float]:
    """Left and right edge of the fairway at y."""
    area = next(polygon(found) for found in map_from_form(form) if kind_of(found) == "fairway")
    inside = [x / 10 for x in range(-1500, 1501) if area.contains(Point(x / 10, y))]
    return min(inside), max(inside)


def test_the_form_becomes_a_sound_map() -> None:
    made = map_from_form(FORM)
    assert map_fault(made) is None
    assert [kind_of(found) for found in made] == [
        "tee",
        "fairway",
        "green",
        "out_of_bounds",
        "lateral_water_hazard",
        "bunker",
        "trees",
    ]


@pytest.mark.parametrize(("y", "width"), [(150, 36), (200, 36), (250, 32), (300, 28), (390, 28)])
def test_the_fairway_is_as_wide_as_entered(y: float, width: float) -> None:
    left, right = width_at(FORM, y)
    assert right - left == pytest.approx(width, abs=0.25)
    assert right + left == pytest.approx(0, abs=0.25)


def test_green_and_trouble_lie_where_they_were_entered() -> None:
    found = {kind_of(made): polygon(made) for made in map_from_form(FORM)}
    assert (found["green"].centroid.x, found["green"].centroid.y) == pytest.approx((0, 420), abs=0.01)
    left, near, right, far = found["green"].bounds
    assert (right - left, far - near) == pytest.approx((24, 30), rel=0.01)
    assert found["out_of_bounds"].bounds[0] == pytest.approx(40)
    assert found["lateral_water_hazard"].bounds == pytest.approx((-130, 180, -30, 260))
    assert found["bunker"].bounds[3] == pytest.approx(420 - 15 - 3)
    assert found["trees"].bounds[1] == pytest.approx(420 + 15 + 12)


def test_a_bend_swings_the_middle_line_out_half_way() -> None:
    bent = replace(FORM, bend_yd=20.0, trouble=())
    assert [middle_line(bent, y) for y in (0, 210, 420)] == [0, 20, 0]
    left, right = width_at(bent, 250)
    assert (left + right) / 2 == pytest.approx(middle_line(bent, 250), abs=0.5)


def test_a_par_three_needs_no_fairway() -> None:
    made = map_from_form(HoleForm(160, 26, 22))
    assert [kind_of(found) for found in made] == ["tee", "green"]
    assert map_fault(made) is None


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"length_yd": 5000}, "length_yd: 5000 is outside 50 to 700 yd"),
        ({"length_yd": float("nan")}, "length_yd: nan is outside"),
        ({"green_depth_yd": 0}, "green_depth_yd: 0 is outside 5 to 80 yd"),
        ({"fairway": ((300, 30), (200, 30))}, "the second distance must be greater"),
        ({"fairway": ((200, 30), (250, 30), (300, 30))}, "3 widths are more than 2"),
        ({"fairway": ((200, 500),)}, "fairway 1, width: 500 is outside"),
        ({"trouble": (Trouble("moat", "left", 20),)}, "trouble 1, kind: 'moat' is not one of"),
        ({"trouble": (Trouble("trees", "above", 20),)}, "trouble 1, side: 'above' is not one of"),
        ({"trouble": (Trouble("trees", "left", 20, 300, 200),)}, "from 300 to 200 yd is not a valid range"),
    ],
)
def test_a_bad_number_is_named_with_its_range(changed: dict[str, object], words: str) -> None:
    with pytest.raises(MapFormError) as refused:
        map_from_form(replace(FORM, **changed))
    assert words in str(refused.value)
    assert len(refused.value.faults) == 1


@st.composite
def forms(draw: st.DrawFn) -> HoleForm:
    """Forms whose numbers lie within their ranges, edges and odd fractions included."""
    length = draw(st.floats(50, FARTHEST_YD))
    ats = sorted(draw(st.lists(st.floats(50, length), max_size=2, unique=True)))
    trouble = []
    for _ in range(draw(st.integers(0, 4))):
        from_yd = draw(st.none() | st.floats(0, length))
        to_yd = draw(st.none() | st.floats((from_yd or 0) + 1, 800))
        kind, side = draw(st.sampled_from(list(TROUBLE))), draw(st.sampled_from(SIDES))
        trouble.append(Trouble(kind, side, draw(st.floats(0, 150)), from_yd, to_yd))
    return HoleForm(
        length,
        draw(st.floats(5, 80)),
        draw(st.floats(5, 80)),
        tuple((at, draw(st.floats(5, 120))) for at in ats),
        tuple(trouble),
        draw(st.floats(-150, 150)),
    )


@given(forms())
def test_a_form_without_a_fault_is_a_map_without_a_fault(form: HoleForm) -> None:
    assume(not form_faults(form))
    assert map_fault(map_from_form(form)) is None
