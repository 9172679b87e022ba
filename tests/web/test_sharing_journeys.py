"""A player and a coach, each with a browser: inviting, reading, notes, ending it; a reader has nothing to edit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, expect

from tests import tiers
from tests.made_once import copy_short_demo
from tests.web.account_people import VIEWPORT, a_coach, account, confirm, house, sign_in
from tests.web.conftest import start_server
from tests.web.evidence_pages import demo_player, wait_drawn
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go

BOTH_CLUBS = "trial?a=4+iron+A&b=4+iron+B"


def invited(phone: Phone) -> str:
    """The link of a new invitation, as the player's screen shows it, without the server's address."""
    go(phone, "sharing", "#invite")
    phone.page.click("#invite")
    link = phone.page.input_value("#invitation-link")
    close_sheet(phone)
    return link.split("#/")[1]


def may_read(phone: Phone, player_id: str) -> bool:
    return bool(phone.page.evaluate(f"async () => (await fetch('/api/players/{player_id}/rounds')).ok"))


def share_by_name(phone: Phone, what: str, name: str) -> None:
    go(phone, "sharing", "#invite")
    if not phone.page.locator(f"#share-{what}").is_visible():
        phone.page.click("#by-name" if what == "reader" else "#by-squad")
    phone.page.fill(f"#share-{what}", name)
    phone.page.click(f"#share-with-{what}")


def test_a_coach_takes_up_an_invitation_and_the_player_ends_it(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    player_id = phone.player_id()
    link = invited(phone)
    expect(phone.page.locator("#invitations li")).to_have_count(1)
    coach: Phone = make_phone(own_server)
    coach.open(f"#/{link}")
    coach.page.click("main #to-sign-in")
    coach.page.wait_for_selector("#account-name")
    coach.page.fill("#account-name", "cara")
    coach.page.fill("#account-password", "long green heron pencil")
    coach.page.click("#sign-in")
    coach.page.click("#accept")
    coach.page.wait_for_function(f"() => location.hash === '#/evidence/{player_id}/overview'")
    wait_drawn(coach.page)
    expect(coach.page.locator(".evidence-player")).to_contain_text("Robin Vale")
    go(phone, "player", "#to-sharing")
    go(phone, "sharing", "#readers")
    expect(phone.page.locator("#readers li")).to_contain_text("cara")
    assert phone.page.locator("#invitations").count() == 0
    phone.page.locator("#readers button").click()
    confirm(phone, "End it")
    expect(phone.page.locator("#nobody-reads")).to_be_visible()
    assert not may_read(coach, player_id)
    go(coach, "account", "#who")
    go(coach, f"evidence/{player_id}/overview", ".evidence-body .failed")
    assert "Robin Vale" not in coach.page.inner_text("main")
    # The link is spent: it lets nobody in a second time.
    go(coach, link, "#accept")
    coach.page.click("#accept")
    expect(coach.page.locator("#alert")).to_contain_text("was used or withdrawn")


def test_an_invitation_that_is_taken_back_lets_nobody_in(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    link = invited(phone)
    phone.page.locator("#invitations button").click()
    expect(phone.page.locator("#invitations")).to_have_count(0)
    coach = a_coach(make_phone, own_server)
    go(coach, "invitation", "#invitation-code")
    coach.page.fill("#invitation-code", f"{own_server.address}/#/{link}")
    coach.page.click("#accept")
    expect(coach.page.locator("#alert")).to_contain_text("This invitation is wrong")
    assert not may_read(coach, phone.player_id())


def test_a_player_who_opens_an_invitation_does_not_spend_it(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    link = invited(phone)
    go(phone, link, "#not-for-you")
    expect(phone.page.locator("#not-for-you")).to_contain_text("robin, a player; the invitation stays valid")
    coach = a_coach(make_phone, own_server)
    go(coach, link, "#accept")
    coach.page.click("#accept")
    coach.page.wait_for_function("() => location.hash.startsWith('#/evidence/')")
    assert may_read(coach, phone.player_id())


def test_a_squad_is_let_in_by_name_and_who_reads_is_shown(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    share_by_name(phone, "squad", "south")
    expect(phone.page.locator("#alert")).to_contain_text("no squad that a coach or an analyst reads")
    share_by_name(phone, "squad", "north")
    expect(phone.page.locator("#readers li")).to_contain_text("the squad north")
    expect(phone.page.locator("#readers li")).to_contain_text("seen now by sage")
    share_by_name(phone, "reader", "cara")
    expect(phone.page.locator("#readers li")).to_have_count(2)
    sage = a_coach(make_phone, own_server, "sage")
    assert may_read(sage, phone.player_id())
    phone.page.get_by_role("button", name="End access for the squad north").click()
    confirm(phone, "End it")
    expect(phone.page.locator("#readers li")).to_have_count(1)
    assert not may_read(sage, phone.player_id())


def test_without_a_network_the_list_is_the_last_one_with_its_day(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "player", "#to-sharing")  # its parts come with the network
    share_by_name(phone, "reader", "cara")
    expect(phone.page.locator("#readers li")).to_have_count(1)
    phone.go_offline()
    go(phone, "player", "#to-sharing")
    go(phone, "sharing", "#readers")
    expect(phone.page.locator("main")).to_contain_text("This list is as of")
    assert phone.page.locator("#invite").count() == 0
    phone.page.locator("#readers button").click()
    confirm(phone, "End it")
    expect(phone.page.locator("#alert")).to_contain_text("try again when there is a network")
    phone.context.set_offline(False)


NO_NOTES = """async (player) => {
  const path = `/api/players/${player}/notes`;
  const { notes } = await (await fetch(path)).json();
  const gone = await Promise.all(notes.map((one) => fetch(`${path}/${one.note_id}`, { method: 'DELETE' })));
  return gone.every((answer) => answer.ok);
}"""


@pytest.fixture(scope="module")
def wren(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Phone, Phone]]:
    """A server with the short demo season, shared by its player with the coach Cara; the phones of both.
    Every test takes away what it adds."""
    folder = tmp_path_factory.mktemp("wren")
    copy_short_demo(folder / "server.sqlite")
    server = start_server(folder)
    account(server, "wren", "player", demo_player(server))
    account(server, "cara", "coach")

    def new_phone(asked: Server) -> Phone:
        workers: Literal["allow", "block"] = "allow" if tiers.LONG else "block"
        context = browser.new_context(viewport=VIEWPORT, service_workers=workers)
        return Phone(context, asked.address, keeps_app=tiers.LONG)

    phone = new_phone(server)
    phone.open()
    sign_in(phone, "wren")
    phone.wait_sent()
    share_by_name(phone, "reader", "cara")
    phone.page.wait_for_selector("#readers")
    coach = a_coach(new_phone, server)
    yield phone, coach
    for one in (phone, coach):
        one.context.close()
    server.stop()


def leave(coach: Phone, about: str, words: str, player_id: str) -> None:
    go(coach, f"notes/{player_id}", "#note-words")
    coach.page.select_option("#note-about", about)
    coach.page.fill("#note-words", words)
    coach.page.click("#leave-note")
    expect(coach.page.locator(".note").first).to_contain_text(words)


def test_a_coachs_notes_are_read_where_they_belong(wren: tuple[Phone, Phone]) -> None:
    phone, coach = wren
    player_id = phone.player_id()
    club = next(club for club in phone.live("club") if club["body"]["label"] == "driver")
    closed = next(one for one in phone.live("round") if one["body"]["closed"])
    leave(coach, "club driver", "Tee it lower <b>", player_id)
    leave(coach, f"round {closed['record_id']}", "Well paced.", player_id)
    go(coach, "evidence", ".row-views")
    coach.page.click(".row-views >> text=notes")
    coach.page.wait_for_selector("#note-words")
    assert coach.page.evaluate("location.hash") == f"#/notes/{player_id}"
    expect(coach.page.locator(".tabs [aria-current=page]")).to_have_text("Strokes gained")
    go(coach, f"evidence/{player_id}/{BOTH_CLUBS}", ".notes #note-words")
    coach.page.fill("#note-words", "Wait for the autumn.")
    coach.page.click("#leave-note")
    expect(coach.page.locator(".notes .note")).to_contain_text("Wait for the autumn.")
    go(phone, f"bag/{club['record_id']}", ".note")
    expect(phone.page.locator(".note")).to_contain_text("Tee it lower <b>")
    go(phone, f"round/{closed['record_id']}/review", ".note")
    expect(phone.page.locator(".note")).to_contain_text("Well paced.")
    expect(phone.page.locator(".note")).to_contain_text("cara")
    # The other way round it is the same trial.
    go(phone, f"evidence/{player_id}/trial?a=4+iron+B&b=4+iron+A", ".notes .note")
    expect(phone.page.locator(".notes .note")).to_contain_text("Wait for the autumn.")
    assert phone.page.locator("#note-words").count() == 0
    go(phone, f"notes/{player_id}", ".note")
    expect(phone.page.locator(".tabs [aria-current=page]")).to_have_text("Player")
    expect(phone.page.locator(".note")).to_have_count(3)
    expect(phone.page.locator(".note-subject").first).to_have_text("Trial: 4 iron A against 4 iron B")
    phone.go_offline()
    go(phone, f"round/{closed['record_id']}/review", ".note")
    expect(phone.page.locator(".notes")).to_contain_text("As of")
    phone.context.set_offline(False)
    go(phone, f"notes/{player_id}", ".note")
    expect(phone.page.locator("main")).not_to_contain_text("As of")  # the fresh list has taken the kept one's place
    phone.page.locator(".note button").first.click()
    confirm(phone, "Delete it")
    expect(phone.page.locator(".note")).to_have_count(2)
    go(coach, f"notes/{player_id}", ".note")
    expect(coach.page.locator(".note")).to_have_count(2)
    assert coach.page.evaluate(NO_NOTES, player_id) is True


def test_notes_are_locked_while_a_competition_round_is_open(wren: tuple[Phone, Phone]) -> None:
    phone, coach = wren
    player_id = phone.player_id()
    leave(coach, "club driver", "Aim at the left bunker.", player_id)
    club = next(club for club in phone.live("club") if club["body"]["label"] == "driver")
    go(phone, "", ".home")
    round_id = phone.start_round("competition")
    phone.wait_sent()
    go(phone, f"notes/{player_id}", "h1")
    expect(phone.page.locator("h1")).to_have_text("Locked until the round is finished")
    go(phone, f"bag/{club['record_id']}", "#club-label")
    phone.page.wait_for_timeout(300)
    assert "left bunker" not in phone.page.inner_text("main")
    go(phone, f"round/{round_id}/card", "#delete-round")
    phone.page.click("#delete-round")
    confirm(phone, "Delete")
    phone.wait_sent()
    assert coach.page.evaluate(NO_NOTES, player_id) is True


EDITS = [
    "#hit",
    "#save-shot",
    "#save-club",
    "#new-round",
    "#new-club",
    "#delete-round",
    "#create-player",
    "#close-round",
]


def test_a_reader_has_nothing_to_edit(wren: tuple[Phone, Phone]) -> None:
    phone, coach = wren
    player_id = phone.player_id()
    changing: list[str] = []
    refused: list[str] = []
    coach.page.on("request", lambda one: changing.append(one.url) if one.method not in ("GET", "HEAD") else None)
    coach.page.on("response", lambda one: refused.append(one.url) if one.status in (401, 403) else None)
    places = ["", "players", "account", "bag", "courses", "player", "new", f"notes/{player_id}", "saving"]
    places += [f"evidence/{player_id}/{view}" for view in ("overview", "putting", "priorities", BOTH_CLUBS)]
    for place in places:
        go(coach, place, "h1")
        for control in EDITS:
            assert coach.page.locator(control).count() == 0, f"{control} at {place or 'home'}"
    assert (changing, refused) == ([], [])
    assert coach.all_of("records") == []
    assert coach.errors == []


def focused(phone: Phone) -> str:
    return str(phone.page.evaluate("() => document.activeElement.id"))


def tab_to(phone: Phone, wanted: str, most: int = 60) -> None:
    """Press the tabulator until that element has the focus."""
    for _ in range(most):
        if focused(phone) == wanted:
            return
        phone.page.keyboard.press("Tab")
    raise AssertionError(f"{wanted} is not reached in {most} steps; the focus is on {focused(phone)!r}")


def test_a_coach_is_let_in_and_ended_by_the_keyboard_alone(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    keys = phone.page.keyboard
    go(phone, "player", "#to-sharing")
    tab_to(phone, "to-sharing")
    keys.press("Enter")
    phone.page.wait_for_selector("#by-name")
    tab_to(phone, "by-name")
    keys.press("Enter")
    tab_to(phone, "share-reader")
    keys.type("cara")
    keys.press("Enter")
    phone.page.wait_for_selector("#readers")
    end = phone.page.get_by_role("button", name="End access for cara", exact=True)
    end.focus()
    keys.press("Enter")
    phone.page.wait_for_selector("dialog[open]")
    for _ in range(3):  # past Close and No
        if phone.page.evaluate("() => document.activeElement.textContent") == "End it":
            break
        keys.press("Tab")
    keys.press("Enter")
    expect(phone.page.locator("#nobody-reads")).to_be_visible()
    expect(phone.page.locator("#said")).to_have_text("Ended: cara no longer sees your rounds")
