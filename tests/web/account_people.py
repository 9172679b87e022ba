"""A server with accounts in the tests of the screens: who signs in, and with what."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

from playwright.sync_api import Browser, ViewportSize, expect

from server.store.accounts import add_account
from server.store.engine import open_database
from tests import tiers
from tests.made_once import made_once
from tests.web.begun import TAKE, begin_round, put_rows
from tests.web.phone import Phone, Server
from tests.web.screens import go

PASSWORD = "long green heron pencil"
VIEWPORT: ViewportSize = {"width": 390, "height": 844}


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


def a_player_with_a_round(make_phone: Any, server: Server) -> tuple[Phone, str]:
    """A phone that has noted and sent two shots of a closed practice round; the phone and the round's id."""
    phone: Phone = make_phone(server)
    round_id = begin_round(phone, shots=2)
    phone.wait_sent()
    go(phone, f"round/{round_id}/card", "#close-round")
    phone.stop_here()
    phone.wait_sent()
    return phone, round_id


@dataclass(frozen=True)
class House:
    """A server's database with Robin's round and three accounts, and what Robin's phone has once signed in to it."""

    database: Path
    round_id: str
    rows: str
    cookies: list[Any]


def made_house(browser: Browser) -> House:
    """Tapped once in a run."""
    from tests.web.conftest import start_server

    def make(folder: Path) -> None:
        server = start_server(folder)
        player_id, round_id = played(browser, server)
        with browser.new_context(viewport=VIEWPORT, service_workers="block") as context:
            phone = signed_in(Phone(context, server.address), server, player_id)
            found = {"round_id": round_id, "rows": phone.page.evaluate(TAKE), "cookies": context.cookies()}
            assert phone.errors == []
        server.stop()
        copy_rows(folder / "server.sqlite", folder / "house.sqlite")
        (folder / "house.json").write_text(json.dumps(found), encoding="utf-8")

    folder = made_once("house", make)
    return House(folder / "house.sqlite", **json.loads((folder / "house.json").read_text(encoding="utf-8")))


def played(browser: Browser, server: Server) -> tuple[str, str]:
    """Robin notes a round on a phone that is gone then; the ids of both."""
    with browser.new_context(viewport=VIEWPORT, service_workers="block") as context:
        phone, round_id = a_player_with_a_round(lambda asked: Phone(context, asked.address), server)
        return phone.player_id(), round_id


def signed_in(phone: Phone, server: Server, player_id: str) -> Phone:
    """Robin's phone after signing in by taps; there are the coach Cara, and Sage of the squad north."""
    account(server, "robin", "player", player_id)
    account(server, "cara", "coach")
    account(server, "sage", "analyst", None, "north")
    phone.open()
    sign_in(phone, "robin")
    phone.page.wait_for_selector("#new-round")
    phone.wait_sent()
    return phone


def copy_rows(source: Path, target: Path) -> None:
    """All that one SQLite file holds into another, which a server may have open."""
    with closing(sqlite3.connect(source)) as held, closing(sqlite3.connect(target)) as changed:
        held.backup(changed)


def house(make_phone: Any, server: Server) -> tuple[Phone, str]:
    """Robin's phone, signed in, with a closed round, on a server that had nothing; there are the coach Cara, and Sage
    of the squad north. Phone and server hold what they held after the taps (`made_house`)."""
    phone: Phone = make_phone(server)
    assert phone.context.browser is not None
    if tiers.LONG:
        player_id, round_id = played(phone.context.browser, server)
        return signed_in(phone, server, player_id), round_id
    made = made_house(phone.context.browser)
    copy_rows(made.database, Path(server.folder) / "server.sqlite")
    phone.context.add_cookies(made.cookies)
    put_rows(phone, made.rows)
    phone.open()
    phone.page.wait_for_selector("#new-round")
    phone.wait_sent()
    return phone, made.round_id


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
