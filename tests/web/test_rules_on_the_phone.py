"""Each relief and penalty on the phone ends in the strokes, and at the spot, of the published rule.

Source: The R&A and USGA, Rules of Golf, effective January 2023; the rows of rules_of_golf_2023.csv in
tests/published/reference.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from playwright.sync_api import expect

from tests.published.reference_tables import read_rows
from tests.tiers import LONG, some
from tests.web.begun import begin_round
from tests.web.phone import Phone


@dataclass(frozen=True)
class Flow:
    """`rules`: the published rows it covers; `first`: where the shot that brings trouble is played from (lie, yards);
    `taps`: in the sheet; `strokes`: penalty strokes by the rule; `same_spot`: whether the next is played from there."""

    rules: tuple[str, ...]
    first: tuple[str, int]
    taps: tuple[str, ...]
    strokes: int
    same_spot: bool
    next_lie: str = "rough"


ROUGH, SAND = ("rough", 170), ("sand", 140)
FLOWS = [
    Flow(("18.2b",), ROUGH, ("penalty-out_of_bounds", "way-same_spot"), 1, True),
    Flow(("18.2b",), SAND, ("penalty-lost", "way-same_spot"), 1, True),
    Flow(("18.1",), ROUGH, ("penalty-other", "way-same_spot"), 1, True),
    Flow(("MLR E-5",), ROUGH, ("penalty-out_of_bounds", "way-fairway_drop"), 2, False, "fairway"),
    Flow(("MLR E-5",), ROUGH, ("penalty-lost", "way-fairway_drop"), 2, False, "fairway"),
    Flow(("17.1d(1)",), ROUGH, ("penalty-penalty_area", "way-same_spot"), 1, True),
    Flow(("17.1d(2)",), ROUGH, ("penalty-penalty_area", "way-back_on_line"), 1, False),
    Flow(("17.1d(3)",), ROUGH, ("penalty-penalty_area", "way-lateral"), 1, False),
    Flow(("17.1b",), ROUGH, ("penalty-penalty_area", "way-as_it_lies"), 0, False),
    Flow(("19.2a",), ROUGH, ("penalty-unplayable", "way-same_spot"), 1, True),
    Flow(("19.2b",), ROUGH, ("penalty-unplayable", "way-back_on_line"), 1, False),
    Flow(("19.2c",), ROUGH, ("penalty-unplayable", "way-lateral"), 1, False),
    Flow(("19.3a",), ROUGH, ("penalty-unplayable", "way-back_on_line"), 1, False, "sand"),
    Flow(("19.3a",), ROUGH, ("penalty-unplayable", "way-lateral"), 1, False, "sand"),
    Flow(("19.3b",), SAND, ("penalty-unplayable", "way-back_on_line_outside_sand"), 2, False),
    Flow(("1.3c",), ROUGH, ("penalty-other", "way-as_ruled_two"), 2, False),
]
ELSEWHERE = {
    "18.3": "the provisional ball, below",
    "4.1b": "a warning when the bag is chosen: the strokes belong to the hole, not to a shot (test_competition_lock)",
    "5.5": "extra balls are not offered outside practice rounds (test_competition_lock)",
}


def test_every_published_row_has_a_flow() -> None:
    rows = {row["rule"] for row in read_rows("rules_of_golf_2023.csv")}
    assert rows == {rule for flow in FLOWS for rule in flow.rules} | set(ELSEWHERE)


@pytest.fixture(scope="module")
def player(browser: object, live_server: object) -> object:
    """One player and one round for all flows: each takes the next hole."""
    workers = "allow" if LONG else "block"
    context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers=workers)  # type: ignore[attr-defined]
    phone = Phone(context, live_server.address, keeps_app=LONG)  # type: ignore[attr-defined]
    begin_round(phone)
    phone.stay_on_holes()  # a hole played before the one that a test is on would make a difference otherwise
    yield phone
    context.close()


WORDS = ["Par", "Bogey", "Double bogey"]
"""Of a hole of par 4, by strokes over it."""


def put(phone: Phone, lie: str, number: int) -> None:
    phone.tap(f"#lie-{lie}")
    phone.type_distance(number)


@pytest.mark.parametrize(("hole", "flow"), some(enumerate(FLOWS, start=1), 1, 3, 6, 7, 8, 13, 14, 15))
def test_a_flow_ends_in_the_strokes_of_the_rule(player: Phone, hole: int, flow: Flow) -> None:
    phone, page = player, player.page
    phone.to_hole(hole)
    phone.hit()
    put(phone, *flow.first)
    phone.hit()
    phone.tap("#more-actions")
    for tap in flow.taps:
        phone.tap(f"#{tap}")
    page.wait_for_selector("dialog", state="detached")
    phone.settled()
    if flow.same_spot:
        expect(page.locator(f"#lie-{flow.first[0]}")).to_have_attribute("aria-pressed", "true")
        expect(page.locator("#distance .number")).to_have_text(str(flow.first[1]))
    else:
        put(phone, flow.next_lie, 90)
    phone.hit()
    put(phone, "green", 3)
    phone.hit("#holed")
    strokes = 4 + flow.strokes
    expect(page.locator(".done-words")).to_contain_text(WORDS[strokes - 4])
    expect(page.locator(f"#hole-{hole} .strip-score")).to_have_text(str(strokes))
    values = page.locator(".shot-value").all_inner_texts()
    if flow.same_spot:
        assert values[1] == "\u22122.00", "stroke and distance is exactly -2"


@pytest.mark.parametrize(("hole", "found"), [(17, "lost"), (18, "found")])
def test_a_provisional_counts_only_when_the_first_is_lost(player: Phone, hole: int, found: str) -> None:
    """Rule 18.3: it becomes the ball in play only if the first is lost or out of bounds."""
    phone, page = player, player.page
    phone.to_hole(hole)
    phone.hit()
    phone.tap("#more-actions")
    phone.tap("#provisional")
    page.wait_for_selector("#ball-2[aria-pressed=true]")
    phone.hit()
    phone.tap(f"#first-{found}")
    expect(page.locator(".shot")).to_have_count(2 if found == "lost" else 1)
    put(phone, "fairway", 150)
    phone.hit()
    put(phone, "green", 5)
    phone.hit("#holed")
    expect(page.locator(f"#hole-{hole} .strip-score")).to_have_text("5" if found == "lost" else "3")
    phone.to_hole(1)
    phone.to_hole(hole)
    assert page.locator(".provisional").count() == 0, "not asked about after the hole"
    assert page.locator("#ball-2").count() == (1 if found == "found" else 0)
