"""The drawing of a hole in ink, pins and tees of the day: through the browser's own modules, on one page."""

from __future__ import annotations

import json
import math
import re
from typing import Any

import pytest
from playwright.sync_api import Page
from shapely.geometry import LineString, Point, Polygon

from tests.web.phone import Server

GREEN = [[-14, 386], [0, 380], [16, 388], [18, 402], [4, 415], [-12, 408], [-14, 386]]
"""Its middle is not that of its box, so that left and right differ."""


def ring(*corners: tuple[float, float]) -> list[list[float]]:
    return [list(corner) for corner in (*corners, corners[0])]


def shape(golf: str, points: list[list[float]]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"golf": golf},
        "geometry": {"type": "Polygon", "coordinates": [points]},
    }


STRAIGHT = [
    shape("tee", ring((-4, -3), (4, -3), (4, 3), (-4, 3))),
    shape("fairway", ring((-16, 120), (16, 120), (16, 380), (-16, 380))),
    shape("green", GREEN),
    shape("bunker", ring((20, 250), (34, 250), (34, 270), (20, 270))),
    shape("lateral_water_hazard", ring((-50, 200), (-24, 200), (-24, 300), (-50, 300))),
    shape("water_hazard", ring((-40, 330), (40, 330), (40, 345), (-40, 345))),
    shape("trees", ring((40, 0), (90, 0), (90, 320), (40, 320))),
    shape("out_of_bounds", ring((95, 0), (400, 0), (400, 900), (95, 900))),
]
BENT_GREEN = [[150, 386], [164, 380], [180, 388], [182, 402], [168, 415], [152, 408], [150, 386]]
BENT = [
    STRAIGHT[0],
    shape("fairway", ring((-18, 120), (18, 120), (30, 250), (155, 370), (140, 392), (-10, 290))),
    shape("green", BENT_GREEN),
]


def plan(features: list[dict[str, Any]], pin: list[float], aim: float, reach: float) -> dict[str, Any]:
    """What the drawing takes of a plan, with one option aimed `aim` degrees right of the map's y."""
    option = {
        "name": "driver",
        "aim_deg": aim,
        "reach_yd": reach,
        "landings": {
            "right_yd": [-9, 0, 7, 30],
            "along_yd": [reach, reach + 8, reach - 12, reach - 5],
            "ends": ["fairway", "fairway", "rough", "sand"],
        },
        "carries": [
            {"kind": "water", "from_yd": 330, "to_yd": 345, "over": 0.4, "short": 0.5},
            {"kind": "sand", "from_yd": 60, "to_yd": 70, "over": 1.0, "short": 0.0},
        ],
    }
    return {"from": [0, 0], "pin": pin, "hole": {"number": 3}, "features": features, "options": [option]}


DRAW = """async ({plan, width, close, units}) => {
  const { planDrawing } = await import('/js/charts/plan-drawing.js');
  const { lengthsIn } = await import('/js/views/lengths.js');
  const holder = document.createElement('div');
  holder.id = 'drawn';
  document.querySelector('#drawn')?.remove();
  document.querySelector('main').append(holder);
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const how = { close, lengths: lengthsIn(units), words: 'a hole' };
  const room = { width, rem, id: 'd' };
  const drawn = planDrawing(plan, plan.options[0], how, room);
  const again = planDrawing(plan, plan.options[0], how, room);
  holder.append(drawn);
  const at = (one) =>
    ['x', 'cx', 'y', 'cy'].flatMap((name) => (one.hasAttribute(name) ? [Number(one.getAttribute(name))] : []));
  const box = (one) => { const b = one.getBBox(); return [b.x, b.y, b.x + b.width, b.y + b.height]; };
  const all = (names) => [...drawn.querySelectorAll(names)];
  const [wide, high] = ['width', 'height'].map((name) => Number(drawn.getAttribute(name)));
  const free = all('path, circle, rect, text').filter((one) => !one.closest('[clip-path], defs'));
  const beyond = ([left, top, right, bottom]) =>
    left < -0.5 || top < -0.5 || right > wide + 0.5 || bottom > high + 0.5;
  const classed = (names, of) => Object.fromEntries(all(names).map((one) => [one.getAttribute('class'), of(one)]));
  return {
    rem, same: drawn.outerHTML === again.outerHTML,
    ball: at(drawn.querySelector('.ball-mark')), aim: at(drawn.querySelector('.aim-ring')),
    labels: all('text').map((one) => [
      one.getAttribute('class'), one.textContent, ...at(one), one.getAttribute('text-anchor')]),
    boxes: all('text').map(box),
    shapes: classed('.ground-paper', box),
    marks: classed('.ink-mark', (one) => one.getAttribute('d')),
    outside: free.map(box).filter(beyond),
  };
}"""

