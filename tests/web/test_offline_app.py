"""The installable offline app: manifest, list of files, cold start without a network, updates only when wanted."""

from __future__ import annotations

import json
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error, Page, Playwright, expect

from tests.web.conftest import start_server
from tests.web.evidence_pages import hold_back, open_view, wait_held
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS, KEPT, Phone, Server, as_sent
from tests.web.write_asset_list import (
    LETTERS_AFTERWARDS,
    LIST,
    WEB,
    WORKER_FILES,
    files,
    first_files,
    first_modules,
    front_page,
    listing,
)

pytestmark = pytest.mark.service_worker

MOST_FIRST_BYTES = 200_000
MOST_LETTERS_BYTES = 20_000
LEAST_ICONS = {("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")}


def test_the_asset_list_is_that_of_the_disk() -> None:
    assert LIST.read_text() == listing(), "run `python -m tests.web.write_asset_list`"
    assert len(files()) > 40
    assert (WEB / "index.html").read_text() == front_page(), "run `python -m tests.web.write_asset_list`"
    assert len(first_modules()) > 20


def test_all_files_of_the_first_load_are_small_as_they_are_sent(live_server: Server) -> None:
    asked = {*first_files(), *WORKER_FILES}
    assert len(asked) > 60
    assert sum(len(as_sent(live_server, path)) for path in asked) <= MOST_FIRST_BYTES


LOADED_AHEAD = {"/js/ui/shortcuts.js"}
"""What a page takes a moment after it is drawn: there or not yet when it is looked at."""


LETTERS_SHOWN = "() => getComputedStyle(document.querySelector('h1')).fontFamily.split(',')[0]"
LETTERS_LOADED = "async () => (await document.fonts.load('600 16px Notebook', 'Hole 7')).map((one) => one.status)"


@pytest.mark.new_phone
def test_the_first_start_keeps_what_a_round_needs_and_the_second_the_rest_with_its_letters(phone: Phone) -> None:
    """No code stands in the page, and from its first request to a round that is begun no other host is asked."""
    asked: list[str] = []
    refused: list[str] = []
    phone.context.on("request", lambda request: asked.append(request.url))
    page = phone.context.new_page()
    phone.pages.append(page)
    page.on("console", lambda message: refused.append(message.text) if "Content Security" in message.text else None)
    answer = page.goto(f"{phone.address}/")
    assert answer is not None
    forbids_code_in_the_page(answer.headers["content-security-policy"])
    page.wait_for_selector("main h1")
    assert page.evaluate(LETTERS_SHOWN) != "Notebook", "the first load goes without"
    phone.wait_for_worker()
    assert set(page.evaluate(KEPT)) - LOADED_AHEAD == first_files()
    page.reload()
    page.wait_for_selector("h1")
    phone.wait_for_whole_app()
    assert set(page.evaluate(KEPT)) == set(files())
    page.reload()
    page.wait_for_function("() => localStorage.getItem('pencilbag letters') === 'yes'")
    page.reload()
    page.wait_for_selector("h1")
    assert page.evaluate(LETTERS_SHOWN) == "Notebook"
    assert page.evaluate(LETTERS_LOADED) == ["loaded"]
    phone.sign_up()
    phone.start_round()
    assert len(asked) > 20
    assert [url for url in asked if not url.startswith((phone.address, "blob:"))] == []
    assert refused == []


def forbids_code_in_the_page(policy: str) -> None:
    """And the page has none."""
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    html = (WEB / "index.html").read_text()
    assert "style=" not in html
    assert "<script>" not in html


def test_the_letters_are_small() -> None:
    letters = sorted((WEB / "fonts").glob("*.woff2"))
    assert [f"/fonts/{path.name}" for path in letters] == sorted(LETTERS_AFTERWARDS)
    assert sum(path.stat().st_size for path in letters) <= MOST_LETTERS_BYTES
    assert "SIL Open Font License, Version 1.1" in (WEB / "fonts" / "LICENCE.txt").read_text(encoding="utf-8")


