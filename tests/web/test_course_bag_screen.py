"""The bag for a course on the page for the round: the answer first, what the API says, and the last answer offline."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Route, expect

from tests.web.evidence_pages import demo_player, hold_back, open_view, wait_held
from tests.web.phone import Server

KEPT_MS = 60_000


def test_the_bag_shows_what_the_api_says_and_stays_without_a_network(make_phone: Any, demo: Server) -> None:
    """Of one hole, to be quick: the server's own answer for it stands in for that of the whole course."""
    own = f"/api/players/{demo_player(demo)}"
    course = dict(demo.get(f"{own}/plans")["courses"][0])
    made = demo.get(f"{own}/course-bag?course_id={course['course_id']}&tees={course['latest_tees']}&hole=16")
    device = make_phone(demo)

    def answer(route: Route) -> None:
        route.fulfill(json=made)

    page = open_view(device, demo, "overview")
    page.context.route("**/course-bag?*", answer)
    page.context.route("**/tee-plan?*", lambda route: route.abort())  # tried elsewhere
    page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/course-bag")
    held = hold_back(page, "**/course-bag?*")
    page.click("#ask-course-bag")
    wait_held(page, held)
    # a page that is drawn anew takes over what is under way
    page.evaluate("location.hash += '?firmness=firm'")
    expect(page.locator("#course-bag-status")).to_have_text("Comparing bags, hole after hole…")
    expect(page.locator("#ask-course-bag")).to_be_disabled()
    assert len(held) == 1
    answer(held[0])
    expect(page.locator("#course-bag-words")).to_have_text(made["words"][0], timeout=KEPT_MS)
    rows = page.locator("#course-bag-body > .pair tbody tr")
    expect(rows).to_have_count(len([club for club in made["clubs"] if club["worth"]]))
    expect(rows.first).to_contain_text(made["clubs"][0]["club"])
    expect(rows.first).to_contain_text(made["clubs"][0]["worth"]["verdict"])
    page.click("#course-bag-what-if summary")
    expect(page.locator("#course-bag-what-if")).to_contain_text(made["putting"]["words"])
    page.unroute("**/course-bag?*")
    page.context.unroute("**/course-bag?*")
    device.go_offline()
    page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/overview")
    expect(page.locator("#course-bag")).to_have_count(0)
    page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/course-bag")
    expect(page.locator("#course-bag-words")).to_have_text(made["words"][0], timeout=KEPT_MS)
    page.click("#ask-course-bag")
    expect(page.locator("#course-bag-body")).to_contain_text("Worked out on", timeout=KEPT_MS)
