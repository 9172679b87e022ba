"""The drawing module, in the browser: scales, ticks, marks, and what it makes of nothing and of one point."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

Draw = Callable[[str], Any]


@pytest.fixture
def draw(module_page: Page) -> Draw:
    """Evaluates JavaScript with the drawing module as `d`."""
    page = module_page

    def run(expression: str) -> Any:
        return page.evaluate(f"async () => {{ const d = await import('/js/charts/drawing.js'); return {expression}; }}")

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


def test_an_interval_is_pressed_at_its_mean_and_ends_in_an_arrowhead_beyond_the_frame(draw: Draw) -> None:
    assert draw("d.whisker(20, 60, 10).getAttribute('d')") == "M20,9.4 L40,7.6 L60,9.4 V10.6 L40,12.4 L20,10.6 Z"
    assert draw("d.whisker(20, 60, 10, {at: 30}).getAttribute('d')").startswith("M20,9.4 L30,7.6 L60,9.4")
    assert draw("d.whisker(-20, 60, 10, {frame: [0, 100]}).getAttribute('d')").endswith(" Z M0,10 L5,5 V15 Z")
    assert draw("d.whisker(20, 160, 10, {frame: [0, 100]}).getAttribute('d')").endswith(" Z M100,10 L95,5 V15 Z")
    standing = draw("d.standingWhisker(10, 20, 60, {at: 30}).getAttribute('d')")
    assert standing == "M9.4,20 L7.6,30 L9.4,60 H10.6 L12.4,30 L10.6,20 Z"


def test_hatching_stays_in_its_box_and_leans_by_what_it_says(draw: Draw) -> None:
    gain, loss, none = draw(
        """await (async () => {
          const { hatching } = await import('/js/charts/pencil.js');
          return [hatching(10, 20, 20, 8, true), hatching(10, 20, 20, 8, false), hatching(10, 20, 0, 8, true)];
        })()"""
    )
    for path, leans in ((gain, 1), (loss, -1)):
        strokes = [[tuple(map(float, end.split(","))) for end in one.split(" L")] for one in path[1:].split(" M")]
        assert len(strokes) == 5
        for (x1, y1), (x2, y2) in strokes:
            assert 10 <= min(x1, x2) <= max(x1, x2) <= 30
            assert 20 <= min(y1, y2) <= max(y1, y2) <= 28
            assert (x2 - x1) * leans == y1 - y2 > 0, "up to the right for gained, down for lost"
    assert none == "", "nothing is drawn of nothing"


def test_a_tally_has_a_stroke_for_each_and_every_fifth_lies_across(draw: Draw) -> None:
    counts = draw(
        """await (async () => {
          const { tally, tallyLength } = await import('/js/charts/pencil.js');
          const strokes = (count) => tally(count, 0, 0).split('M').length - 1;
          return [[0, 1, 7].map(strokes), tallyLength(0), tallyLength(6, 10)];
        })()"""
    )
    assert counts == [[0, 1, 7], 0, 21]


BOXES = """[
  {label: 'a', aside: '5 shots', count: 5, middle: 10, box: [0, 20], whisker: [-30, 50]},
  {label: 'b', aside: '40 shots', count: 40, middle: 5, box: [0, 10], whisker: [-10, 20]},
]"""
NAMED = """{
  title: 't', description: 'd', left: 'l', right: 'r', number: String, zero: 'the target',
  marks: {middle: 'middle shot', box: 'middle half', whisker: ['10th', '90th percentile']},
}"""


def test_a_box_chart_names_its_marks_where_they_lie_and_counts_small_numbers_with_strokes(draw: Draw) -> None:
    found = draw(
        f"""await (async () => {{
          const {{ boxChart }} = await import('/js/charts/box-chart.js');
          return [[296, 16], [366, 16], [296, 32]].map(([width, rem]) => {{
            const drawn = boxChart({BOXES}, {NAMED}, {{width, rem, id: 'b'}});
            const names = [...drawn.querySelectorAll('text.direct')];
            return {{
              words: names.map((one) => one.textContent), leaders: drawn.querySelectorAll('.leader').length,
              places: names.map((one) => Number(one.getAttribute('x'))), height: Number(drawn.getAttribute('height')),
              lowest: Math.max(...names.map((one) => Number(one.getAttribute('y')))),
              strokes: [...drawn.querySelectorAll('.tally')].map((one) => one.getAttribute('d').split('M').length - 1),
            }};
          }});
        }})()"""
    )
    for one in found[:2]:
        assert one["words"] == ["the target", "middle shot", "10th", "middle half", "90th percentile"]
        assert one["leaders"] == 4
        assert one["places"][2:] == sorted(one["places"][2:])
    large = found[2]
    assert large["leaders"] == 0, "no room at the marks: lines under the axis"
    keys = "upright: middle shot box: middle half stroke: 10th to 90th percentile"
    assert large["words"][0] == "the target"
    assert " ".join(large["words"][1:]) == keys
    assert max(map(len, large["words"])) * 16 <= 296, "each line in its width, at half the text's height a letter"
    for one in found:
        assert one["strokes"] == [5], "40 is no small count"
        assert one["lowest"] < one["height"]


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
          const about = {width: 100, height: 50, title: '<b>Trial</b>', description: 'A & B', id: 'p'};
          const drawn = d.picture(about, d.text(1, 2, '<i>x</i>'));
          const words = (selector) => drawn.querySelector(selector).textContent;
          const by = ['role', 'aria-labelledby', 'aria-describedby'].map((name) => drawn.getAttribute(name));
          const tags = [...drawn.children].map((one) => one.tagName);
          return {by, title: words('#p-title'), desc: words('#p-desc'), tags};
        })()"""
    )
    assert found == {
        "by": ["img", "p-title", "p-desc"],
        "title": "<b>Trial</b>",
        "desc": "A & B",
        "tags": ["title", "desc", "text"],
    }