ON_AT_ONCE = """new MutationObserver((_, watcher) => {
  if (!document.querySelector('main h1')) return;
  watcher.disconnect();
  location.hash = "#/account";
}).observe(document, { childList: true, subtree: true });"""
"""From the first screen to the account as soon as that is drawn, which is before the service worker is registered."""


@pytest.mark.new_phone
def test_a_file_on_its_way_while_the_worker_takes_over_is_kept_too(phone: Phone) -> None:
    page = phone.context.new_page()
    page.add_init_script(ON_AT_ONCE)
    held = hold_back(page, "**/js/screens/account.js")
    page.goto(phone.address)
    wait_held(page, held)
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    for route in held:
        route.continue_()
    page.wait_for_selector("h1 >> text=Account")
    assert "/js/screens/account.js" not in first_files()
    page.evaluate(KEPT)
    phone.context.set_offline(True)
    page.reload()
    page.wait_for_selector("h1 >> text=Account")


@pytest.mark.new_phone
def test_what_was_loaded_before_the_worker_was_there_is_kept_too(make_phone: Any, demo: Server) -> None:
    phone: Phone = make_phone(demo)
    page = open_view(phone, demo, "overview")
    phone.go_offline()
    page.reload()
    expect(page.locator(".as-of")).to_contain_text("This is the last answer")


WORKER_BETWEEN = """async () => {
  const heard = [];
  const worker = { postMessage: (wish) => heard.push(wish) };
  const workers = Object.assign(new EventTarget(), { controller: null, register: async () => new EventTarget() });
  Object.defineProperty(navigator, 'serviceWorker', { value: workers, configurable: true });
  const { cacheTheRest, startBridge } = await import('/js/bridge.js?fresh');
  cacheTheRest();
  workers.controller = worker;
  await startBridge({ state: {} });
  cacheTheRest();
  return heard;
}"""
"""Evidence asks for the rest of the app when no worker is there yet; one takes over before the app looks for it."""


def test_the_rest_wanted_before_the_worker_was_there_is_asked_for_once(module_page: Page) -> None:
    assert module_page.evaluate(WORKER_BETWEEN) == ["keep the rest"]


@pytest.mark.new_phone
def test_a_part_that_is_not_kept_yet_says_so_and_comes_with_the_network(phone: Phone) -> None:
    page = phone.open()
    phone.sign_up()
    phone.go_offline()
    page.evaluate("location.hash = '#/import'")
    expect(page.locator("h1")).to_have_text("This screen cannot be shown")
    expect(page.locator("main")).to_contain_text("not on this phone yet")
    page.evaluate("location.hash = '#/bag'")
    expect(page.locator("h1")).to_have_text("Bag")
    phone.context.set_offline(False)
    page.evaluate("location.hash = '#/import'")
    expect(page.locator("h1")).to_have_text("Import rounds")
    phone.go_offline()
    page.reload()
    expect(page.locator("h1")).to_have_text("Import rounds")


def test_the_manifest_names_icons_that_are_there() -> None:
    manifest = json.loads((WEB / "manifest.webmanifest").read_text())
    assert manifest["id"] == manifest["scope"] == manifest["start_url"] == "/"
    icons = {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]}
    assert icons >= LEAST_ICONS
    for icon in manifest["icons"]:
        content = (WEB / icon["src"].lstrip("/")).read_bytes()
        if icon["type"] == "image/png":
            width, height = (int.from_bytes(content[start : start + 4], "big") for start in (16, 20))
            assert f"{width}x{height}" == icon["sizes"]


def test_cold_start_offline_after_the_browser_was_closed(
    playwright_session: Playwright, live_server: Server, tmp_path: Path
) -> None:
    def launch() -> Phone:
        context = playwright_session.chromium.launch_persistent_context(
            tmp_path / "profile",
            executable_path=CHROMIUM,
            args=CHROMIUM_ARGUMENTS,
            viewport={"width": 390, "height": 844},
        )
        return Phone(context, live_server.address)

    phone = launch()
    phone.open()
    phone.sign_up()
    phone.start_round()
    phone.hit()
    phone.wait_for_worker()
    phone.context.close()
    phone = launch()
    phone.go_offline()
    phone.open()
    phone.page.click(".go-on")
    phone.page.wait_for_selector(".shot")
    phone.hit()
    for address, words in (
        ("bag", "Bag"),
        ("courses", "Courses"),
        ("player", "Robin Vale"),
        ("saving", "Saving and sending"),
    ):
        phone.page.evaluate("(to) => { location.hash = '#/' + to; }", address)
        expect(phone.page.locator("h1")).to_have_text(words)
    phone.context.close()


