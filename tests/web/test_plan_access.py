"""Maps and plans, in every look: accessible, tappable, readable, never too wide."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

from tests.web.evidence_pages import LEAVE, demo_player
from tests.web.made_plans import plans_of_the_round
from tests.web.measures import faults_of
from tests.web.phone import Phone, Server

SCREENS = 6


def shown(device: Phone, demo: Server) -> Iterator[str]:
    """Walks through the maps of the course and the plans; yields the name of each screen while it is shown."""
    page = device.open()
    player = demo_player(demo)
    page.get_by_role("button", name="Wren Quillfeather").click()
    page.wait_for_selector("#new-round")
    device.wait_sent()
    course = device.live("course")[0]["record_id"]

    plans_of_the_round(page, demo)

    def go(address: str, wait: str) -> None:
        page.evaluate(LEAVE, f"#/{address}")
        page.wait_for_selector("main h1:not([data-left])")
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


def test_maps_and_plans_are_accessible_and_readable(make_phone: Any, short_demo: Server) -> None:
    coach: Phone = make_phone(short_demo)
    problems, seen = [], 0
    for name in shown(coach, short_demo):
        seen += 1
        problems += faults_of(coach.page, name, "plans")
    assert seen == SCREENS
    assert problems == []
    assert coach.errors == []
