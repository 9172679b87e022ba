"""A server with accounts in the tests of the screens: who signs in, and with what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from playwright.sync_api import Browser, ViewportSize, expect

from server.store.accounts import add_account
from server.store.engine import open_database
from tests.web.phone import Phone, Server
from tests.web.screens import go

PASSWORD = "long green heron pencil"
VIEWPORT: ViewportSize = {"width": 390, "height": 844}
ENVELOPE = ("change_id", "record_id", "kind", "parents", "op", "body", "device_id", "client_time", "schema_version")


def account(server: Server, name: str, role: str, player_id: str | None = None, *squads: str) -> None:
    """An account with the password of the tests, in the database of a running server."""
    engine = open_database(f"sqlite:///{server.folder}/server.sqlite", create=False)
    own = player_id or str(uuid4()) if role == "player" else None
    try:
        add_account(engine, name, role, PASSWORD, player_id=own, squads=squads)
    finally:
        engine.dispose()


def sign_in(phone: Phone, name: str, password: str = PASSWORD) -> None:
    """Sign in on the screen of it; what comes next is up to the app."""
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


@dataclass(frozen=True)
class Played:
    """What a phone has sent of a player, to be sent again to a server that is empty."""

    player_id: str
    round_id: str
    changes: list[dict[str, Any]]


_PLAYED: list[Played] = []


def _played(browser: Browser, server: Server) -> Played:
    """Robin's round as a phone sent it: tapped once in a process of tests, on the first server that is asked for it."""
    if not _PLAYED:
        with browser.new_context(viewport=VIEWPORT, service_workers="block") as context:
            phone, round_id = a_player_with_a_round(lambda asked: Phone(context, asked.address), server)
            player_id = phone.player_id()
        changes = [{name: change[name] for name in ENVELOPE} for change in server.log(player_id)]
        _PLAYED.append(Played(player_id, round_id, changes))
    (played,) = _PLAYED
    body = {"device_id": "the phone before", "changes": played.changes}
    assert server.post(f"/api/players/{played.player_id}/changes", body)["quarantined"] == []
    return played


def house(make_phone: Any, server: Server) -> tuple[Phone, str]:
    """Robin's phone, signed in, with a closed round; there are the coach Cara, and Sage of the squad north."""
    phone: Phone = make_phone(server)
    assert phone.context.browser is not None
    played = _played(phone.context.browser, server)
    account(server, "robin", "player", played.player_id)
    account(server, "cara", "coach")
    account(server, "sage", "analyst", None, "north")
    phone.open()
    sign_in(phone, "robin")
    phone.page.wait_for_selector("#new-round")
    phone.wait_sent()
    return phone, played.round_id


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