@pytest.fixture
def versions(tmp_path: Path) -> Iterator[tuple[Server, Path]]:
    """A server of a copy of the front end, which a test may change."""
    web = tmp_path / "web"
    shutil.copytree(WEB, web)
    server = start_server(tmp_path, 0, web)
    yield server, web
    server.stop()


def publish(web: Path) -> None:
    """Another version: one file changed, the list made anew."""
    style = web / "css" / "paper.css"
    style.write_text(style.read_text() + "\n/* another version */\n")
    (web / "worker" / "assets.js").write_text(listing(web))


def version_in_use(tab: Page) -> list[str]:
    return list(tab.evaluate("caches.keys()"))


ONE_VERSION = """async () => (await caches.keys()).length === 1
  && !(await navigator.serviceWorker.getRegistration()).waiting"""
"""The other one was let in, and nothing is kept of the first."""


def wait_until(tab: Page, promised: str, patience_s: float = 60) -> None:
    """Waits until what this promises comes true, whatever page the tab is on by then. `wait_for_function` looks at the
    promise alone, which is always there."""
    ends = time.monotonic() + patience_s
    while True:
        try:
            if tab.evaluate(f"async () => Boolean(await ({promised})())"):
                return
        except Error as error:
            if "context was destroyed" not in str(error):
                raise
        assert time.monotonic() < ends, promised
        tab.wait_for_timeout(50)


def look_for_update(tab: Page) -> Any:
    return tab.evaluate("""async () => {
      const registration = await navigator.serviceWorker.ready;
      await registration.update().catch(() => undefined);
      const worker = registration.installing;
      const settled = () => ['installed', 'redundant'].includes(worker.state);
      if (worker) await new Promise((go) => worker.addEventListener('statechange', () => settled() && go()));
      return registration.waiting !== null;
    }""")


def test_an_update_waits_for_the_player_and_for_the_round_to_close_and_half_of_one_never_gets_in(
    make_phone: Any, versions: tuple[Server, Path]
) -> None:
    server, web = versions
    phone: Phone = make_phone(server)
    page = phone.open()
    phone.wait_for_worker()
    old = version_in_use(page)
    publish(web)
    half_an_update_never_gets_in(phone, web)
    phone.sign_up()
    round_id = phone.start_round()
    assert look_for_update(page) is True
    expect(page.locator("#update")).to_be_visible()
    page.reload()
    page.wait_for_selector("#update:not([hidden])")
    assert "another version" not in page.evaluate("fetch('/css/paper.css').then((answer) => answer.text())")
    page.click("#update")
    page.click("#update-now")
    expect(page.locator("#alert")).to_contain_text("A round is open: finish it first")
    page.evaluate(f"location.hash = '#/round/{round_id}/card'")
    phone.stop_here()
    page.evaluate("location.hash = '#/saving'")
    page.click("#update-now")
    page.wait_for_function("() => document.querySelector('#update')?.hidden && document.querySelector('main h1')")
    wait_until(
        page,
        "async () => (await (await fetch('/css/paper.css')).text()).includes('another version')",
    )
    wait_until(page, ONE_VERSION)
    assert version_in_use(page) != old
    publish(web)
    without_what_was_kept_the_server_has_the_app(phone)