COLOURS = """() => {
  const drawn = document.querySelector('#drawn svg');
  const parts = [...drawn.querySelectorAll('path, circle, rect, text')].filter((one) => !one.closest('defs'));
  const named = (name) => {
    const probe = document.createElement('i');
    probe.style.color = `var(--${name})`;
    drawn.parentElement.append(probe);
    const found = getComputedStyle(probe).color;
    probe.remove();
    return found;
  };
  return {
    named: Object.fromEntries(['paper', 'ink', 'ink-2', 'line', 'red'].map((name) => [name, named(name)])),
    used: parts.map((one) => {
      const { fill, stroke } = getComputedStyle(one);
      return [one.getAttribute('class'), one.closest('[clip-path]') ? 'in' : 'out', fill, stroke];
    }),
  };
}"""


@pytest.fixture(scope="module")
def page(module_page: Page, live_server: Server) -> Page:
    """One page for all of them, with the styles of the drawings."""
    module_page.add_style_tag(url=f"{live_server.address}/css/holes.css")
    return module_page


def drawn(page: Page, of: dict[str, Any], **how: Any) -> dict[str, Any]:
    given = {"plan": of, "width": 366, "close": False, "units": "yards"} | how
    found: dict[str, Any] = page.evaluate(DRAW, given)
    return found


def scale_of(found: dict[str, Any], of: dict[str, Any]) -> float:
    """Pixels a yard, by ball and aim ring."""
    return math.dist(found["ball"], found["aim"]) / float(of["options"][0]["reach_yd"])


STRAIGHT_PLAN = plan(STRAIGHT, [1, 397], 1.5, 275)
BENT_PLAN = plan(BENT, [166, 397], 12, 275)


@pytest.mark.parametrize("width", [288, 366, 740])
@pytest.mark.parametrize("close", [False, True])
def test_both_axes_have_one_scale(page: Page, width: int, close: bool) -> None:
    found = drawn(page, STRAIGHT_PLAN, width=width, close=close)
    scale = scale_of(found, STRAIGHT_PLAN)
    for one in STRAIGHT:
        kind, points = one["properties"]["golf"], one["geometry"]["coordinates"][0]
        left, top, right, bottom = found["shapes"][f"ground-paper edge-{kind}"]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        assert (right - left) / (max(xs) - min(xs)) == pytest.approx(scale, rel=0.01), kind
        assert (bottom - top) / (max(ys) - min(ys)) == pytest.approx(scale, rel=0.01), kind
    assert found["same"], "the same hole is drawn the same way each time"


@pytest.mark.parametrize("of", [STRAIGHT_PLAN, BENT_PLAN], ids=["straight", "bent"])
@pytest.mark.parametrize("units", ["yards", "metres"])
def test_distances_are_on_the_line_of_play(page: Page, of: dict[str, Any], units: str) -> None:
    """On the way to the aim, and from there to the pin, each as far from the ball as it says."""
    found = drawn(page, of, units=units)
    scale, unit = scale_of(found, of), 1.0 if units == "yards" else 1 / 0.9144
    (reach,) = [words for tone, words, *_ in found["labels"] if tone == "aim-words"]
    assert reach == ("aim 275 yd" if units == "yards" else "aim 251 m")
    (bx, by), turn = found["ball"], math.radians(of["options"][0]["aim_deg"])
    aim = (bx + math.sin(turn) * 275 * scale, by - math.cos(turn) * 275 * scale)
    assert found["aim"] == pytest.approx(aim, abs=0.05)
    pin = (bx + of["pin"][0] * scale, by - of["pin"][1] * scale)
    play = LineString([(bx, by), aim, pin])
    arcs = [label for label in found["labels"] if label[0] == "arc-words"]
    assert len(arcs) >= 4
    assert any(float(words) * unit > 280 for _, words, *_ in arcs), "beyond the aim too"
    for _, words, x, y, anchor in arcs:
        aside = 0.35 * found["rem"] * (-1 if anchor == "start" else 1)
        crossing = (x + aside, y + 0.25 * found["rem"])
        assert math.dist((bx, by), crossing) / scale == pytest.approx(float(words) * unit, abs=0.1), words
        assert play.distance(Point(crossing)) < 0.1, words


def test_only_what_may_have_to_be_carried_is_labelled_and_where_it_is_over(page: Page) -> None:
    far = plan(STRAIGHT, [1, 397], 1.5, 300)
    found = drawn(page, far)
    carries = [label for label in found["labels"] if label[0] == "carry-words"]
    assert [words for _, words, *_ in carries] == ["345 over water"]
    _, _, _, y, _ = carries[0]
    scale = scale_of(found, far)
    assert (found["ball"][1] - (y - 0.3 * found["rem"])) / scale == pytest.approx(345, abs=1)


