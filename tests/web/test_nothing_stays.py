"""Whoever leaves a phone leaves nothing to read on it: signing out, an erasure, somebody else who signs in."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, expect

from tests import tiers
from tests.web.account_people import account, confirm, house, sign_in
from tests.web.evidence_pages import hold_back, wait_held
from tests.web.phone import ANSWER, CHROMIUM_ARGUMENTS, FULL_CHROMIUM, Phone, Server
from tests.web.screens import go
from tests.web.test_own_data import erase

EVERYTHING = f"""async () => {{
  {ANSWER}
  const found = {{storage: {{...localStorage, ...sessionStorage}}, databases: {{}}, caches: {{}}}};
  for (const {{name}} of await indexedDB.databases()) {{
    const database = await answer(indexedDB.open(name));
    const stores = [...database.objectStoreNames];
    const all = stores.map((store) => answer(database.transaction(store).objectStore(store).getAll()));
    found.databases[name] = Object.fromEntries((await Promise.all(all)).map((rows, place) => [stores[place], rows]));
    database.close();
  }}
  for (const name of await caches.keys()) {{
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {{
      const text = await (await cache.match(request)).text();
      found.caches[new URL(request.url).pathname] = request.url.includes('/api') ? text : text.length;
      if (/Robin|robin/.test(text)) found.caches[request.url] = text;
    }}
  }}
  return found;
}}"""
"""All that a browser's developer tools would show of what this origin has stored."""


def left_of(page: Page, *words: str) -> list[str]:
    """Which of these words stand in anything stored, or on the screen."""
    found = page.evaluate(EVERYTHING)
    assert set(found["databases"]) == {"pencilbag"}
    shown = json.dumps(found) + page.inner_text("body") + page.title()
    return [word for word in words if word in shown]


def wait_nothing_left(page: Page, *words: str) -> None:
    """What is under way when somebody leaves has a moment to do its worst."""
    page.wait_for_timeout(1000)
    assert left_of(page, *words) == []


def look_at_evidence(phone: Phone) -> None:
    """Answers about the player are kept on the phone from then on."""
    player = phone.player_id()
    go(phone, f"evidence/{player}/overview", ".headline")
    go(phone, "sharing", "#invite")
    assert len(phone.all_of("answers")) > 4
    go(phone, "", ".home")


def reopened(phone: Phone, round_id: str) -> None:
    """One change that the server has not got."""
    phone.page.route("**/changes*", lambda route: route.abort())
    go(phone, f"round/{round_id}/card", "#reopen")
    phone.page.click("#reopen")
    phone.page.wait_for_selector("#close-round")


def ask_to_sign_out(phone: Phone) -> None:
    go(phone, "account", "#sign-out")
    phone.page.click("#sign-out")


EVERY_WAY = [(view, offline) for view in ("evidence/{}/overview", "sharing") for offline in (True, False)]


@pytest.mark.service_worker
@pytest.mark.parametrize(("view", "offline"), EVERY_WAY if tiers.LONG else [EVERY_WAY[0], EVERY_WAY[3]])
def test_an_answer_under_way_brings_nothing_of_an_erased_player_back(
    make_phone: Any, own_server: Server, view: str, offline: bool
) -> None:
    phone, _ = house(make_phone, own_server)
    page, player = phone.page, phone.player_id()
    phone.wait_for_worker()
    look_at_evidence(phone)
    answers, going = [], []
    pattern = f"**/api/players/{player}/**"
    page.route(pattern, lambda route: route.fallback() if going else answers.append(route))
    page.evaluate("(hash) => { location.hash = hash; }", f"#/{view.format(player)}")
    page.wait_for_function("() => document.querySelector('main h1')")
    wait_held(page, answers)
    going.append(True)
    if offline:
        page.route("**/erasure", lambda route: route.abort())
        page.route(f"**/api/players/{player}", lambda route: route.abort())
    erase(phone)
    said = "#erasure-waits" if offline else "#alert"
    page.wait_for_selector(said)
    assert left_of(page, "Robin Vale") == []
    for route in answers:
        route.fulfill(json={"name": "Robin Vale", "shares": [], "invitations": [], "rows": []})
    wait_nothing_left(page, "Robin Vale")