def half_an_update_never_gets_in(phone: Phone, web: Path) -> None:
    """On its first screen. The rest of the update comes afterwards."""
    page = phone.page
    whole = (web / "js" / "app.js").read_bytes()
    (web / "js" / "app.js").write_text("<!doctype html><title>Welcome</title>")
    assert look_for_update(page) is False
    phone.go_offline()
    page.reload()
    expect(page.locator("h1")).to_have_text("Pencilbag")
    assert phone.errors == []
    (web / "js" / "app.js").write_bytes(whole)
    phone.context.set_offline(False)


def without_what_was_kept_the_server_has_the_app(phone: Phone) -> None:
    """Whatever its version."""
    page = phone.page
    phone.errors.clear()
    page.evaluate("async () => { for (const name of await caches.keys()) await caches.delete(name); }")
    page.reload()
    expect(page.locator("h1")).to_have_text("Saving and sending")
    assert phone.errors == []


def test_a_part_of_another_version_never_gets_in(make_phone: Any, versions: tuple[Server, Path]) -> None:
    server, web = versions
    phone: Phone = make_phone(server)
    page = phone.open()
    phone.sign_up()
    phone.wait_for_worker()
    part = web / "js" / "screens" / "import.js"
    part.write_text(part.read_text().replace("Import rounds", "Another version of import"))
    (web / "worker" / "assets.js").write_text(listing(web))
    page.evaluate("location.hash = '#/import'")
    expect(page.locator("main")).to_contain_text("a new version is waiting to be installed")
    assert look_for_update(page) is True
    page.evaluate("location.hash = '#/saving'")
    with page.expect_event("load"):
        page.click("#update-now")
    wait_until(page, ONE_VERSION)
    # on a busy machine the page is loaded once more: an address set before stays, or has kept the page from it
    page.wait_for_function("() => { location.hash = '#/import'; return document.querySelector('main h1'); }")
    expect(page.locator("h1")).to_have_text(re.compile("Another version of import|This screen cannot be shown"))
    if page.get_by_role("button", name="Try again").count():
        page.get_by_role("button", name="Try again").click()
    expect(page.locator("main")).to_contain_text("Another version of import")


def test_a_page_begun_before_the_version_let_in_took_over_is_loaded_once_more(phone: Phone) -> None:
    page = phone.open()
    phone.wait_for_worker()
    loads: list[str] = []
    page.on("load", lambda: loads.append(page.url))
    page.evaluate("() => sessionStorage.setItem('letting in', '1')")
    with page.expect_event("load", predicate=lambda _: len(loads) == 2):
        page.reload()
    page.wait_for_function("() => navigator.serviceWorker.controller && document.querySelector('main h1')")
    assert page.evaluate("() => sessionStorage.getItem('letting in')") is None
    assert len(loads) == 2


NOTES_A_CUT_OFF_INSTALLATION = """
const register = navigator.serviceWorker.register.bind(navigator.serviceWorker);
navigator.serviceWorker.register = async (...given) => {
  const registration = await register(...given).catch((error) => {
    window.refused = true;
    throw error;
  });
  const worker = registration.installing;
  worker?.addEventListener('statechange', () => { window.cutOff ||= worker.state === 'redundant'; });
  return registration;
};"""


def test_a_first_installation_cut_off_is_tried_again(make_phone: Any, versions: tuple[Server, Path]) -> None:
    server, web = versions
    missing, worker = web / "js" / "screens" / "bag.js", web / "sw.js"
    content, of_worker = missing.read_bytes(), worker.read_bytes()
    missing.unlink()
    worker.unlink()
    phone: Phone = make_phone(server)
    phone.context.add_init_script(NOTES_A_CUT_OFF_INSTALLATION)
    page = phone.open()
    page.wait_for_function("() => window.refused === true")
    worker.write_bytes(of_worker)
    page.wait_for_function("() => window.cutOff === true")
    assert page.evaluate("navigator.serviceWorker.controller") is None
    missing.write_bytes(content)
    page.evaluate("dispatchEvent(new Event('online'))")
    phone.wait_for_worker()
    # a page that came without its worker, as one does while a worker takes over, gets it all the same
    devtools = phone.context.new_cdp_session(page)
    with page.expect_event("load"):
        devtools.send("Page.reload", {"ignoreCache": True})
    phone.wait_for_worker()
