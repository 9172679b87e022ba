"""A player's account on the screen: devices, tokens, a new password, signing out everywhere."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from typing import Any

from playwright.sync_api import expect

from tests.web.account_people import PASSWORD, a_coach, confirm, house, sign_in
from tests.web.audit import check_consistent
from tests.web.begun import begin_player
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go


def signed_in_as(phone: Phone) -> str | None:
    """Whom the server takes this phone for."""
    account = phone.page.evaluate("async () => (await (await fetch('/api/me')).json()).account")
    return None if account is None else str(account["name"])


def by_token(server: Server, path: str, token: str, body: Any = None) -> int:
    """The status of a script's request."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"Authorization": f"Bearer {token}", "content-type": "application/json"}
    try:
        with urllib.request.urlopen(
            urllib.request.Request(server.address + path, data, headers), timeout=120
        ) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def test_another_phone_joins_by_a_link_and_is_signed_out_from_here(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "account", "#sessions li")
    expect(phone.page.locator("#who")).to_have_text("Signed in as robin.")
    expect(phone.page.locator("#sessions li")).to_have_count(1)
    phone.page.click("#make-join")
    link = phone.page.input_value("#join-link")
    assert link.startswith(f"{own_server.address}/#/join/")
    close_sheet(phone)
    other: Phone = make_phone(own_server)
    other.open(link.removeprefix(f"{own_server.address}/"))
    other.page.click("#join")
    expect(other.page.locator(".list-row").first).to_be_visible()
    assert signed_in_as(other) == "robin"
    assert other.player_id() == phone.player_id()
    go(phone, "", "h1")
    go(phone, "account", "#sessions li:nth-child(2)")
    there = phone.page.locator("#sessions li").filter(has_text="joined by a link")
    there.get_by_role("button").click()
    confirm(phone, "Sign it out")
    expect(phone.page.locator("#sessions li")).to_have_count(1)
    assert (signed_in_as(other), signed_in_as(phone)) == (None, "robin")
    assert check_consistent(other)["records"] == check_consistent(phone)["records"]


def test_a_token_is_made_shown_once_used_and_ended(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    address = f"/api/players/{phone.player_id()}"
    push = {"device_id": "script", "changes": []}
    go(phone, "account/tokens", "#make-token")
    phone.page.fill("#token-label", "notebook")
    phone.page.select_option("#token-days", "7")
    phone.page.click("#make-token")
    token = phone.page.input_value("#token")
    assert by_token(own_server, f"{address}/rounds", token) == 200
    assert by_token(own_server, f"{address}/changes", token, push) == 403
    expect(phone.page.locator("#tokens li")).to_contain_text("notebook")
    expect(phone.page.locator("#tokens li")).to_contain_text("reads your rounds; since")
    go(phone, "account", "#to-tokens")
    go(phone, "account/tokens", "#tokens li")
    assert phone.page.locator("#token").count() == 0
    assert token not in phone.page.content()
    assert token not in json.dumps(phone.all_of("settings"))
    phone.page.locator("#tokens button").click()
    confirm(phone, "End it")
    expect(phone.page.locator("#tokens li")).to_have_text("No token yet.")
    assert by_token(own_server, f"{address}/rounds", token) == 401


def test_a_token_for_writing_writes(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "account/tokens", "#make-token")
    phone.page.fill("#token-label", "importer")
    phone.page.get_by_role("button", name="read and write", exact=True).click()
    phone.page.click("#make-token")
    token = phone.page.input_value("#token")
    address = f"/api/players/{phone.player_id()}"
    assert by_token(own_server, f"{address}/changes", token, {"device_id": "script", "changes": []}) == 200
    assert by_token(own_server, f"{address}/rounds", token) == 200


def test_a_coachs_token_reads_the_players_who_share(make_phone: Any, own_server: Server) -> None:
    house(make_phone, own_server)
    coach = a_coach(make_phone, own_server)
    go(coach, "account/tokens", "#make-token")
    assert coach.page.get_by_role("group", name="May").count() == 0
    coach.page.fill("#token-label", "weekly table")
    coach.page.click("#make-token")
    assert by_token(own_server, "/api/players", coach.page.input_value("#token")) == 200


def test_a_new_password_ends_every_other_device(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    other: Phone = make_phone(own_server)
    other.open()
    sign_in(other, "robin")
    go(phone, "account", "#sessions li")
    phone.page.click("#password")
    for field, words in {"now": PASSWORD, "new": "a pencil behind the ear", "again": "a pencil behind"}.items():
        phone.page.fill(f"#password-{field}", words)
    phone.page.click("#change-password")
    expect(phone.page.locator("#alert")).to_contain_text("The two new passwords differ.")
    phone.page.fill("#password-again", "a pencil behind the ear")
    phone.page.click("#change-password")
    expect(phone.page.locator("#alert")).to_contain_text("The password is changed.")
    assert (signed_in_as(phone), signed_in_as(other)) == ("robin", None)
    sign_in(other, "robin", "a pencil behind the ear")
    assert signed_in_as(other) == "robin"


def test_a_wrong_old_password_changes_nothing_and_is_named(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "account", "#sessions li")
    phone.page.click("#password")
    for field, words in {"now": "not this one", "new": "a pencil behind the ear"}.items():
        phone.page.fill(f"#password-{field}", words)
    phone.page.fill("#password-again", "a pencil behind the ear")
    phone.page.click("#change-password")
    expect(phone.page.locator("#alert")).to_contain_text("The current password is wrong.")
    assert signed_in_as(phone) == "robin"


def test_signing_out_everywhere_clears_this_phone_and_leaves_the_other_its_notes(
    make_phone: Any, own_server: Server
) -> None:
    phone, round_id = house(make_phone, own_server)
    other: Phone = make_phone(own_server)
    other.open()
    sign_in(other, "robin")
    other.wait_sent()
    go(phone, "account", "#sign-out-everywhere")
    phone.page.click("#sign-out-everywhere")
    confirm(phone, "Sign out everywhere")
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    assert (signed_in_as(phone), signed_in_as(other)) == (None, None)
    assert check_consistent(phone)["changes"] == 0
    go(other, f"round/{round_id}/card", "#reopen")
    other.page.click("#reopen")
    other.page.wait_for_selector("#close-round")
    assert check_consistent(other)["outbox"] == 1
    for one in (other, phone):
        sign_in(one, "robin")
        one.wait_sent()
    assert len(phone.live("shot")) == 2


def test_signing_out_without_a_network_says_that_it_did_not(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "player", "#to-account")  # its parts come with the network
    go(phone, "account", "#sign-out")
    phone.go_offline()
    phone.page.click("#sign-out")
    confirm(phone, "Sign out")
    expect(phone.page.locator("#alert")).to_contain_text("Not signed out: the server cannot be reached.")
    go(phone, "player", "#to-account")
    go(phone, "account", "#who")
    expect(phone.page.locator("main")).to_contain_text("This page is as of")
    expect(phone.page.locator("#who")).to_have_text("Signed in as robin.")
    phone.context.set_offline(False)
    assert signed_in_as(phone) == "robin"


def test_without_accounts_the_screens_say_so(make_phone: Any, own_server: Server) -> None:
    phone: Phone = make_phone(own_server)
    begin_player(phone)
    go(phone, "account", "#who")
    expect(phone.page.locator("#who")).to_contain_text("this server answers only this machine")
    go(phone, "sharing", "#no-sharing")
    expect(phone.page.locator("#no-sharing")).to_contain_text("nobody to share with")
    go(phone, f"notes/{phone.player_id()}", ".lead")
    expect(phone.page.locator("main")).to_contain_text("nobody can leave a note")
