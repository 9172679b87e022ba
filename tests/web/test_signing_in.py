"""A server with accounts: the phone notes on, says what is missing, and sends once it is signed in."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import expect

from tests.web.account_people import PASSWORD, account
from tests.web.audit import check_consistent
from tests.web.begun import begin_round
from tests.web.phone import Phone, Server


def sign_in(phone: Phone, name: str) -> None:
    phone.page.click("#to-sign-in")
    phone.page.wait_for_selector("#account-name")
    phone.page.fill("#account-name", name)
    phone.page.fill("#account-password", PASSWORD)
    phone.page.click("#sign-in")


def test_a_phone_keeps_everything_until_it_is_signed_in(make_phone: Any, own_server: Server) -> None:
    phone: Phone = make_phone(own_server)
    begin_round(phone)
    phone.wait_sent()
    account(own_server, "robin", "player", phone.player_id())
    phone.hit()
    phone.page.click("#saving")
    phone.page.click("#send-now")
    phone.page.wait_for_selector("#to-sign-in")
    assert check_consistent(phone)["outbox"] == 1
    expect(phone.page.locator("#saving")).to_have_text("saved here, 1 to send")
    sign_in(phone, "robin")
    phone.wait_sent()
    assert check_consistent(phone)["outbox"] == 0


def test_a_wrong_password_is_named(make_phone: Any, own_server: Server) -> None:
    account(own_server, "kim", "player")
    phone: Phone = make_phone(own_server)
    phone.open()
    phone.page.click("#to-sign-in")
    phone.page.fill("#account-name", "kim")
    phone.page.fill("#account-password", "not the password")
    phone.page.click("#sign-in")
    expect(phone.page.locator("#alert")).to_contain_text("The name or the password is wrong.")


def test_a_new_account_begins_its_own_player(make_phone: Any, own_server: Server) -> None:
    account(own_server, "kim", "player")
    phone: Phone = make_phone(own_server)
    phone.open()
    sign_in(phone, "kim")
    expect(phone.page.locator("#said")).to_have_text("Signed in")
    phone.page.wait_for_selector("#new-name")
    phone.sign_up("Kim Marsh")
    phone.start_round()
    phone.hit()
    phone.wait_sent()
    assert check_consistent(phone)["outbox"] == 0
