"""Bent holes and words as wide as the font writes them: the drawing of a plan, of the browser's own modules on one
page."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page

Point = tuple[float, float]


def box(golf: str, *points: Point) -> dict[str, Any]:
    """A feature from its corners."""
    ring = [list(point) for point in (*points, points[0])]
    return {"type": "Feature", "properties": {"golf": golf}, "geometry": {"type": "Polygon", "coordinates": [ring]}}


def round_green(x: float, y: float, wide: float, deep: float) -> dict[str, Any]:
    """An oval green of 64 corners."""
    turns = np.linspace(0, 2 * math.pi, 64, endpoint=False)
    return box("green", *((x + wide / 2 * math.cos(turn), y + deep / 2 * math.sin(turn)) for turn in turns))


def bent_hole(bend: float = 45.0) -> dict[str, Any]:
    """A plan of a hole that turns right at 275 yd, with every kind of ground; `bend` in degrees."""
    turn = math.radians(bend)
    pin = (275 * math.sin(0.2) + 150 * math.sin(turn), 275 * math.cos(0.2) + 150 * math.cos(turn))
    features = [
        box("rough", (-90, -20), (260, -20), (260, 480), (-90, 480)),
        box("trees", (-80, 20), (-40, 20), (-40, 300), (-80, 300)),
        box("tee", (-4, -6), (4, -6), (4, 4), (-4, 4)),
        box("fairway", (20, 150), (55, 150), (75, 280), (150, 350), (130, 375), (40, 300)),
        box("bunker", (70, 255), (86, 255), (86, 272), (70, 272)),
        round_green(*pin, 26, 30),
        box("water_hazard", (20, 200), (70, 200), (70, 222), (20, 222)),
        box("lateral_water_hazard", (-30, 230), (-15, 230), (-15, 320), (-30, 320)),
        box("out_of_bounds", (190, 0), (240, 0), (240, 330), (190, 330)),
    ]
    option = {
        "name": "driver",
        "aim_deg": math.degrees(0.2),
        "reach_yd": 275.0,
        "landings": {
            "right_yd": [-30, -8, 0, 6, 12, 25],
            "along_yd": [270, 262, 281, 275, 268, 230],
            "ends": ["rough", "fairway", "fairway", "fairway", "sand", "water"],
        },
        "carries": [
            {"kind": "water", "from_yd": 204, "to_yd": 226, "over": 0.9, "short": 0.04},
            {"kind": "sand", "from_yd": 10, "to_yd": 20, "over": 1.0, "short": 0.0},
        ],
    }
    hole = {"number": 3, "par": 4, "length_yd": 425}
    return {"from": [0.0, 0.0], "pin": list(pin), "hole": hole, "features": features, "options": [option]}


DRAWN = """async ({ plan, width }) => {
  const { planDrawing } = await import('/js/charts/plan-drawing.js');
  const { lengthsIn } = await import('/js/views/lengths.js');
  const { styleSheet } = await import('/js/ui/style-sheet.js');
  for (const name of ['evidence', 'holes']) await styleSheet(`/css/${name}.css`);
  const sheet = document.createElement('div');
  sheet.style.width = `${width}px`;
  document.body.append(sheet);
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const how = { close: false, lengths: lengthsIn('yards'), words: 'in words' };
  const chance = Math.random;
  Math.random = () => { throw new Error('a drawing is not left to chance'); };
  try {
    const draw = () => planDrawing(plan, plan.options[0], how, { width, rem, id: 'x' });
    const svg = draw();
    const same = draw().outerHTML === svg.outerHTML;
    sheet.append(svg);
    const frame = svg.getBoundingClientRect();
    const labels = [...svg.querySelectorAll('text')].map((one) => {
      const { left, right, top, bottom } = one.getBoundingClientRect();
      const at = [left - frame.left, top - frame.top, right - frame.left, bottom - frame.top];
      return { words: one.textContent, tone: one.getAttribute('class'), at };
    });
    const outlines = [...svg.querySelectorAll('.ink-line')].map((one) => one.getAttribute('d'));
    return {
      same, labels, outlines,
      size: [Number(svg.getAttribute('width')), Number(svg.getAttribute('height'))],
      words: [svg.querySelector('title').textContent, svg.querySelector('desc').textContent],
      role: svg.getAttribute('role'),
    };
  } finally {
    Math.random = chance;
    sheet.remove();
  }
}"""

ASK = """async ({ module, name, given }) => (await import(module))[name](...given)"""


@pytest.fixture(scope="module")
def page(module_page: Page) -> Page:
    """One page for all: they ask its modules, and take away what they draw."""
    return module_page


def drawn(page: Page, plan: dict[str, Any], width: int = 366) -> Any:
    """What the drawing of a plan is made of."""
    return page.evaluate(DRAWN, {"plan": plan, "width": width})


def ask(page: Page, module: str, name: str, *given: Any) -> Any:
    """What a pure function of the browser's modules returns."""
    return page.evaluate(ASK, {"module": module, "name": name, "given": list(given)})


