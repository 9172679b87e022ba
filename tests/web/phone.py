"""A phone in the tests: a browser context, its page, and what a thumb does with it. Counts its taps."""

from __future__ import annotations

import json
import os
import shutil
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import BrowserContext, Error, Page, expect

from tests.web.write_asset_list import files

CHROMIUM: Final = os.environ.get("PENCILBAG_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
FULL_CHROMIUM: Final = shutil.which("chromium") or CHROMIUM
"""With its window's frame, and the pages that it keeps when they are left; the headless shell keeps none."""
CHROMIUM_ARGUMENTS: Final = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # With StaticStorageQuota a test cannot set the room that a phone has; the other two open two hidden pages a window.
    "--disable-features=StaticStorageQuota,WebUIOmniboxPopup,WebUIOmniboxAimPopup",
]


KEPT: Final = """async (wanted) => {
  const parts = /^\\/(js|css)\\//;
  let missing = [];
  for (let turn = 0; turn < 600; turn += 1) {
    const name = (await caches.keys())[0];
    const held = name ? await (await caches.open(name)).keys() : [];
    const paths = new Set(held.map((request) => new URL(request.url).pathname));
    const loaded = performance.getEntriesByType('resource').map((entry) => new URL(entry.name).pathname);
    const asked = wanted ?? loaded.filter((path) => parts.test(path));
    missing = asked.filter((path) => !paths.has(path));
    if (navigator.serviceWorker.controller && !missing.length) return [...paths];
    await new Promise((go) => setTimeout(go, 100));
  }
  const there = navigator.serviceWorker.controller ? 'a worker is at work' : 'no worker is at work';
  throw new Error(`not kept: ${missing.join(' ')}; ${there}`);
}"""
"""Paths that the service worker keeps, once those wanted are among them; by default those that the page has loaded."""


CLOCK: Final = BrowserContext.clock


@dataclass
class Server:
    """A running server of the tests."""

    pid: int
    port: int
    folder: Path
    end: Callable[[int], None]
    kept: dict[str, Any] | None = None
    """What it has answered by path, on a server that nothing changes: it need not work that out again."""
    lasting: bool = False
    """Whether its address serves many tests: phones made for it may be cleared for the next one."""

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def get(self, path: str) -> Any:
        """The JSON at a path."""
        with urllib.request.urlopen(self.address + path, timeout=120) as answer:
            return json.load(answer)

    def post(self, path: str, body: Any) -> Any:
        """The JSON answer to a JSON body."""
        request = urllib.request.Request(
            self.address + path, json.dumps(body).encode(), {"content-type": "application/json"}, method="POST"
        )
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.load(answer)

    def log(self, player_id: str) -> list[dict[str, Any]]:
        """Every change that the server holds of a player."""
        changes: list[dict[str, Any]] = []
        after = ""
        while True:
            page = self.get(f"/api/players/{player_id}/changes?limit=5000{after}")
            changes += page["changes"]
            if not page["more"]:
                return changes
            after = f"&after={page['cursor']}"

    def stop(self) -> None:
        """Kill it, once."""
        if self.pid:
            self.end(self.pid)
        self.pid = 0