def test_the_green_has_front_middle_and_back(page: Page) -> None:
    found = drawn(page, STRAIGHT_PLAN)
    turn = math.radians(1.5)
    aim = Point(math.sin(turn) * 275, math.cos(turn) * 275)
    green = Polygon(GREEN)
    middle = green.centroid
    away = middle.distance(aim)
    beyond = Point(aim.x + (middle.x - aim.x) * 2, aim.y + (middle.y - aim.y) * 2)
    line = LineString([aim, beyond]).intersection(green)
    ends = sorted(aim.distance(Point(point)) for point in line.coords)
    told = [words for tone, words, *_ in found["labels"] if tone == "green-words"]
    assert told == [f"back {ends[1]:.0f}", f"middle {away:.0f}", f"front {ends[0]:.0f}"]


@pytest.mark.parametrize("width", [272, 366, 740])
@pytest.mark.parametrize("of", [STRAIGHT_PLAN, BENT_PLAN], ids=["straight", "bent"])
def test_nothing_leaves_the_frame_and_no_words_overlap(page: Page, of: dict[str, Any], width: int) -> None:
    for close in (False, True):
        found = drawn(page, of, width=width, close=close)
        assert found["outside"] == []
        boxes = found["boxes"]
        for place, (left, top, right, bottom) in enumerate(boxes):
            for other in boxes[:place]:
                wide = min(right, other[2]) - max(left, other[0])
                high = min(bottom, other[3]) - max(top, other[1])
                assert wide < 2 or high < 6, (
                    found["labels"][place],
                    other,
                )  # the box of a font is higher than its letters
        numbers = [float(word) for d in found["marks"].values() for word in re.findall(r"M(-?[\d.]+)", d)]
        assert min(numbers) > -30
        assert max(numbers) < width + 30


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    channels = [int(word) / 255 for word in re.findall(r"\d+", colour)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_graphite_red_and_paper_alone_are_used_and_seen(page: Page, scheme: Any) -> None:
    """Marks have at least three times the contrast of paper (WCAG 2.2, 1.4.11); red is for the aim and the flag."""
    page.emulate_media(color_scheme=scheme)
    drawn(page, STRAIGHT_PLAN)
    found = page.evaluate(COLOURS)
    page.emulate_media(color_scheme="light")
    named = found["named"]
    assert len(set(named.values())) == 5
    paper = luminance(named["paper"])
    for name in ("ink", "ink-2", "line", "red"):
        high, low = sorted((luminance(named[name]), paper), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= 3, name
    assert len(found["used"]) > 30
    for classes, _, fill, stroke in found["used"]:
        assert classes, "every part has a style"
        for colour in (fill, stroke):
            assert colour in {"none", *named.values()}, (classes, colour)
            if colour == named["red"]:
                assert re.search(r"\b(aim|flag)", classes), classes
        assert fill != "none" or stroke != "none"


MODULE = """async ({name, calls}) => {
  const module = await import(name);
  return calls.map(([of, ...given]) => module[of](...given));
}"""


def asked(page: Page, name: str, *calls: Any) -> list[Any]:
    found: list[Any] = page.evaluate(MODULE, {"name": name, "calls": list(calls)})
    return found


def test_marks_lie_in_their_shape(page: Page) -> None:
    """Rows through a shape, even-odd, against shapely's; at three angles."""
    outer, inner = ring((10, 10), (180, 30), (150, 170), (30, 140)), ring((70, 60), (110, 60), (110, 100), (70, 100))
    area = Polygon(outer, [inner])
    for angle in (0.0, 0.5, -math.pi / 4):
        (rows,) = asked(page, "/js/charts/ink.js", ["rows", [outer, inner], angle, 6, {"width": 200, "height": 160}])
        assert len(rows) > 20
        total = 0.0
        for row in rows:
            ends = [
                (x * math.cos(angle) - row["y"] * math.sin(angle), x * math.sin(angle) + row["y"] * math.cos(angle))
                for x in (row["from"], row["to"])
            ]
            total += row["to"] - row["from"]
            assert area.buffer(0.01).covers(LineString(ends))
            assert all(-0.01 <= x <= 200.01 and -0.01 <= y <= 160.01 for x, y in ends)
        sheet = Polygon(ring((1, 1), (199, 1), (199, 159), (1, 159)))
        assert total * 6 == pytest.approx(area.intersection(sheet).area, rel=0.05)


def test_a_pin_goes_into_the_address_and_comes_back_the_same(page: Page) -> None:
    """Yards on from the front edge and from the edge at that depth, against shapely."""
    module = "/js/game/greens.js"
    (green,) = asked(page, module, ["greenOf", STRAIGHT])
    area = Polygon(GREEN)
    assert green["middle"] == pytest.approx(list(area.centroid.coords[0]))
    along = green["along"]
    for on, edge, far in [(6, "left", 4), (20, "right", 5.5), (30, "left", 9)]:
        (pin,) = asked(page, module, ["pinAt", green, on, edge, far])
        rounded = [round(value, 1) for value in pin]
        (again,) = asked(page, module, ["pinOn", green, rounded])
        assert again["on"] == pytest.approx(on, abs=0.11)
        assert again[edge] == pytest.approx(far, abs=0.2)
        assert area.covers(Point(pin))
        front = min(x * along[0] + y * along[1] for x, y in GREEN)
        assert pin[0] * along[0] + pin[1] * along[1] - front == pytest.approx(on)
        right = (along[1], -along[0])
        chord = LineString(
            [(pin[0] - 60 * right[0], pin[1] - 60 * right[1]), (pin[0] + 60 * right[0], pin[1] + 60 * right[1])]
        ).intersection(area)
        ends = sorted(x * right[0] + y * right[1] for x, y in chord.coords)
        where = pin[0] * right[0] + pin[1] * right[1]
        assert (where - ends[0] if edge == "left" else ends[1] - where) == pytest.approx(far)
    for deep in range(3):
        for across in range(3):
            (pin,) = asked(page, module, ["pinInThird", green, deep, across])
            (found,) = asked(page, module, ["pinOn", green, pin])
            assert found["on"] == pytest.approx(green["depth"] * (2 * deep + 1) / 6)
            assert found["left"] / found["wide"] == pytest.approx((2 * across + 1) / 6)
    assert asked(page, module, ["pinOn", green, [60, 390]], ["pinOn", green, [0, 0]]) == [None, None]


def test_a_bent_hole_s_green_is_approached_from_its_fairway(page: Page) -> None:
    (green,) = asked(page, "/js/game/greens.js", ["greenOf", BENT])
    assert green["along"][0] > 0.5, "not from the tee, which is straight below"
    (straight,) = asked(page, "/js/game/greens.js", ["greenOf", [shape("green", BENT_GREEN)]])
    middle = Polygon(BENT_GREEN).centroid
    far = math.hypot(middle.x, middle.y)
    assert straight["along"] == pytest.approx([middle.x / far, middle.y / far])


def test_options_are_folded_beyond_three_tenths(page: Page) -> None:
    module = "/js/views/plan-options.js"
    options = [{"name": str(n), "expected": value} for n, value in enumerate([4.0, 4.3, 4.31, 5.0])]
    (found,) = asked(page, module, ["byCost", options])
    assert [one["name"] for one in found["near"]] == ["0", "1"]
    assert [one["name"] for one in found["costly"]] == ["2", "3"]
    assert asked(page, module, ["costlyWords", options[2:]], ["costlyWords", options[3:]]) == [
        "2 more clubs cost more than 0.3 strokes",
        "1 more club costs more than 0.3 strokes",
    ]
    (alone,) = asked(page, module, ["byCost", options[:1]])
    assert alone == {"near": options[:1], "costly": []}


def test_pin_and_tee_of_the_day_are_stated_or_refused(page: Page) -> None:
    of = json.loads(json.dumps(STRAIGHT_PLAN)) | {"lie": "tee"}
    x, y = Polygon(GREEN).centroid.coords[0]
    far = math.hypot(x, y)
    of["hole"] |= {"length_yd": 380.0, "par": 4}
    card = [x * (1 - 380 / far), y * (1 - 380 / far)]
    forward = [card[0] + x / far * 12, card[1] + y / far * 12]
    words = page.evaluate(
        """async ([usual, day, off, far]) => {
          const { placeWords, placeFault } = await import('/js/views/plan-pin.js');
          const { lengthsIn } = await import('/js/views/lengths.js');
          const lengths = lengthsIn('yards');
          return [
            placeWords(usual, lengths), placeFault(usual, lengths, {}),
            placeWords(day, lengths), placeFault(day, lengths, { pin: 'x', at: 'y', lie: 'tee' }),
            placeFault(off, lengths, { pin: '60,390' }), placeFault(far, lengths, { at: 'y', lie: 'tee' }),
          ];
        }""",
        [
            of | {"pin": [x, y], "from": card},
            of | {"pin": [x - 8, y + 4], "from": forward},
            of | {"pin": [60, 390]},
            of | {"pin": [x, y], "from": [card[0] + x / far * 200, card[1] + y / far * 200]},
        ],
    )
    usual, usual_fault, day, day_fault, off, beyond = words
    assert (usual, usual_fault, day_fault) == ([], None, None)
    assert re.fullmatch(r"Pin of the day: \d+ yd on, \d+ yd from the left edge\.", day[0])
    assert day[1] == "Tee of the day: 12 yd forward of the card’s."
    assert off == "Pin: 60,390 is not on the green, which is 35 yd deep."
    assert beyond == "Tee forward of the card’s: 200 is outside −50 to 150 yd."