@pytest.mark.parametrize("bend", [-110, -30, 0, 45, 100])
def test_the_line_of_play_is_as_far_from_the_ball_as_asked(page: Page, bend: float) -> None:
    """On the way to the aim it lies on the line of aim, then on the line from there to the pin."""
    aim, turn = (275 * math.sin(0.2), 275 * math.cos(0.2)), math.radians(bend)
    pin = (aim[0] + 150 * math.sin(turn), aim[1] + 150 * math.cos(turn))
    for away in (1, 50, 200, 274.9, 275, 276, 300, 350, 400, 425, 500):
        spot = ask(page, "/js/charts/hole-distances.js", "onLineOfPlay", [0, 0], aim, pin, away)
        if spot is None:
            assert away > 275, "the way to the aim has every distance"
            assert away > math.hypot(*pin) or abs(bend) > 90, "and a hole that goes on from there, up to the pin"
            continue
        assert math.hypot(*spot) == pytest.approx(away)
        if away <= 275:
            assert spot == pytest.approx([aim[0] * away / 275, aim[1] * away / 275])
        else:
            assert math.dist(aim, spot) + math.dist(spot, pin) == pytest.approx(150, abs=1e-6)


@pytest.mark.parametrize("width", [296, 366, 760])
def test_labels_stay_in_the_frame_and_off_each_other(page: Page, width: int) -> None:
    for bend in (-70, 0, 45, 80):
        found = drawn(page, bent_hole(bend), width)
        wide, high = found["size"]
        assert len(found["labels"]) >= 4
        for one in found["labels"]:
            left, top, right, bottom = one["at"]
            assert -2 <= left <= right <= wide + 2, one
            assert -4 <= top <= bottom <= high + 4, one
        inner = [(one["at"][0], one["at"][1] + 3, one["at"][2], one["at"][3] - 3) for one in found["labels"]]
        for place, (left, top, right, bottom) in enumerate(inner):
            for other in inner[place + 1 :]:
                apart = right <= other[0] + 2 or other[2] <= left + 2 or bottom <= other[1] + 2 or other[3] <= top + 2
                assert apart, (found["labels"][place], other)


def test_the_same_hole_is_always_drawn_alike_and_described_in_words(page: Page) -> None:
    found = drawn(page, bent_hole())
    assert found["same"]
    assert found["role"] == "img"
    assert found["words"] == ["driver on hole 3", "in words"]
    assert found["outlines"] != drawn(page, bent_hole(20))["outlines"]


def test_grounds_and_landings_are_named_where_they_lie(page: Page) -> None:
    for width in (296, 366, 760):
        told: dict[str, list[str]] = {}
        for one in drawn(page, bent_hole(), width)["labels"]:
            told.setdefault(one["tone"], []).append(one["words"])
        assert told["aim-words"] == ["aim 275 yd"]
        marks = ["in the rough", "in trouble", "on the fairway"]
        assert set(told["mark-words"]) <= set(marks)
        assert len(told["mark-words"]) == len(set(told["mark-words"])) >= (3 if width > 300 else 2), width
        grounds = ["bunker", "fairway", "out of bounds", "red water", "trees", "yellow water"]
        assert set(told["ground-words"]) <= set(grounds), "each once, the green by its distances"
        assert len(told["ground-words"]) == len(set(told["ground-words"])) >= len(grounds) - 2, (width, told)
