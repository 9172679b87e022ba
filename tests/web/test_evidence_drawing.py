"""The drawing module, in the browser: scales, ticks, marks, and what it makes of nothing and of one point."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.web.phone import Phone

Draw = Callable[[str], Any]


@pytest.fixture
def draw(phone: Phone) -> Draw:
    """Evaluates JavaScript with the drawing module as `d`."""
    page = phone.open()

    def run(expression: str) -> Any:
        return page.evaluate(
            f"async () => {{ const d = await import('/js/evidence/drawing.js'); return {expression}; }}"
        )

    return run


def test_a_scale_runs_straight_through_its_ends(draw: Draw) -> None:
    assert draw("[-2, 0, 1, 2, 4].map(d.linearScale([-2, 2], [10, 90]))") == [10, 50, 70, 90, 130]
    assert draw("[0, 50, 100].map(d.linearScale([0, 100], [200, 0]))") == [200, 100, 0], "upwards on the screen"


def test_a_scale_of_one_value_goes_to_the_middle(draw: Draw) -> None:
    assert draw("[3, 4].map(d.linearScale([3, 3], [0, 80]))") == [40, 40]


@pytest.mark.parametrize(
    ("low", "high", "wanted", "values", "decimals"),
    [
        (0, 10, 5, [0, 2, 4, 6, 8, 10], 0),
        (-0.31, 0.24, 5, [-0.2, 0, 0.2], 1),
        (-0.3, 0.3, 6, [-0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3], 1),
        (-0.031, 0.012, 4, [-0.02, 0, ], 2),
        (-7, 131, 3, [0, 50, 100], 0),
        (5, 5, 4, [5], 0),
        (2, 1, 4, [], 0),
    ],
)  # fmt: skip
def test_ticks_are_round_numbers_within_the_range(
    draw: Draw, low: float, high: float, wanted: int, values: list[float], decimals: int
) -> None:
    assert draw(f"d.ticks({low}, {high}, {wanted})") == {"values": values, "decimals": decimals}


def test_ticks_never_show_a_minus_zero_or_a_rounding_error(draw: Draw) -> None:
    assert draw("d.ticks(-0.3, 0.3, 6).values.map((value) => Object.is(value, -0) ? 'minus zero' : String(value))") == [
        "-0.3", "-0.2", "-0.1", "0", "0.1", "0.2", "0.3",
    ]  # fmt: skip
    assert draw("d.ticks(NaN, 1, 4).values") == []


def test_an_extent_holds_every_number_and_passes_over_the_rest(draw: Draw) -> None:
    assert draw("d.extent([3, null, -1, NaN, undefined, 2], {room: 0})") == [-1, 3]
    assert draw("d.extent([0, 10], {room: 0.1})") == [-1, 11]


def test_an_extent_of_nothing_or_of_one_point_has_a_width(draw: Draw) -> None:
    assert draw("d.extent([], {least: 2, room: 0})") == [-1, 1]
    assert draw("d.extent([7], {least: 2, room: 0})") == [6, 8]


def test_bands_and_lines_break_at_gaps(draw: Draw) -> None:
    points = (
        "[{x: 0, low: 1, high: 3}, {x: 1, low: 1, high: 2}, {x: 2, low: null, high: null}, {x: 3, low: 4, high: 5}]"
    )
    assert draw(f"d.band({points}).getAttribute('d')") == "M0,3 L1,2 L1,1 L0,1 Z M3,5 L3,4 Z"
    line = "[{x: 0, y: 1}, {x: 1, y: 2}, {x: 2, y: null}, {x: 3, y: 4}]"
    assert draw(f"d.line({line}).getAttribute('d')") == "M0,1 L1,2 M3,4"


def test_nothing_is_drawn_of_nothing(draw: Draw) -> None:
    assert (
        draw("[d.band([]), d.band([{x: 1, low: null, high: 2}]), d.line([]), d.line([{x: 1, y: null}])]") == [None] * 4
    )


def test_a_whisker_ends_in_caps_and_in_an_arrow_beyond_the_frame(draw: Draw) -> None:
    assert draw("d.whisker(20, 60, 10).getAttribute('d')") == "M20,10 H60 M20,5 V15 M60,5 V15"
    assert draw("d.whisker(-20, 60, 10, {frame: [0, 100]}).getAttribute('d')") == "M0,10 H60 M5,5 L0,10 L5,15 M60,5 V15"
    assert (
        draw("d.whisker(20, 160, 10, {frame: [0, 100]}).getAttribute('d')")
        == "M20,10 H100 M20,5 V15 M95,5 L100,10 L95,15"
    )


def test_dots_differ_by_shape_and_not_by_colour_alone(draw: Draw) -> None:
    assert draw("['circle', 'square', 'diamond'].map((shape) => d.dot(5, 5, {shape}).tagName)") == [
        "circle",
        "rect",
        "path",
    ]
    assert draw("d.dot(5, 6, {open: true, tone: 'lost'}).getAttribute('class')") == "dot open lost"
    assert draw("['cx', 'cy', 'r'].map((name) => d.dot(5, 6, {radius: 4}).getAttribute(name))") == ["5", "6", "4"]


def test_a_picture_has_a_name_and_a_description_and_takes_text_as_text(draw: Draw) -> None:
    found = draw(
        """(() => {
          const drawn = d.picture({width: 100, height: 50, title: '<b>Trial</b>', description: 'A & B', id: 'p'}, d.text(1, 2, '<i>x</i>'));
          return {role: drawn.getAttribute('role'), by: drawn.getAttribute('aria-labelledby'), title: drawn.querySelector('#p-title').textContent,
                  desc: drawn.querySelector('#p-desc').textContent, tags: [...drawn.querySelectorAll('*')].map((one) => one.tagName)};
        })()"""
    )
    assert found == {
        "role": "img",
        "by": "p-title",
        "title": "<b>Trial</b>",
        "desc": "A & B",
        "tags": ["title", "desc", "text"],
    }


ROWS = "[{label: 'a', aside: '5 shots', value: -0.1, low: -0.2, high: 0, shrunk: -0.05, few: null}, {label: 'b', aside: '1 shot', value: 9, low: null, high: null, few: 'too few'}]"
WORDS = "{title: 't', description: 'd', left: 'loses', right: 'gains', signed: (value) => String(value)}"


def test_a_whisker_chart_draws_no_mark_where_too_little_is_known(draw: Draw) -> None:
    found = draw(
        f"""await (async () => {{
          const {{ whiskerChart, whiskerExtent }} = await import('/js/evidence/whisker-chart.js');
          const drawn = whiskerChart({ROWS}, {WORDS}, {{width: 390, rem: 16, id: 'c'}});
          const empty = whiskerChart([], {WORDS}, {{width: 390, rem: 16, id: 'e'}});
          return {{dots: drawn.querySelectorAll('.dot').length, marks: drawn.querySelectorAll('.tick-mark').length, few: drawn.querySelector('.few').textContent,
                   reach: whiskerExtent({ROWS}), empty: empty.querySelectorAll('.row-marks').length, zero: empty.querySelectorAll('.zero-line').length}};
        }})()"""
    )
    assert (found["dots"], found["marks"], found["few"]) == (1, 1, "too few")
    assert found["reach"][0] < -0.2 and 0 < found["reach"][1] < 0.1, (
        "the mean that is not shown does not stretch the axis"
    )
    assert (found["empty"], found["zero"]) == (0, 1)


def test_a_whisker_much_longer_than_the_others_does_not_squeeze_them(draw: Draw) -> None:
    reach = draw(
        """(await import('/js/evidence/whisker-chart.js')).whiskerExtent(
          [-0.1, 0, 0.1, 0.2].map((value) => ({value, low: value - 0.1, high: value + 0.1})).concat([{value: 0, low: -9, high: 9}]))"""
    )
    assert -0.5 < reach[0] < -0.2 and 0.3 < reach[1] < 0.5
