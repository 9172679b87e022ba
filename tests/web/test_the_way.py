"""The way through the app: how high each page is before anything is unfolded, how many taps each question of the
handbook costs, whether an address comes back the same, what moves after the first paint, and the keys of a keyboard."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any, Final
from uuid import uuid4

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.web.evidence_pages import LEAVE, answer, demo_player, wait_drawn
from tests.web.phone import Phone, Server
from tests.web.seeded import with_round

PHONE_HEIGHT: Final = 844
MOST_HEIGHTS: Final = 2.5
MOST_SHIFT: Final = 0.02

PAGES: Final = {
    "overview": "overview",
    "overview by setup": "overview?by=setup",
    "periods": "compare?from=2026-07-01&beside_to=2026-06-30",
    "periods to choose": "compare",
    "priorities": "priorities",
    "trial to choose": "trial",
    "trial": "trial?a=4+iron+A&b=4+iron+B",
    "trial of setups": "trial?a=driver%402026-06-22&b=driver%402026-01-01",
    "distances": "distances",
    "course bag": "course-bag",
    "patterns": "patterns",
    "pattern": "patterns?club=driver",
    "pattern by setup": "patterns?club=driver&split=setup",
    "shapes": "shapes",
    "putting": "putting",
    "part swings": "part-swings",
    "plan": "plan",
    "round plan": "round-plan",
    "score ahead": "round-ahead",
    "report": "report",
}
"""Every view of evidence, some with what they ask for chosen."""

STROKES, QUESTION, VIEW = "#tab-evidence", "#question-", "#view-"
TAPS: Final = {
    "Q1": ([STROKES, f"{QUESTION}club", ".list-row:has-text('4 iron A')"], "/trial?a=", "[data-code]"),
    "Q2": ([STROKES, f"{QUESTION}club", ".list-row:has-text('driver since')"], "/trial?a=driver", "[data-code]"),
    "Q3": ([STROKES, f"{QUESTION}finish"], "/patterns", ".picture"),
    "Q4": ([STROKES, f"{QUESTION}finish", f"{VIEW}shapes"], "/shapes", ".verdict"),
    "Q5": ([STROKES, f"{QUESTION}club", f"{VIEW}distances"], "/distances", ".verdict"),
    "Q6": ([STROKES, f"{QUESTION}aim"], "/plan", "#plan-best"),
    "Q7": ([STROKES, f"{QUESTION}aim", "#to-second"], "at=", "#plan-best"),
    "Q8": ([STROKES, f"{QUESTION}finish", f"{VIEW}putting"], "/putting", ".verdict"),
    "Q9": ([STROKES, f"{VIEW}priorities"], "/priorities", ".verdict"),
    "Q10": ([STROKES, f"{QUESTION}finish", f"{VIEW}part-swings"], "/part-swings", ".verdict"),
    "Q11": ([STROKES, f"{VIEW}squad"], "#/evidence", ".player-row"),
}
"""The questions of the handbook: what is tapped from the first screen on, where it leads, what answers there."""
MOST_TAPS: Final = 3

ON_ONE_SHEET: Final = ("overview", "priorities", "patterns", "plan", "report")
"""What a coach takes along on paper: drawing and numbers on one sheet."""

SLOWER: Final = 4
"""A phone beside this machine."""
SHIFTS: Final = """() => new Promise((tell) => {
  let sum = 0;
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) if (!one.hadRecentInput) sum += one.value;
  }).observe({ type: 'layout-shift', buffered: true });
  requestAnimationFrame(() => requestAnimationFrame(() => tell(sum)));
})"""
"""What has moved since the first paint, with the frame after it."""


def one_plan_for_all(page: Page, demo: Server) -> None:
    """Every hole has the plan of one, so that a page for the round is there at once: its heights are what is asked."""
    course = answer(demo, "plans")["courses"][0]
    made = answer(demo, "tee-plan", course_id=course["course_id"], tees=course["latest_tees"], hole=8)

    def plan(route: Route) -> None:
        route.fulfill(status=200, content_type="application/json", body=json.dumps(made))

    page.route("**/tee-plan?*", plan)


@pytest.fixture(scope="module")
def owner(browser: Browser, short_demo: Server) -> Iterator[Phone]:
    """The phone of the invented player, everything fetched; nothing is changed on it."""
    context = browser.new_context(viewport={"width": 390, "height": PHONE_HEIGHT}, service_workers="block")
    device = Phone(context, short_demo.address)
    page = device.open()
    page.click(f"#player-{demo_player(short_demo)}")
    page.wait_for_selector("#last-round", timeout=90_000)
    device.wait_sent()
    yield device
    page.unroute_all(behavior="ignoreErrors")
    context.close()


@pytest.fixture
def golfer(phone: Phone, live_server: Server) -> Phone:
    """A phone with one round of a new player, finished."""
    with_round(phone, live_server, f"Slip {uuid4()}", tuple(range(1, 19)), closed=True, played_on="2026-10-11")
    phone.page.wait_for_selector("#last-round")
    return phone


def height(page: Page) -> float:
    return float(page.evaluate("() => document.querySelector('main').scrollHeight"))


def test_a_view_comes_by_its_address_no_higher_than_two_and_a_half_phones(coach: Phone, demo: Server) -> None:
    """Before anything is unfolded."""
    page = coach.open("#/evidence", ".player-row")
    heights = {"squad": height(page)}
    one_plan_for_all(page, demo)
    for name, address in PAGES.items():
        wanted = f"#/evidence/{demo_player(demo)}/{address}"
        page.evaluate(LEAVE, wanted)
        page.wait_for_selector(".evidence-body:not([data-left])")
        wait_drawn(page)
        found = page.evaluate("() => location.hash")
        assert found.startswith(wanted), f"{name}: a plan without a hole takes the first one"
        lit = page.locator(".questions [aria-current]")
        assert lit.count() == (0 if name == "report" else 1), name
        expect(page.locator("#tab-evidence[aria-current=page]")).to_have_count(1)
        if name == "plan":
            page.wait_for_selector("#plan-best")
        if name == "round plan":
            expect(page.locator(".round-plan tbody tr")).to_have_count(18)
        assert page.locator("details.fold[open]").count() == 0, name
        heights[name] = height(page)
        if name in ON_ONE_SHEET:
            assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) == 1, name
    assert {name: one for name, one in heights.items() if one > MOST_HEIGHTS * PHONE_HEIGHT} == {}


def test_a_question_of_the_handbook_is_three_taps_from_home_at_most(owner: Phone, short_demo: Server) -> None:
    page = owner.page
    one_plan_for_all(page, short_demo)
    for question, (taps, address, answered) in TAPS.items():
        assert len(taps) <= MOST_TAPS, question
        page.evaluate("() => { location.hash = '#/'; }")
        page.wait_for_selector("#last-round")
        for tap in taps:
            page.locator(tap).first.click()
        page.wait_for_function("(part) => location.hash.includes(part)", arg=address)
        page.wait_for_selector(f"main {answered}")
    assert owner.errors == []


def moved(device: Phone, hash_: str, wait: str) -> float:
    """How much moves when an address is opened, until something is drawn."""
    page = device.page
    slowly = page.context.new_cdp_session(page)
    slowly.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.goto("about:blank")
    page.goto(f"{device.address}/{hash_}")
    page.wait_for_selector(wait)
    found = float(page.evaluate(SHIFTS))
    slowly.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    return found


def test_nothing_moves_after_the_first_paint(owner: Phone, golfer: Phone, short_demo: Server) -> None:
    golfer.start_round()
    hole = golfer.page.evaluate("location.hash")
    moves = {
        "rounds": moved(owner, "", "#last-round"),
        "hole": moved(golfer, hole, "#hit"),
        "overview": moved(owner, f"#/evidence/{demo_player(short_demo)}/overview", ".evidence .picture"),
    }
    assert {place: one for place, one in moves.items() if one >= MOST_SHIFT} == {}


def test_a_hole_is_no_higher_than_two_and_a_half_phones(golfer: Phone) -> None:
    golfer.start_round()
    golfer.hit()
    assert height(golfer.page) <= MOST_HEIGHTS * PHONE_HEIGHT


def test_the_first_screen_keeps_its_one_action_in_reach_and_the_lock(golfer: Phone) -> None:
    owner, page = golfer, golfer.page
    expect(page.locator("#last-round .slip-gains")).to_contain_text("strokes gained")
    assert page.locator("h2.month").first.inner_text() == "October 2026"
    assert page.locator("#bar .action").inner_text() == "Start a round"
    owner.start_round("competition")
    page.evaluate("() => { location.hash = '#/'; }")
    action = page.locator("#bar .action")
    expect(action).to_have_text("Continue, hole 1")
    box = action.bounding_box()
    assert box is not None
    assert box["y"] > 2 / 3 * PHONE_HEIGHT
    expect(page.locator("#last-round .number")).to_have_count(1)
    expect(page.locator("#last-round .slip-gains")).to_have_count(0)
    page.click(STROKES)
    expect(page.locator("h1")).to_have_text("Locked until the round is finished")


def test_folds_stay_as_they_were_left_while_the_phone_is_used(coach: Phone, demo: Server) -> None:
    page = coach.open(f"#/evidence/{demo_player(demo)}/overview", ".evidence h1")
    wait_drawn(page)
    page.click("#method summary")
    expect(page.locator("#method[open]")).to_have_count(1)
    for view in ("priorities", "overview"):
        page.click(f"{VIEW}{view}")
        page.wait_for_selector(f"{VIEW}{view}[aria-current=page]")
        wait_drawn(page)
        expect(page.locator("#method[open]")).to_have_count(int(view == "overview"))


def test_keys_lead_on_and_are_never_taken_from_a_field(owner: Phone) -> None:
    page = owner.page
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto("about:blank")
    page.goto(owner.address)
    page.wait_for_function("() => performance.getEntriesByType('resource').some((one) => /shortcuts/.test(one.name))")
    page.wait_for_selector("#last-round")
    page.keyboard.press("/")
    expect(page.locator("#search")).to_be_focused()
    page.keyboard.type("s2?")
    expect(page.locator("#search")).to_have_value("s2?")
    assert page.evaluate("location.hash") in {"", "#/"}
    page.locator("h1").click()
    page.keyboard.press("s")
    page.wait_for_selector("#question-where[aria-current]")
    page.keyboard.press("2")
    page.wait_for_selector(f"{VIEW}trial[aria-current=page]")
    page.keyboard.press("]")
    page.wait_for_selector(f"{VIEW}distances[aria-current=page]")
    wait_drawn(page)
    page.keyboard.press("?")
    expect(page.locator("dialog")).to_contain_text("Where does it go?")
    page.keyboard.press("s")
    expect(page.locator("dialog")).to_have_count(1)
    page.click("#keys")
    page.keyboard.press("Escape")
    page.keyboard.press("1")
    page.keyboard.press("?")
    expect(page.locator("dialog")).to_have_count(0)
    assert "/distances" in page.evaluate("location.hash")


def test_an_empty_app_offers_a_round_a_table_and_the_demo(make_phone: Any, demo: Server) -> None:
    device: Phone = make_phone(demo)
    page = device.open()
    page.wait_for_selector("#try-the-demo")
    device.sign_up("Nobody Yet")
    for way in ("log-a-round", "import-rounds", "try-the-demo"):
        page.wait_for_selector(f"#{way}")
    page.click("#try-the-demo")
    expect(page.locator(".evidence-player")).to_contain_text("Wren Quillfeather")
    page.evaluate("() => { location.hash = '#/sign-in'; }")
    page.click("#no-accounts #way-on")
    page.wait_for_selector("#new-round")


def test_a_table_that_scrolls_says_so(coach: Phone, demo: Server) -> None:
    page = coach.open(f"#/evidence/{demo_player(demo)}/patterns?club=driver&split=setup", ".evidence h1")
    page.set_viewport_size({"width": 320, "height": 568})
    wait_drawn(page)
    page.locator(".groups summary").first.click()
    box = page.locator(".groups .table-box")
    expect(box).to_have_attribute("role", "region")
    expect(box).to_have_attribute("tabindex", "0")
    assert "gradient" in box.evaluate("(one) => getComputedStyle(one).backgroundImage")