ROWS = """[
  {label: 'a', aside: '5 shots', value: -0.1, low: -0.2, high: 0, shrunk: -0.05, few: null},
  {label: 'b', aside: '1 shot', value: 9, low: null, high: null, few: 'too few'},
]"""
WORDS = "{title: 't', description: 'd', left: 'loses', right: 'gains', signed: (value) => String(value)}"


def test_a_whisker_chart_draws_no_mark_where_too_little_is_known(draw: Draw) -> None:
    found = draw(
        f"""await (async () => {{
          const {{ whiskerChart, whiskerExtent }} = await import('/js/charts/whisker-chart.js');
          const drawn = whiskerChart({ROWS}, {WORDS}, {{width: 390, rem: 16, id: 'c'}});
          const empty = whiskerChart([], {WORDS}, {{width: 390, rem: 16, id: 'e'}});
          const count = (picture, selector) => picture.querySelectorAll(selector).length;
          return {{
            marks: ['.dot', '.whisker', '.tick-mark'].map((mark) => count(drawn, mark)),
            few: drawn.querySelector('.few').textContent,
            reach: whiskerExtent({ROWS}), empty: ['.row-marks', '.zero-line'].map((mark) => count(empty, mark)),
          }};
        }})()"""
    )
    assert (found["marks"], found["few"]) == ([1, 1, 1], "too few")
    assert found["reach"][0] < -0.2
    assert 0 < found["reach"][1] < 0.1, "the mean that is not shown does not stretch the axis"
    assert found["empty"] == [0, 1]


def test_a_whisker_much_longer_than_the_others_does_not_squeeze_them(draw: Draw) -> None:
    low, high = draw(
        """(await import('/js/charts/whisker-chart.js')).whiskerExtent([
          ...[-0.1, 0, 0.1, 0.2].map((value) => ({value, low: value - 0.1, high: value + 0.1})),
          {value: 0, low: -9, high: 9},
        ])"""
    )
    assert -0.5 < low < -0.2
    assert 0.3 < high < 0.5


def test_a_label_is_above_its_row_where_there_is_no_room_beside_it(draw: Draw) -> None:
    anchors = draw(
        f"""await (async () => {{
          const {{ whiskerChart }} = await import('/js/charts/whisker-chart.js');
          const drawn = (width, rem) => whiskerChart({ROWS}, {WORDS}, {{width, rem, id: 'c'}});
          const anchor = (chart) => chart.querySelector('.row-label').getAttribute('text-anchor');
          return [drawn(366, 16), drawn(740, 16), drawn(740, 32)].map(anchor);
        }})()"""
    )
    assert anchors == ["start", "end", "start"], "on a phone, wide, wide with the text at 200 %"


def test_a_curve_chart_of_nothing_and_of_one_point(draw: Draw) -> None:
    found = draw(
        """await (async () => {
          const { curveChart } = await import('/js/charts/curve-chart.js');
          const axis = {domain: [0, 10], words: String};
          const about = {title: 't', description: 'd', x: 'feet', y: 'share'};
          const marks = (series) => {
            const drawn = curveChart(series, axis, axis, about, {width: 390, rem: 16, id: 'c'});
            return ['.dot', '.band', '.curve'].map((mark) => drawn.querySelectorAll(mark).length);
          };
          const dots = [{x: 5, y: 5, count: 3}];
          const curve = [{x: 1, y: 2, low: 1, high: 3}];
          return [[], [{curve: [], dots, tone: 'one'}], [{curve, dots, tone: 'one'}]].map(marks);
        })()"""
    )
    assert found == [[0, 0, 0], [1, 0, 0], [1, 1, 1]]


def test_sides_of_a_trial_come_from_the_setups(draw: Draw) -> None:
    names = ["driver, 2026-06-22 stiffer, shorter", "driver, as it was", "4 iron B, 2026-03-01 new"]
    rows = [{"setup": name} for name in [*names, "4 iron A, as it was", "10 iron, as it was"]]
    sides, pairs = draw(
        f"""await (async () => {{
          const {{ sidesOf, suggestions }} = await import('/js/views/sides.js');
          const sides = sidesOf({json.dumps(rows)});
          return [sides.map((side) => side.value), suggestions(sides).map((pair) => pair.map((side) => side.value))];
        }})()"""
    )
    assert sides == ["4 iron A", "4 iron B", "10 iron", "driver", "driver@as it was", "driver@2026-06-22"]
    assert pairs == [["4 iron A", "4 iron B"], ["driver@2026-06-22", "driver@as it was"]]
