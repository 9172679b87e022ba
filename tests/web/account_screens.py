"""Every screen of account, sharing, notes, import and own data, as a player and a coach reach it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tests.files.tables import drive_and_putt, row, table
from tests.web.account_people import a_coach, account, house
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go


def choose_table(phone: Phone, content: bytes, name: str = "rounds.csv") -> None:
    phone.page.set_input_files("#table-file", {"name": name, "mimeType": "text/csv", "buffer": content})


def rows_of(name: str, **cells: Any) -> list[dict[str, Any]]:
    return drive_and_putt(player=name, course="Heron Marsh (invented)", tees="middle", **cells)


def of_the_player(phone: Phone) -> Iterator[str]:
    page = phone.page
    go(phone, "player", "#to-account")
    yield "player"
    go(phone, "account", "#sessions li")
    page.click("#password")
    yield "account"
    page.click("#make-join")
    page.wait_for_selector("dialog .qr img")
    yield "join another phone"
    close_sheet(phone)
    go(phone, "account/tokens", "#make-token")
    page.fill("#token-label", "notebook of the season")
    page.click("#make-token")
    page.wait_for_selector("#token")
    yield "tokens"
    go(phone, "sharing", "#invite")
    yield "sharing, nobody reads"
    page.click("#invite")
    page.wait_for_selector("#invitation-link")
    yield "invitation"
    close_sheet(phone)
    page.wait_for_selector("#invitations")
    page.click("#by-name")
    page.fill("#share-reader", "cara")
    page.click("#share-with-reader")
    page.wait_for_selector("#readers")
    page.click("#by-squad")
    page.fill("#share-squad", "north")
    page.click("#share-with-squad")
    page.wait_for_selector("#readers li >> nth=1")
    yield "sharing"
    page.locator("#readers button").first.click()
    yield "end a share"
    close_sheet(phone)


def of_the_coach(phone: Phone, player_id: str, round_id: str) -> Iterator[str]:
    page = phone.page
    go(phone, "account", "#to-readers-list")
    yield "account of a coach"
    go(phone, "invitation", "#accept")
    yield "invitation by code"
    go(phone, "invitation/a-code", "#accept")
    yield "invitation by link"
    go(phone, f"notes/{player_id}", "#note-words")
    page.select_option("#note-about", f"round {round_id}")
    page.fill("#note-words", "Two good swings.\nLook at the tempo of the first, and at the aim of the second.")
    page.click("#leave-note")
    page.wait_for_selector(".note")
    yield "notes of a coach"
    go(phone, "players", "#to-read")
    yield "players, for a coach"


def of_the_data(phone: Phone, round_id: str) -> Iterator[str]:
    page = phone.page
    go(phone, f"notes/{phone.player_id()}", ".note")
    yield "notes of the player"
    go(phone, f"round/{round_id}/review", ".note")
    # the screen is drawn anew by itself: the note is found and shown in one step
    page.wait_for_function(
        "() => { const one = document.querySelector('.note'); one?.scrollIntoView(); return one !== null; }"
    )
    yield "review with a note"
    go(phone, "import", "#table-file")
    page.click("#columns")
    yield "import"
    bad = [*rows_of("Robin Vale"), row(player="Robin Vale", distance=900), row(player="Somebody", lie="water", hole=40)]
    choose_table(phone, table(bad))
    page.wait_for_selector(".faults")
    yield "import, refused"
    choose_table(phone, table(rows_of("Robin Vale") + rows_of("Robin Vale", played_on="2026-05-09")))
    page.wait_for_selector("#store-rounds")
    yield "import, preview"
    page.click("#store-rounds")
    page.wait_for_selector("#stored")
    yield "import, stored"
    go(phone, "own-data", "#erase")
    page.click("#download")
    page.wait_for_selector("#downloaded strong")
    yield "your data"
    page.click("#erase")
    page.wait_for_selector("#erase-go-on")
    yield "erase, first question"
    page.click("#erase-go-on")
    page.wait_for_selector("#erase-name")
    page.fill("#erase-name", "Robin")
    page.click("#erase-now")
    page.wait_for_selector("dialog .notice")
    yield "erase, second question"
    close_sheet(phone)


UNSENT = """async () => {
  const { Store } = await import('/js/log/store.js');
  const store = new Store();
  await store.start();
  const edits = [{record_id: crypto.randomUUID(), kind: 'club', body: {label: 'spare wedge', sort: 'wedge'}}];
  await store.write(await store.setting('player_id'), null, () => ({edits, words: ''}));
}"""


def at_the_edges(phone: Phone, server: Server) -> Iterator[str]:
    """Leaving with something unsent, another's account on the phone, and an erasure without a network."""
    page = phone.page
    page.route("**/changes*", lambda route: route.abort())
    page.evaluate(UNSENT)
    go(phone, "account", "#sign-out")
    page.click("#sign-out")
    page.wait_for_selector("#clear-unsent")
    yield "sign out, not all is sent"
    with page.expect_download():
        page.click("#clear-save")
    page.wait_for_selector("#clear-saved")
    yield "sign out, saved to a file"
    close_sheet(phone)
    account(server, "sam", "player")
    go(phone, "sign-in", "#account-name")
    page.fill("#account-name", "sam")
    page.fill("#account-password", "long green heron pencil")
    page.click("#sign-in")
    page.wait_for_selector("#whose")
    yield "whose phone"
    page.unroute("**/changes*")
    go(phone, "saving", "#send-now")
    page.click("#send-now")
    page.wait_for_selector("#to-whose-phone")
    yield "saving, another account"
    go(phone, "sharing", "#no-sharing")
    yield "sharing, another account"
    phone.go_offline()
    go(phone, "own-data", "#erase")
    page.click("#erase")
    page.click("#erase-go-on")
    page.fill("#erase-name", "Robin Vale")
    page.click("#erase-now")
    page.wait_for_selector("#erasure-waits")
    yield "erased offline"


def every_account_screen(make_phone: Any, server: Server, **options: Any) -> Iterator[tuple[Phone, str]]:
    """Walks through all of it; yields the phone and the name of each screen while it is shown."""

    def phones(_server: Server, **more: Any) -> Phone:
        return make_phone(_server, **options, **more)

    phone, round_id = house(phones, server)
    player_id = phone.player_id()
    for name in of_the_player(phone):
        yield phone, name
    coach = a_coach(phones, server)
    for name in of_the_coach(coach, player_id, round_id):
        yield coach, name
    for name in of_the_data(phone, round_id):
        yield phone, name
    for name in at_the_edges(phone, server):
        yield phone, name
