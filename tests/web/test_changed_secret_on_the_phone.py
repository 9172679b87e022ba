"""The server comes back with another secret while a phone is signed in and has shots to send."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.web.account_people import PASSWORD, account
from tests.web.audit import check_consistent
from tests.web.begun import begin_round
from tests.web.conftest import start_server
from tests.web.phone import Phone, Server


def test_the_phone_keeps_all_and_sends_it_once_signed_in_again(
    make_phone: Any, own_server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone: Phone = make_phone(own_server)
    begin_round(phone)
    phone.wait_sent()
    account(own_server, "robin", "player", phone.player_id())
    sign_in(phone)
    phone.hit()
    phone.wait_sent()
    own_server.stop()
    phone.hit()
    monkeypatch.setenv("PENCILBAG_SECRET", "another secret for tests, as long as the first")
    again = start_server(own_server.folder, own_server.port)
    try:
        phone.page.click("#saving")
        phone.page.click("#send-now")
        phone.page.wait_for_selector("#to-sign-in")
        expect(phone.page.locator("main")).to_contain_text("ign in")
        held = check_consistent(phone)
        assert held["outbox"] == 1
        sign_in(phone)
        phone.wait_sent()
        assert check_consistent(phone)["outbox"] == 0
        assert len(phone.live("shot")) == 2
        assert phone.errors == []
    finally:
        again.stop()


def sign_in(phone: Phone) -> None:
    """On the screen to which the app leads."""
    page = phone.page
    if not page.locator("#to-sign-in").count():
        page.click("#saving")
        page.click("#send-now")
    page.click("#to-sign-in")
    page.fill("#account-name", "robin")
    page.fill("#account-password", PASSWORD)
    page.click("#sign-in")
    page.wait_for_function("() => !location.hash.startsWith('#/sign-in')")
    if not page.locator("#hit").count():
        page.evaluate("async () => { location.hash = '#/'; }")
        page.wait_for_selector(".go-on")
        page.click(".go-on")
        page.wait_for_selector("#hit")
