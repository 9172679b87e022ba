"""What an alert says is still so: one about an entry ends with what is saved next, or with its screen."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.web.begun import begin_player, begin_round
from tests.web.phone import Phone


def to_new_club(phone: Phone) -> None:
    """The form of a new club, tapped to save without a name."""
    phone.page.evaluate("() => { location.hash = '#/bag/new'; }")
    phone.page.wait_for_selector("#club-label")
    phone.page.get_by_role("button", name="Save").click()
    expect(phone.page.locator("#alert")).to_contain_text("The club needs a name.")


def test_an_alert_about_an_entry_ends_when_the_entry_is_saved(phone: Phone) -> None:
    begin_player(phone)
    to_new_club(phone)
    phone.page.fill("#club-label", "7-wood")
    phone.page.get_by_role("button", name="Save").click()
    expect(phone.page.locator("h1")).to_have_text("7-wood")
    expect(phone.page.locator("#alert")).to_be_empty()


def test_an_alert_about_an_entry_ends_with_its_screen(phone: Phone) -> None:
    begin_player(phone)
    to_new_club(phone)
    phone.page.evaluate("() => { location.hash = '#/courses'; }")
    expect(phone.page.locator("h1")).to_have_text("Courses")
    expect(phone.page.locator("#alert")).to_be_empty()


def test_an_alert_about_a_missing_club_ends_with_the_shot(phone: Phone) -> None:
    begin_round(phone, "competition")
    phone.settled()
    phone.page.click("#hit")
    expect(phone.page.locator("#alert")).to_contain_text("Tap the club first.")
    phone.page.locator(".entry .clubs button").first.click()
    phone.hit()
    expect(phone.page.locator("#alert")).to_be_empty()


def test_an_alert_about_the_phone_stays_until_it_is_dismissed(phone: Phone) -> None:
    begin_player(phone)
    phone.page.evaluate("() => { location.hash = '#/saving'; }")
    phone.page.wait_for_selector("#save-log")
    with phone.page.expect_download() as saved:
        phone.page.click("#save-log")
    phone.page.set_input_files("main input[type=file]", saved.value.path())
    expect(phone.page.locator("#alert")).to_contain_text("Restored")
    phone.page.evaluate("() => { location.hash = '#/courses'; }")
    expect(phone.page.locator("h1")).to_have_text("Courses")
    expect(phone.page.locator("#alert")).to_contain_text("Restored")
    phone.page.click("#alert-ok")
    expect(phone.page.locator("#alert")).to_be_empty()


def test_a_loft_out_of_range_is_named_and_not_changed(phone: Phone) -> None:
    begin_player(phone)
    to_new_club(phone)
    phone.page.fill("#club-label", "7-wood")
    phone.page.fill("#club-loft", "999")
    phone.page.get_by_role("button", name="Save").click()
    expect(phone.page.locator("#alert")).to_contain_text("Loft, degrees: 999 is not 0 to 80.")
    assert phone.page.input_value("#club-loft") == "999"
    assert all(club["body"]["label"] != "7-wood" for club in phone.live("club"))
    phone.page.fill("#club-loft", "21.5")
    phone.page.get_by_role("button", name="Save").click()
    expect(phone.page.locator("h1")).to_have_text("7-wood")
    assert [club["body"]["loft_deg"] for club in phone.live("club") if club["body"]["label"] == "7-wood"] == [21.5]
