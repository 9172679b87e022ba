"""Addresses: a slash at the end changes nothing, and one that leads nowhere says so and shows a way on."""

from __future__ import annotations

from playwright.sync_api import expect

from tests import tiers
from tests.web.begun import begin_player, begin_round
from tests.web.phone import Phone, Server
from tests.web.screens import go


def shown(phone: Phone, address: str, wait: str = "h1") -> str:
    """The heading at an address that was typed."""
    phone.page.evaluate("(hash) => history.replaceState(null, '', hash)", f"#{address}")
    phone.page.reload()
    phone.page.wait_for_selector(f"main {wait}")
    return phone.page.inner_text("main h1")


def led_to(phone: Phone, address: str) -> str:
    """The heading at another address that the page is led to."""
    phone.page.evaluate(
        """(hash) => {
          for (const one of document.querySelectorAll('main h1')) one.dataset.left = '';
          location.hash = hash;
        }""",
        address,
    )
    phone.page.wait_for_selector("main h1:not([data-left])")
    return phone.page.inner_text("main h1")


def test_a_slash_at_the_end_is_the_same_address(phone: Phone) -> None:
    round_id = begin_round(phone)
    player = phone.player_id()
    phone.wait_sent()
    for number, address in enumerate(
        (
            f"/evidence/{player}",
            f"/evidence/{player}/trial",
            f"/round/{round_id}/card",
            f"/round/{round_id}/1",
            "/bag",
            "/courses",
            "/practice/new",
            "/saving",
            "/",
        )
    ):
        plain = led_to(phone, address)
        assert plain != "There is no such page"
        ends = ("/", "//") if tiers.LONG else ("/" * (1 + number % 2),)
        for end in ends:
            assert shown(phone, f"{address.rstrip('/')}{end}") == plain
    shown(phone, f"/evidence/{player}/overview/?kind=casual", ".filters")
    expect(phone.page.locator("#filters")).to_contain_text("casual")
    shown(phone, "/bag/")
    expect(phone.page.locator("#tab-Bag")).to_have_attribute("aria-current", "page")


def test_an_unknown_address_says_so(phone: Phone) -> None:
    begin_player(phone)
    for address in ("/nowhere", "/round", "/evidence/a/b/c", "/bag/x/y", "/evidence/someone/weather"):
        assert shown(phone, address) == "There is no such page"
        expect(phone.page.locator("main")).to_contain_text(f"#{address} is not a page of this app")
        phone.page.click("#way-on")
        phone.page.wait_for_selector("#new-round" if "someone" not in address else ".evidence-head")


def test_an_address_opened_in_a_new_tab_leads_where_it_says(phone: Phone) -> None:
    begin_player(phone)
    bag = phone.open("#/bag").inner_text("main h1")
    assert phone.open("#/bag/").inner_text("main h1") == bag != "There is no such page"
    assert phone.open("#/nowhere").inner_text("main h1") == "There is no such page"


def test_a_phone_without_a_player_is_informed_too(phone: Phone) -> None:
    phone.open()
    assert shown(phone, "/evidense") == "There is no such page"
    phone.page.click("#way-on")
    phone.page.wait_for_selector("#create-player")


def test_a_hole_that_the_round_does_not_have_is_named(phone: Phone) -> None:
    round_id = begin_round(phone)
    go(phone, f"round/{round_id}/19")
    expect(phone.page.locator("main")).to_contain_text("this round has no hole 19")


def test_a_slash_inside_a_filter_stays(phone: Phone, live_server: Server) -> None:
    page = phone.open()
    code = (
        "async (given) => { const {plainAddress} = await import('/js/addresses.js'); return given.map(plainAddress); }"
    )
    given = ["", "#", "#/", "#//bag//", "#/evidence/a/?club=7/8/", "#evidence/a?x=?/", "#/evidence/?sort=name"]
    assert page.evaluate(code, given) == [
        "",
        "",
        "",
        "bag",
        "evidence/a?club=7/8/",
        "evidence/a?x=?/",
        "evidence?sort=name",
    ]