@pytest.mark.service_worker
def test_signing_out_leaves_nothing_to_read(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    player = phone.player_id()
    phone.wait_for_worker()
    look_at_evidence(phone)
    assert left_of(phone.page, "Robin Vale", player, "robin") == ["Robin Vale", player, "robin"]
    other = phone.open()
    phone.pages.pop()
    ask_to_sign_out(phone)
    confirm(phone, "Sign out")
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    wait_nothing_left(phone.page, "Robin Vale", player, "robin")
    expect(other.locator("#new-name")).to_be_visible()
    assert "Robin" not in other.inner_text("body")
    assert phone.errors == []
    sign_in(phone, "robin")
    phone.page.wait_for_selector("#new-round")
    phone.wait_sent()
    assert len(phone.live("shot")) == 2


def test_an_answer_under_way_is_not_kept_after_signing_out(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    held = hold_back(phone.page, "**/strokes-gained**")
    phone.page.evaluate("(hash) => { location.hash = hash; }", f"#/evidence/{phone.player_id()}/overview")
    phone.page.wait_for_function("() => document.querySelector('.evidence h1')")
    wait_held(phone.page, held)
    ask_to_sign_out(phone)
    confirm(phone, "Sign out")
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    for route in held:
        route.fulfill(json={"name": "Robin Vale", "rows": []})
    wait_nothing_left(phone.page, "Robin Vale")


def test_what_is_not_sent_is_named_and_can_stay(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    reopened(phone, round_id)
    ask_to_sign_out(phone)
    expect(phone.page.locator("#clear-unsent")).to_contain_text("Not on the server: 1 change of Robin Vale.")
    phone.page.click("#clear-no")
    expect(phone.page.locator("#who")).to_have_text("Signed in as robin.")
    ask_to_sign_out(phone)
    phone.page.click("#clear-keep")
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    assert len(phone.all_of("outbox")) == 1
    assert len(phone.live("shot")) == 2
    assert [row["path"] for row in phone.all_of("answers") if "players" in row["path"]] == []
    phone.page.unroute("**/changes*")
    sign_in(phone, "robin")
    phone.wait_sent()


def test_what_is_not_sent_can_be_sent_first(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    reopened(phone, round_id)
    ask_to_sign_out(phone)
    phone.page.wait_for_selector("#clear-unsent")
    phone.page.unroute("**/changes*")
    phone.page.click("#clear-send")
    phone.page.wait_for_selector("#clear-sent")
    phone.page.click("#clear-now")
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    wait_nothing_left(phone.page, "Robin Vale")


def test_what_is_not_sent_can_go_to_a_file_and_comes_back_from_it(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    reopened(phone, round_id)
    ask_to_sign_out(phone)
    with phone.page.expect_download() as saved:
        phone.page.click("#clear-save")
    log = Path(saved.value.path()).read_text()
    phone.page.wait_for_selector("#clear-saved")
    phone.page.click("#clear-lose")
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    wait_nothing_left(phone.page, "Robin Vale")
    phone.page.unroute("**/changes*")
    sign_in(phone, "robin")
    phone.wait_sent()
    go(phone, "saving", "#log-file")
    file = {"name": "log.json", "mimeType": "application/json", "buffer": log.encode()}
    phone.page.set_input_files("#log-file", file)
    expect(phone.page.locator("#alert")).to_contain_text("Restored: 1 change added")
    phone.wait_sent()


def test_losing_what_is_not_sent_is_asked_twice(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    reopened(phone, round_id)
    ask_to_sign_out(phone)
    phone.page.click("#clear-lose")
    phone.page.get_by_role("button", name="No", exact=True).click()
    assert len(phone.all_of("outbox")) == 1
    phone.page.click("#clear-lose")
    phone.page.get_by_role("button", name="Delete them", exact=True).click()
    expect(phone.page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    wait_nothing_left(phone.page, "Robin Vale")


@pytest.mark.service_worker
def test_a_second_user_of_the_phone_finds_nothing_of_the_first(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    player = phone.player_id()
    phone.wait_for_worker()
    look_at_evidence(phone)
    account(own_server, "sam", "player")
    sign_in(phone, "sam")
    phone.page.wait_for_selector("#create-player")
    wait_nothing_left(phone.page, "Robin Vale", player, "robin")
    phone.sign_up("Sam Poole")
    phone.wait_sent()
    go(phone, "account", "#who")
    expect(phone.page.locator("#who")).to_have_text("Signed in as sam.")
    wait_nothing_left(phone.page, "Robin Vale", player, "robin")


def test_a_second_user_may_clear_what_the_first_had_not_sent(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    account(own_server, "sam", "player")
    reopened(phone, round_id)
    sign_in(phone, "sam")
    phone.page.wait_for_selector("#whose")
    assert len(phone.all_of("outbox")) == 1
    phone.page.click("#clear-other")
    expect(phone.page.locator("#clear-unsent")).to_contain_text("1 change of Robin Vale")
    phone.page.click("#clear-lose")
    phone.page.get_by_role("button", name="Delete them", exact=True).click()
    expect(phone.page.locator("main")).to_contain_text("No player is chosen on this device.")
    wait_nothing_left(phone.page, "Robin Vale")


STORES = """async (wish) => {
  const { clearPhone } = await import('/js/log/clearing.js');
  const { erasePlayer } = await import('/js/log/erasing.js');
  const { answer, inTransaction } = await import('/js/log/database.js');
  const open = indexedDB.open('later', 1);
  open.onupgradeneeded = () => {
    const outbox = open.result.createObjectStore('outbox', {keyPath: 'position'});
    outbox.createIndex('player_id', 'player_id');
    for (const name of ['changes', 'records', 'answers', 'settings', 'a later store']) {
      open.result.createObjectStore(name, name === 'settings' ? {keyPath: 'name'} : {autoIncrement: true});
    }
  };
  const database = await answer(open);
  const store = {
    runAll: (mode, work) => inTransaction(database, [...database.objectStoreNames], mode, work),
  };
  await store.runAll('readwrite', async (transaction) => {
    const later = transaction.objectStore('a later store');
    const rows = [{player_id: 'robin', typed: 'r'}, {player_id: 'sam', typed: 's'}, {typed: 'whose?'}, 'text'];
    for (const row of rows) later.put(row);
    later.put({player_id: 'account:cara', record_id: 'robin', typed: 'a note of cara on robin'});
    const settings = transaction.objectStore('settings');
    const names = ['device_id', 'a later setting', 'cursor robin', 'cursor sam'];
    for (const name of names) settings.put({name, value: 'sam'});
  });
  await (wish === 'erase' ? erasePlayer(store, 'robin') : clearPhone(store, {own: wish}));
  const left = await store.runAll('readonly', async (transaction) => Promise.all(
    ['a later store', 'settings'].map((name) => answer(transaction.objectStore(name).getAll()))));
  database.close();
  await answer(indexedDB.deleteDatabase('later'));
  return {later: left[0].map((row) => row.typed), settings: left[1].map((row) => row.name)};
}"""


WISHES: list[tuple[str | None, list[str], list[str]]] = [
    ("erase", ["s"], ["cache turn", "cursor sam", "device_id", "erasures"]),
    ("sam", ["s"], ["cache turn", "cursor sam", "device_id"]),
    (None, [], ["cache turn", "device_id"]),
]


def test_a_store_that_nobody_thought_of_is_cleared_too(module_page: Page) -> None:
    for wish, later, settings in WISHES:
        left = module_page.evaluate(STORES, wish)
        assert (left["later"], sorted(left["settings"])) == (later, settings), wish


@pytest.fixture
def sleeping_phone(playwright_session: Playwright, own_server: Server) -> Iterator[Phone]:
    """A phone whose browser keeps pages that are left, to show them again as they were."""
    browser = playwright_session.chromium.launch(
        executable_path=FULL_CHROMIUM, args=CHROMIUM_ARGUMENTS, ignore_default_args=["--disable-back-forward-cache"]
    )
    context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
    yield Phone(context, own_server.address)
    browser.close()


WATCH = """() => {
  addEventListener('pagehide', () => { window.hidden_with = document.body.innerText + document.title; });
  addEventListener('pageshow', ({persisted}) => { window.woke = persisted; });
}"""


def test_going_back_shows_nothing_of_who_has_left(sleeping_phone: Phone, own_server: Server) -> None:
    phone = sleeping_phone
    first, _ = house(lambda server: phone, own_server)
    page = first.page
    go(first, f"evidence/{first.player_id()}/overview", ".headline")
    assert left_of(page, "Robin Vale") == ["Robin Vale"]
    page.evaluate(WATCH)
    page.goto(f"{own_server.address}/manifest.webmanifest")
    other = phone.open("#/account", "#sign-out")
    other.click("#sign-out")
    other.locator("dialog[open]").get_by_role("button", name="Sign out", exact=True).click()
    expect(other.locator("#who")).to_have_text("Nobody is signed in on this device.")
    page.go_back(wait_until="commit")
    page.wait_for_selector("main h1")
    page.wait_for_timeout(500)
    assert "Robin" not in page.inner_text("body") + page.title()
    if page.evaluate("window.woke ?? null") is not None:
        assert "Robin" not in page.evaluate("window.hidden_with")


def test_a_page_that_sleeps_is_empty_and_wakes_to_what_is_stored(sleeping_phone: Phone, own_server: Server) -> None:
    phone = sleeping_phone
    first, round_id = house(lambda server: phone, own_server)
    page = first.page
    go(first, f"round/{round_id}/card", "#reopen")
    page.evaluate(WATCH)
    page.goto(f"{own_server.address}/manifest.webmanifest")
    page.go_back(wait_until="commit")
    page.wait_for_selector("#reopen")
    assert page.evaluate("window.woke") is True, "the browser has kept the page"
    assert "Robin" not in page.evaluate("window.hidden_with")
    expect(page.locator("main")).to_contain_text("Robin Vale")