def as_sent(server: Server, path: str) -> bytes:
    """A file as it goes over the network to a browser: packed."""
    request = urllib.request.Request(server.address + path, headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(request, timeout=120) as answer:
        return bytes(answer.read())


@dataclass
class Phone:
    """A phone with storage of its own. `taps` counts what a thumb would do."""

    context: BrowserContext
    address: str
    taps: int = 0
    pages: list[Page] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    keeps_app: bool = False
    """Whether the service worker may keep the app on it."""
    blank: Page | None = None
    """A page without an address that the first tab takes."""

    @property
    def page(self) -> Page:
        return self.pages[-1]

    def open(self, hash_: str = "", wait: str = "h1") -> Page:
        """The app in a new tab."""
        page, self.blank = self.blank or self.context.new_page(), None
        page.on("pageerror", self.note_error)
        self.pages.append(page)
        page.goto(f"{self.address}/{hash_}")
        page.wait_for_selector(f"main {wait}")
        return page

    def note_error(self, error: Error) -> None:
        """What a page has thrown and nobody caught."""
        self.errors.append(str(error))

    def set_time(self, moment: str) -> None:
        """What its clock shows from now on, on a phone that was made with a time."""
        CLOCK.fget(self.context).set_fixed_time(moment)

    def kill(self) -> None:
        """The tab is gone at once, with no chance to say goodbye."""
        page = self.pages.pop()
        page.close(run_before_unload=False)

    def tap(self, selector: str) -> None:
        self.taps += 1
        self.page.click(selector)

    def tap_words(self, words: str, inside: str = "body") -> None:
        self.taps += 1
        self.page.locator(inside).get_by_role("button", name=words, exact=True).first.click()

    def sign_up(self, name: str = "Robin Vale", units: str = "yards") -> str:
        """A new player with a usual bag; the player's id."""
        self.page.fill("#new-name", name)
        if units == "metres":
            self.page.click("#main >> text=metres")
        self.page.click("#create-player")
        self.page.wait_for_selector("#new-round")
        return self.player_id()

    def player_id(self) -> str:
        return str(self.page.evaluate(SETTING, "player_id"))

    def start_round(self, kind: str = "practice") -> str:
        """A round on the course chosen by itself; the round's id."""
        self.page.click("#new-round")
        return self.start_here(kind)

    def start_here(self, kind: str) -> str:
        """Where a new round is set up: starts it; its id."""
        self.page.wait_for_selector("#start-round")
        self.page.click(f"#kind-{kind}")
        self.page.click("#start-round")
        self.page.wait_for_selector("#hit")
        return self.round_id()

    def round_id(self) -> str:
        """The round that is shown."""
        return str(self.page.evaluate("location.hash.split('/')[2]"))

    def stop_here(self) -> None:
        """On the card: closes the round though holes are missing."""
        self.page.click("#close-round")
        self.page.click("#close-stop")
        self.page.wait_for_selector("#reopen")

    def type_distance(self, number: int) -> None:
        for digit in str(number):
            self.tap(f"#key-{digit}")

    def shots_shown(self) -> int:
        return self.page.locator(".shot").count()

    def hit(self, button: str = "#hit") -> None:
        """Hit (or holed), as soon as a tap means a shot of its own, and wait until the shot is shown."""
        self.settled()
        before = self.shots_shown()
        self.tap(button)
        expect(self.page.locator(".shot")).to_have_count(before + 1)

    def hole_out(self, look_back: bool = False) -> None:
        """Holed: the round turns to what comes next. `look_back`: then to the hole that is done."""
        self.settled()
        hole = self.page.inner_text("h1").removeprefix("Hole ")
        self.tap("#holed")
        self.page.wait_for_selector(f"#turned >> text=Hole {hole}:")
        if look_back:
            self.page.evaluate("(hole) => { location.hash = location.hash.replace(/[^/]+$/, hole); }", hole)
            self.page.wait_for_selector(f"body:has(h1:text-is('Hole {hole}')) .done-words")

    def to_hole(self, number: int) -> None:
        """Another hole of the round, by the strip of its holes."""
        self.page.click(f"#hole-{number}")
        self.wait_for_hole(number)

    def wait_for_hole(self, number: int) -> None:
        """Until the screen of this hole is shown: of hole 1, not of hole 17."""
        self.page.wait_for_selector(f"h1:text-is('Hole {number}')")

    def stay_on_holes(self) -> None:
        """Holes that are done stay on the screen, by the player's setting; then back to where the phone was."""
        address = self.page.evaluate("location.hash")
        self.page.evaluate("() => { location.hash = '#/player'; }")
        self.page.click("#turn-stay")
        expect(self.page.locator("#turn-stay")).to_have_attribute("aria-pressed", "true")
        self.page.evaluate("(address) => { location.hash = address; }", address)
        self.page.wait_for_selector("#hit")

    def settled(self) -> None:
        """Until a tap on the actions means something of its own."""
        self.page.wait_for_selector(SETTLED)

    def next_hole(self) -> None:
        """On from a hole that is done."""
        self.settled()
        self.tap("#next")

    def status(self) -> str:
        return self.page.inner_text("#saving")

    def wait_for_worker(self) -> None:
        """Until the service worker answers for this page and holds what the page has loaded."""
        self.page.evaluate(KEPT)

    def wait_for_whole_app(self) -> None:
        """Until the service worker holds every file of the app."""
        self.page.evaluate(KEPT, list(files()))

    def go_offline(self) -> None:
        """The network goes, but not before the app that is in use is kept on the phone."""
        if self.keeps_app:
            self.wait_for_worker()
        self.context.set_offline(True)

    def leave_alone(self, page: Page) -> None:
        """No other page than this one, with a network, and no request answered by a test."""
        for other in self.context.pages:
            other.unroute_all(behavior="ignoreErrors")
            if other is not page:
                other.close()
        self.context.unroute_all(behavior="ignoreErrors")
        self.context.set_offline(False)

    def wait_sent(self) -> None:
        """Until the app itself shows that everything is on the server."""
        expect(self.page.locator("#saving")).to_have_text("saved and sent", timeout=60_000)

    def all_of(self, *stores: str) -> Any:
        """Everything in one store of the local database, or in several, read in one transaction."""
        found = self.page.evaluate(ALL, list(stores))
        return found[0] if len(stores) == 1 else found

    def live(self, kind: str) -> list[dict[str, Any]]:
        """Live records of a kind, as this phone holds them."""
        found: list[dict[str, Any]] = self.page.evaluate(LIVE, kind)
        return found

    def shots_here(self, hole: int | None = None) -> list[dict[str, Any]]:
        """The bodies of the live shots of the round that is shown, or of one hole of it, in their order."""
        round_id = self.round_id()
        bodies = [shot["body"] for shot in self.live("shot") if shot["body"]["round_id"] == round_id]
        return sorted((one for one in bodies if hole in (None, one["hole"])), key=lambda one: one["order"])


SETTLED: Final = '.actions[aria-busy="false"]'
"""There once a tap on the actions of a hole means something of its own."""

ANSWER: Final = """const answer = (request) => new Promise((yes, no) => {
    request.onsuccess = () => yes(request.result);
    request.onerror = () => no(request.error);
  });"""
"""The answer of an IndexedDB request, for code that runs in the page."""

ALL: Final = f"""async (names) => {{
  {ANSWER}
  const database = await answer(indexedDB.open('pencilbag'));
  const transaction = database.transaction(names);
  const all = await Promise.all(names.map((name) => answer(transaction.objectStore(name).getAll())));
  database.close();
  return all;
}}"""

LIVE: Final = f"""async (kind) => {{
  {ANSWER}
  const database = await answer(indexedDB.open('pencilbag'));
  const found = await answer(database.transaction('records').objectStore('records').index('kind').getAll(kind));
  database.close();
  return found.filter((record) => !record.deleted);
}}"""
"""Of a kind alone: to hand over a season's records takes longer than to read them."""

SETTING: Final = f"""async (name) => {{
  {ANSWER}
  const database = await answer(indexedDB.open('pencilbag'));
  const found = await answer(database.transaction('settings').objectStore('settings').get(name));
  database.close();
  return found ? found.value : null;
}}"""
