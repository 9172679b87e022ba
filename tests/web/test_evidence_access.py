"""Every evidence screen, in every look: accessible, tappable, readable, never too wide."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from playwright.sync_api import Page, expect

from tests.web.evidence_pages import open_view, to_view
from tests.web.measures import faults_of
from tests.web.phone import Phone, Server

VIEWS = {
    "overview by club": "overview",
    "overview by setup": "overview?by=setup&per=round&kind=practice",
    "overview by distance": "overview?by=distance&from=2026-05-01&to=2026-09-30&level=0.95",
    "overview of one day": "overview?from=2026-03-07&to=2026-03-07",
    "trial to choose": "trial",
    "trial": "trial?a=4+iron+A&b=4+iron+B",
    "trial of setups": "trial?a=driver%402026-06-22&b=driver%402026-01-01&minimum_effect=0.2",
    "putting": "putting",
    "priorities": "priorities",
    "patterns of the bag": "patterns",
    "pattern of a club": "patterns?club=driver",
    "pattern by setup": "patterns?club=driver&split=setup&group=2026-06-22+heavier",
    "pattern of part swings": "patterns?club=54+wedge&swing=part",
    "pattern of few shots": "patterns?club=6+iron&swing=part&split=lie",
    "pattern of no such club": "patterns?club=9+wood",
    "distances": "distances",
    "distances corrected": "distances?gap=12&overlap=0.2&temperature=5&altitude=1200&wind=-10&measured_c=20",
    "distances of bad limits": "distances?gap=500",
}


def shown(device: Phone, demo: Server) -> Iterator[str]:
    """Walks through the evidence; yields the name of each view while it is shown."""
    device.open("#/evidence", ".player-row")
    yield "players"
    for name, address in VIEWS.items():
        to_view(device.page, demo, address)
        yield name


def nameless(page: Page) -> list[str]:
    """Pictures without a title or a description, others that a screen reader would meet, and what must be dragged."""
    named = page.evaluate(
        """() => [...document.querySelectorAll('svg[role=img]')].map((one) => ['labelledby', 'describedby'].map(
          (by) => document.getElementById(one.getAttribute('aria-' + by))?.textContent ?? ''))"""
    )
    found = [f"picture named {one}" for one in named if not (len(one[0]) > 10 and len(one[1]) > 30)]
    hidden = page.locator(".evidence-body svg:not([role=img])")
    found += ["a picture is not hidden" for one in hidden.all() if one.get_attribute("aria-hidden") != "true"]
    return found + ["is dragged"] * page.locator("[draggable=true]").count()


def test_every_evidence_screen_is_accessible_and_readable(coach: Phone, demo: Server) -> None:
    problems, seen = [], 0
    for name in shown(coach, demo):
        seen += 1
        if name != "players":  # its small pictures carry their name themselves
            problems += [f"{name}: {fault}" for fault in nameless(coach.page)]
        problems += faults_of(coach.page, name, "evidence")
    assert seen == len(VIEWS) + 1
    assert problems == []
    assert coach.errors == []


def test_a_picture_is_drawn_anew_when_the_phone_is_turned(make_phone: Any, demo: Server) -> None:
    device: Phone = make_phone(demo)
    page = open_view(device, demo, "overview")
    picture = page.locator(".pair svg[role=img]").first
    narrow = float(picture.get_attribute("width"))
    page.set_viewport_size({"width": 844, "height": 390})
    page.wait_for_function(
        f"() => Number(document.querySelector('.pair svg[role=img]').getAttribute('width')) > {narrow}"
    )
    expect(page.locator(".pair svg[role=img]").first.locator(".dot")).to_have_count(15)


def test_the_first_load_does_not_fetch_the_evidence(make_phone: Any, demo: Server) -> None:
    device: Phone = make_phone(demo, service_workers="block")
    page = device.context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(device.address)
    page.wait_for_selector("#create-player")
    assert len(asked) > 10
    assert [url for url in asked if "evidence" in url] == []
    page.goto(f"{device.address}/#/evidence")
    page.wait_for_selector(".player-row")
    assert any("/js/views/players.js" in url for url in asked)
    assert not any("/js/views/trial.js" in url for url in asked), "each view comes when it is asked for"
