"""A server with accounts in the tests of the screens: who signs in, and with what."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from playwright.sync_api import expect

from server.store.accounts import add_account
from server.store.engine import open_database
from tests.web.phone import Phone, Server
from tests.web.screens import go

PASSWORD = "long green heron pencil"


def account(server: Server, name: str, role: str, player_id: str | None = None, *squads: str) -> None:
    """An account with the password of the tests, in the database of a running server."""
    engine = open_database(f"sqlite:///{server.folder}/server.sqlite")
    own = player_id or str(uuid4()) if role == "player" else None
    try:
        add_account(engine, name, role, PASSWORD, player_id=own, squads=squads)
    finally:
        engine.dispose()


def sign_in(phone: Phone, name: str, password: str = PASSWORD) -> None:
    """Sign in on the screen of it; what comes next is the app's to say."""
    go(phone, "sign-in", "#account-name")
    phone.page.fill("#account-name", name)
    phone.page.fill("#account-password", password)
    phone.page.click("#sign-in")
    phone.page.wait_for_function("() => !location.hash.startsWith('#/sign-in')")


def a_player_with_a_round(make_phone: Any, server: Server, name: str = "Robin Vale") -> tuple[Phone, str]:
    """A phone that has noted and sent two shots of a closed practice round; the phone and the round's id."""
    phone: Phone = make_phone(server)
    phone.open()
    phone.sign_up(name)
    round_id = phone.start_round()
    phone.hit()
    phone.hit()
    phone.wait_sent()
    go(phone, f"round/{round_id}/card", "#close-round")
    phone.stop_here()
    phone.wait_sent()
    return phone, round_id


def house(make_phone: Any, server: Server) -> tuple[Phone, str]:
    """Robin's phone, signed in, with a closed round; there are the coach Cara, and Sage of the squad north."""
    phone, round_id = a_player_with_a_round(make_phone, server)
    account(server, "robin", "player", phone.player_id())
    account(server, "cara", "coach")
    account(server, "sage", "analyst", None, "north")
    sign_in(phone, "robin")
    phone.wait_sent()
    return phone, round_id


def a_coach(make_phone: Any, server: Server, name: str = "cara", **options: Any) -> Phone:
    """A coach's browser, signed in."""
    phone: Phone = make_phone(server, **options)
    phone.open()
    sign_in(phone, name)
    expect(phone.page.locator("#bar")).to_contain_text("Account")
    return phone


def confirm(phone: Phone, words: str) -> None:
    """Say yes in the sheet that asks."""
    phone.page.locator("dialog[open]").get_by_role("button", name=words, exact=True).click()
    phone.page.wait_for_selector("dialog", state="detached")
