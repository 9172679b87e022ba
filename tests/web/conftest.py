"""Fixtures for tests of the front end: the real server in a process of its own, the real browser."""

from __future__ import annotations

import atexit
import functools
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect, sync_playwright

from tests import tiers
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS, Phone, Server

expect.set_options(timeout=30_000)  # on a busy machine; what fails waits longer, what passes does not

ROOT = Path(__file__).resolve().parents[2]


class Launcher:
    """A process that has the application imported and forks real servers (`launching.py`): one a process of tests."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.web.launching"]
        self.process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def ask(self, **wanted: Any) -> dict[str, Any]:
        """An order and its answer."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(wanted) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        assert line, "the launcher ended"
        found: dict[str, Any] = json.loads(line)
        return found

    def end(self, pid: int) -> None:
        """Kill a server, as hard as can be, and wait until it is gone."""
        os.kill(pid, signal.SIGKILL)
        self.ask(wait=pid)

    def close(self) -> None:
        """End the launcher; it has no server left."""
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            pipe.close()
        self.process.wait(timeout=20)


@functools.cache
def launcher() -> Launcher:
    """The launcher of this process, started when a server is first wanted."""
    started = Launcher()
    atexit.register(started.close)
    return started


def start_server(folder: Path, port: int = 0, *web: Path) -> Server:
    """The real application on 127.0.0.1, on a free port, with a database in `folder`."""
    environment = {name: value for name, value in os.environ.items() if name.startswith("PENCILBAG_")}
    environment["PENCILBAG_DATABASE"] = f"sqlite:///{folder}/server.sqlite"
    done = launcher().ask(environment=environment, port=port, web=str(web[0]) if web else None)
    assert done["port"], "the server did not start"
    return Server(done["pid"], done["port"], folder, launcher().end)


@pytest.fixture(scope="session")
def playwright_session() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright_session: Playwright) -> Iterator[Browser]:
    browser = playwright_session.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def live_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for all tests that each bring a player of their own."""
    server = start_server(tmp_path_factory.mktemp("server"))
    server.lasting = True
    yield server
    server.stop()


@pytest.fixture
def own_server(tmp_path: Path) -> Iterator[Server]:
    """A server that a test may stop, start again or set back."""
    server = start_server(tmp_path)
    yield server
    server.stop()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server with the invented demo season for all tests that only read it: what it has worked out stays."""
    from tests.web.evidence_pages import demo_server

    server = demo_server(tmp_path_factory.mktemp("demo"))
    server.kept, server.lasting = {}, True
    yield server
    server.stop()


@pytest.fixture
def own_demo(tmp_path: Path) -> Iterator[Server]:
    """A server with the demo season that a test may change or stop."""
    from tests.web.evidence_pages import demo_server

    server = demo_server(tmp_path)
    yield server
    server.stop()


@pytest.fixture(scope="session")
def cleared_phones(browser: Browser) -> Iterator[dict[str, list[Phone]]]:
    """Phones that a test has used and that hold nothing any more, by the address of their server."""
    phones: dict[str, list[Phone]] = {}
    yield phones
    for phone in chain.from_iterable(phones.values()):
        phone.context.close()


FORGET_THE_TAB: Final = """() => {
  if (location.origin === 'null') return false;
  sessionStorage.clear();
  return true;
}"""
STORED: Final = "cookies,indexeddb,local_storage,cache_storage"


def clear(phone: Phone) -> Phone | None:
    """The phone as if it were new, with one page without address or history; None where no page shows the app."""
    page = next((one for one in reversed(phone.pages) if not one.is_closed()), None)
    if page is None or not page.evaluate(FORGET_THE_TAB):
        return None
    for other in phone.context.pages:
        other.unroute_all(behavior="ignoreErrors")
        if other is not page:
            other.close()
    phone.context.unroute_all(behavior="ignoreErrors")
    phone.context.set_offline(False)
    phone.context.clear_permissions()
    page.remove_listener("pageerror", phone.note_error)
    page.goto("about:blank")
    devtools = phone.context.new_cdp_session(page)
    devtools.send("Storage.clearDataForOrigin", {"origin": phone.address, "storageTypes": STORED})
    devtools.send("Page.resetNavigationHistory")
    devtools.detach()
    return Phone(phone.context, phone.address, blank=page)


@pytest.fixture
def make_phone(
    request: pytest.FixtureRequest, browser: Browser, live_server: Server, cleared_phones: dict[str, list[Phone]]
) -> Iterator[Any]:
    """Makes phones: contexts of their own, so storage of their own.

    With the mark `cleared_phone` a test may get the phone of one before it: all that is stored on it is cleared and its
    page has no history, but its browser holds the modules of the app already. Such a test leaves nothing on its page or
    context that a new address does not end: no listener, no script, no slowed processor.

    The service worker fetches and keeps the whole app again in each of them, which takes as long as most tests do. So
    only tests with the mark `service_worker` have it, and in the long tier all."""
    contexts: list[BrowserContext] = []
    phones: list[Phone] = []  # to be cleared for another test
    wanted = tiers.LONG or request.node.get_closest_marker("service_worker")
    cleared = not wanted and request.node.get_closest_marker("cleared_phone") is not None

    def make(server: Server = live_server, **options: Any) -> Phone:
        again = cleared and not options and server.lasting
        if again and cleared_phones.get(server.address):
            phones.append(cleared_phones[server.address].pop())
            return phones[-1]
        given = {"service_workers": "allow" if wanted else "block"} | options
        context = browser.new_context(viewport={"width": 390, "height": 844}, **given)
        phone = Phone(context, server.address, keeps_app=given["service_workers"] == "allow")
        if again:
            phones.append(phone)
        else:
            contexts.append(context)
        return phone

    yield make
    for phone in phones:
        as_new = clear(phone)
        if as_new:
            cleared_phones.setdefault(phone.address, []).append(as_new)
        else:
            contexts.append(phone.context)
    for context in contexts:
        for page in context.pages:
            page.unroute_all(behavior="ignoreErrors")  # an answer still held or changed ends with its test
        context.close()


@pytest.fixture(scope="module")
def module_page(browser: Browser, live_server: Server) -> Iterator[Page]:
    """A page of the app for all tests of a file that ask its modules alone and change nothing that another asks."""
    context = browser.new_context(service_workers="block")
    page = context.new_page()
    page.goto(live_server.address)
    page.wait_for_selector("main h1")
    yield page
    context.close()


@pytest.fixture
def coach(make_phone: Any, demo: Server) -> Phone:
    """A device that holds no player of its own."""
    return make_phone(demo)


@pytest.fixture
def phone(make_phone: Any) -> Phone:
    return make_phone()


@pytest.fixture
def disk_phone(playwright_session: Playwright, live_server: Server, tmp_path: Path) -> Iterator[Phone]:
    """A phone whose storage lies on the disk, as on a real one; storage in memory never runs full."""
    context = playwright_session.chromium.launch_persistent_context(
        tmp_path / "profile", executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS, viewport={"width": 390, "height": 844}
    )
    yield Phone(context, live_server.address)
    context.close()
