"""Maps and plans, light and dark, phone and wide, text enlarged: accessible, tappable, readable, never too wide."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.evidence_pages import demo_player
from tests.web.measures import INSIDE, LEAST_TARGET_PX, SMALL_TARGETS, TOO_WIDE, faults_of, grow_text, take_picture
from tests.web.phone import Phone, Server

PICTURES = Path(__file__).resolve().parents[2] / ".artifacts" / "screens" / "plans"
SCREENS = 6


def shown(device: Phone, demo: Server, width: int, height: int) -> Iterator[str]:
    """Walks through the maps of the course and the plans; yields the name of each screen while it is shown."""
    page = device.open()
    page.set_viewport_size({"width": width, "height": height})
    player = demo_player(demo)
    page.get_by_role("button", name="Wren Quillfeather").click()
    page.wait_for_selector("#new-round")
    device.wait_sent()
    course = device.live("course")[0]["record_id"]

    def go(address: str, wait: str) -> None:
        page.goto("about:blank")
        page.goto(f"{demo.address}/#/{address}")
        page.wait_for_selector(wait, timeout=60_000)
        page.evaluate("() => document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        page.wait_for_timeout(200)

    go(f"courses/{course}/map", ".hole-list svg")
    yield "maps of a course"
    go(f"courses/{course}/map/5", "#map-drawing svg")
    yield "an imported map"
    page.fill("#map-wide-1", "34")
    page.click("#bend-left")
    for number, side in enumerate(("left", "right", "short", "long"), start=1):
        page.click(f"#add-{side}")
        page.fill(f"#map-begins-{number}", "25")
    page.click("#map-part-1-part")
    page.fill("#map-depth", "300")
    page.click("#save-map")
    yield "a map with faults"
    go(f"evidence/{player}/plan?{urlencode({'ground': course, 'tees': 'middle', 'hole': 8})}", "#plan-verdict")
    yield "plan from the tee"
    where = {"ground": course, "tees": "middle", "hole": 8, "at": "-11,366", "lie": "rough", "option": "9 iron"}
    go(f"evidence/{player}/plan?{urlencode(where)}", "#plan-verdict")
    page.click("#look-close")
    page.wait_for_timeout(300)
    yield "approach, close"
    go(f"evidence/{player}/round-plan", ".round-plan tbody tr:nth-child(6)")
    yield "plan of the round"


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_maps_and_plans_are_accessible_and_readable(
    make_phone: Any, demo: Server, theme: str, width: int, height: int
) -> None:
    device: Phone = make_phone(demo, color_scheme=theme, reduced_motion="reduce")
    axe, problems, seen = Axe(), [], 0
    for name in shown(device, demo, width, height):
        seen += 1
        take_picture(device.page, PICTURES / f"{theme}-{width}", name)
        problems += faults_of(axe, device.page, name)
    assert seen == SCREENS
    assert problems == []
    assert device.errors == []


@pytest.mark.parametrize(("width", "zoom"), [(320, 1), (390, 2), (1280, 2)])
def test_they_hold_their_text_at_every_width_and_text_size(
    make_phone: Any, demo: Server, width: int, zoom: int
) -> None:
    device: Phone = make_phone(demo, reduced_motion="reduce")
    grow_text(device.context, zoom)
    problems: list[str] = []
    for name in shown(device, demo, width, 800):
        take_picture(device.page, PICTURES / f"{width}-{zoom * 100}", name)
        problems += [f"{name}: outside {one}" for one in device.page.evaluate(INSIDE)]
        problems += [f"{name}: too wide {one}" for one in device.page.evaluate(TOO_WIDE)]
        problems += [f"{name}: small target {one}" for one in device.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
    assert problems == []
