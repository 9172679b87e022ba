"""A phone whose player is not the account's: nothing is lost, it says so calmly, and there are ways out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

from tests.web.account_people import account, house, sign_in
from tests.web.audit import check_consistent
from tests.web.phone import Phone, Server
from tests.web.screens import go


def noted_for_another(make_phone: Any, server: Server, role: str = "player") -> tuple[Phone, str]:
    """Robin's phone with one change unsent, on which the account sam has signed in; the phone and its round."""
    phone, round_id = house(make_phone, server)
    account(server, "sam", role)
    phone.page.route("**/changes*", lambda route: route.abort())
    go(phone, f"round/{round_id}/card", "#reopen")
    phone.page.click("#reopen")
    phone.page.wait_for_selector("#close-round")
    phone.page.unroute("**/changes*")
    sign_in(phone, "sam")
    phone.page.wait_for_selector("#whose")
    return phone, round_id


def test_it_is_explained_and_nothing_is_set_aside_or_lost(make_phone: Any, own_server: Server) -> None:
    phone, _ = noted_for_another(make_phone, own_server)
    expect(phone.page.locator("#whose")).to_have_text(
        "This phone records for Robin Vale. Signed in is sam, the account of another player."
    )
    expect(phone.page.locator("main")).to_contain_text("1 change waits on this phone")
    (entry,) = phone.all_of("outbox")
    assert "problem" not in entry
    go(phone, "saving", "#to-whose-phone")
    expect(phone.page.locator("main")).to_contain_text("Not sent: not this account’s player.")
    assert phone.page.locator("#send-again").count() == 0
    assert "There is no player" not in phone.page.inner_text("main")


def test_asking_costs_few_requests_and_queues_nothing_again(make_phone: Any, own_server: Server) -> None:
    phone, _ = noted_for_another(make_phone, own_server)
    asked: list[str] = []
    phone.page.on("request", lambda request: asked.append(request.url))
    go(phone, "saving", "#send-now")
    phone.page.click("#send-now")
    phone.page.wait_for_timeout(500)
    assert len([url for url in asked if "/changes" in url]) == 1
    assert check_consistent(phone)["outbox"] == 1


def test_with_nothing_to_send_the_phone_is_the_accounts(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    account(own_server, "sam", "player")
    sign_in(phone, "sam")
    phone.page.wait_for_selector("#create-player")
    assert check_consistent(phone)["outbox"] == check_consistent(phone)["records"] == 0
    sign_in(phone, "robin")
    phone.wait_sent()
    assert len(phone.live("shot")) == 2


def test_signing_in_as_the_player_sends_what_waited(make_phone: Any, own_server: Server) -> None:
    phone, _ = noted_for_another(make_phone, own_server)
    phone.page.click("#sign-in-other")
    phone.page.wait_for_selector("#account-name")
    phone.page.fill("#account-name", "robin")
    phone.page.fill("#account-password", "long green heron pencil")
    phone.page.click("#sign-in")
    phone.wait_sent()
    assert check_consistent(phone)["outbox"] == 0


def test_the_phone_changes_to_the_accounts_player_and_keeps_the_other(make_phone: Any, own_server: Server) -> None:
    phone, _ = noted_for_another(make_phone, own_server)
    robin = phone.player_id()
    phone.page.click("#own-player")
    phone.page.wait_for_selector("#create-player")
    phone.sign_up("Sam Poole")
    phone.start_round()
    phone.hit()
    phone.wait_sent()
    assert phone.player_id() != robin
    assert len([one for one in phone.all_of("outbox") if one["player_id"] == robin]) == 1
    assert len([one for one in phone.live("shot") if one["player_id"] == robin]) == 2


def test_noting_goes_on_and_the_log_goes_to_a_file(make_phone: Any, own_server: Server) -> None:
    phone, round_id = noted_for_another(make_phone, own_server)
    with phone.page.expect_download() as saved:
        phone.page.click("#save-log")
    log = json.loads(Path(saved.value.path()).read_text())
    assert len(log["changes"]) == check_consistent(phone)["changes"]
    phone.page.click("#go-on")
    go(phone, f"round/{round_id}/1", ".shot")
    phone.hit()
    assert len(phone.live("shot")) == 3
    assert check_consistent(phone)["outbox"] == 2


def test_a_coach_on_a_players_phone_is_shown_where_to_read(make_phone: Any, own_server: Server) -> None:
    phone, _ = noted_for_another(make_phone, own_server, "coach")
    expect(phone.page.locator("#whose")).to_contain_text("sam, a coach, who sees rounds and records none")
    assert phone.page.locator("#own-player").count() == 0
    phone.page.click("#to-read")
    phone.page.wait_for_function("() => location.hash === '#/evidence'")


def test_the_right_account_sees_that_all_is_well(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "whose-phone", "#all-well")
    expect(phone.page.locator("#all-well")).to_contain_text("All is well: this phone records for Robin Vale")
