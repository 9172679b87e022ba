"""Fixtures for tests of the front end: the real server in a process of its own, the real browser."""

from __future__ import annotations

import os
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias
from weakref import WeakSet

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, Playwright, expect, sync_playwright

from tests import tiers
from tests.made_once import copy_demo, copy_short_demo
from tests.web.launcher import launcher
from tests.web.lending import NEW_CDP_SESSION, VIEWPORT, Lent, lending
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS, CLOCK, Phone, Server

if TYPE_CHECKING:
    from tests.web.squad import Squad

expect.set_options(timeout=30_000)  # on a busy machine; what fails waits longer, what passes does not

ROOT = Path(__file__).resolve().parents[2]


def launched(folder: Path, port: int, *web: Path, keep: bool = False) -> dict[str, Any]:
    """What the launcher answers for a server: its process, its port or none."""
    environment = {name: value for name, value in os.environ.items() if name.startswith("PENCILBAG_")}
    environment["PENCILBAG_DATABASE"] = f"sqlite:///{folder}/server.sqlite"
    return launcher().ask(environment=environment, port=port, web=str(web[0]) if web else None, keep=keep)


def start_server(folder: Path, port: int = 0, *web: Path, keep: bool = False) -> Server:
    """The real application on 127.0.0.1, on a free port, with a database in `folder`; see `launching.KeptAnswers`."""
    done = launched(folder, port, *web, keep=keep)
    assert done["port"], "the server did not start"
    return Server(done["pid"], done["port"], folder, launcher().end)


_PORTS: Final[dict[str, int]] = {}


def next_server(folder: Path, what: str, *, keep: bool = False) -> Server:
    """A server of its own for a test, at the address of the last one of that sort, which has stopped: a phone that was
    cleared holds the app of that address already. `keep`: see `launching.KeptAnswers`."""
    done = launched(folder, _PORTS.get(what, 0), keep=keep)
    if not done["port"]:  # something else listens there by now
        done = launched(folder, 0, keep=keep)
    assert done["port"], "the server did not start"
    _PORTS[what] = done["port"]
    return Server(done["pid"], done["port"], folder, launcher().end, lasting=True)


SHOWN: Final = """() => ['#saving', '#said', '#alert', 'main', '#bar'].map((part) => {
  const words = document.querySelector(part)?.innerText ?? '';
  return `${part}: ${words.replace(/\\s+/g, ' ').slice(0, 1500)}`;
}).join('\\n')"""


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With a test that failed its report shows what its phones showed."""
    report = yield
    if report.when == "call" and report.failed:
        phones = [one for one in getattr(item, "funcargs", {}).values() if isinstance(one, Phone)]
        for page in (page for phone in phones for page in phone.context.pages):
            try:
                shown = page.evaluate(SHOWN)
            except Error as gone:
                shown = str(gone)
            report.sections.append(("page of a phone", f"{page.url}\n{shown}"))
    return report


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
    server = next_server(tmp_path, "own")
    yield server
    server.stop()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server with the invented demo season for all tests that only read it: what it has worked out stays."""
    from tests.web.evidence_pages import demo_server

    server = demo_server(tmp_path_factory.mktemp("demo"), keep=True)
    server.kept, server.lasting = {}, True
    yield server
    server.stop()


@pytest.fixture(scope="session")
def short_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server with every fourth round of the demo season, for tests that put its player on a phone and only read:
    a phone that takes in all of it works for six seconds."""
    from tests.web.evidence_pages import demo_server

    server = demo_server(tmp_path_factory.mktemp("short"), short=True)
    server.kept, server.lasting = {}, True
    yield server
    server.stop()


@pytest.fixture
def own_demo(tmp_path: Path) -> Iterator[Server]:
    """A server with the demo season that a test may change or stop."""
    copy_demo(tmp_path / "server.sqlite")
    server = next_server(tmp_path, "demo", keep=True)
    yield server
    server.stop()


@pytest.fixture
def own_short(tmp_path: Path) -> Iterator[Server]:
    """The same with every fourth round: where how many there are is no matter, and all take a phone six seconds."""
    copy_short_demo(tmp_path / "server.sqlite")
    server = next_server(tmp_path, "short")
    yield server
    server.stop()


PAGES_CLOCK: Final = Page.clock
"""As it is without `watch`."""


def watch(patch: pytest.MonkeyPatch, spoiled: WeakSet[BrowserContext]) -> None:
    """Note the contexts on which something is set that outlives a page's address: a script, a clock, the processor."""

    def noting(real: Any) -> Any:
        def called(self: Any, *given: Any, **named: Any) -> Any:
            spoiled.add(self.context if isinstance(self, Page) else self)
            return real(self, *given, **named)

        return called

    for kind, names in {
        BrowserContext: ("add_init_script", "expose_function", "expose_binding", "new_cdp_session"),
        Page: ("add_init_script", "expose_function", "expose_binding"),
    }.items():
        for name in names:
            patch.setattr(kind, name, noting(getattr(kind, name)))
    patch.setattr(Page, "clock", property(noting(PAGES_CLOCK.fget)))
    patch.setattr(BrowserContext, "clock", property(noting(CLOCK.fget)))


Sort: TypeAlias = tuple[str, bool, bool, frozenset[tuple[str, Any]]]


class Cleared:
    """Phones that a test has used and that hold nothing any more, by their sort: the address of their server, whether
    the service worker keeps the app on them, whether their clock is a test's, and what else a context is made with."""

    def __init__(self) -> None:
        self.phones: dict[Sort, list[Phone]] = {}
        self.spoiled: WeakSet[BrowserContext] = WeakSet()

    def take(self, sort: Sort) -> Phone | None:
        """One of this sort, if there is one."""
        found = self.phones.get(sort)
        return found.pop() if found else None

    def give_back(self, sort: Sort, phone: Phone) -> bool:
        """Whether it could be cleared."""
        as_new = None if phone.context in self.spoiled else clear(phone)
        if as_new:
            self.phones.setdefault(sort, []).append(as_new)
        return as_new is not None


@pytest.fixture(scope="session")
def cleared_phones(browser: Browser) -> Iterator[Cleared]:
    """See `Cleared`."""
    cleared = Cleared()
    with pytest.MonkeyPatch.context() as patch:
        watch(patch, cleared.spoiled)
        yield cleared
    for phone in chain.from_iterable(cleared.phones.values()):
        phone.context.close()


FORGET_THE_TAB: Final = """() => {
  if (location.origin === 'null') return false;
  sessionStorage.clear();
  return true;
}"""
AT_WORK: Final = """async () => {
  const known = await navigator.serviceWorker.getRegistration();
  const settled = known?.active?.state === 'activated' && !known.installing && !known.waiting;
  return Boolean(settled && navigator.serviceWorker.controller === known.active);
}"""
"""Whether one service worker keeps the app, and no other comes or goes."""
STORED: Final = "cookies,indexeddb,local_storage"


def clear(phone: Phone) -> Phone | None:
    """The phone as if it were new, with one page without address or history; None where no page shows the app. The
    service worker of one that keeps the app goes on keeping it."""
    page = next((one for one in reversed(phone.pages) if not one.is_closed()), None)
    if page is None or not page.evaluate(FORGET_THE_TAB):
        return None
    if phone.keeps_app and not page.evaluate(AT_WORK):
        return None  # the next test would begin without a worker, or with one that is about to go
    phone.leave_alone(page)
    phone.context.clear_permissions()
    page.remove_listener("pageerror", phone.note_error)
    page.goto("about:blank")
    page.set_viewport_size(VIEWPORT)
    page.emulate_media(media="null", color_scheme="null", reduced_motion="null", contrast="null", forced_colors="null")
    stored = STORED if phone.keeps_app else f"{STORED},cache_storage"
    devtools = NEW_CDP_SESSION(phone.context, page)
    devtools.send("Storage.clearDataForOrigin", {"origin": phone.address, "storageTypes": stored})
    devtools.send("Page.resetNavigationHistory")
    devtools.detach()
    return Phone(phone.context, phone.address, keeps_app=phone.keeps_app, blank=page)


@contextmanager
def making_phones(
    browser: Browser, usual: Server, cleared_phones: Cleared, *, keeps: bool, always_new: bool
) -> Iterator[Any]:
    """What makes phones, of the server `usual` unless another is named; at the end they are handed on or closed."""
    made: list[tuple[Phone, Sort | None]] = []

    def make(server: Server = usual, time: str | None = None, **options: Any) -> Phone:
        keeps_app = options.pop("service_workers", "allow" if keeps else "block") == "allow"
        again = not always_new and server.lasting
        sort = (server.address, keeps_app, time is not None, frozenset(options.items()))
        phone = cleared_phones.take(sort) if again else None
        if phone is None:
            workers: Literal["allow", "block"] = "allow" if keeps_app else "block"
            context = browser.new_context(viewport=VIEWPORT, service_workers=workers, **options)
            phone = Phone(context, server.address, keeps_app=keeps_app)
        made.append((phone, sort if again else None))
        if time is not None:
            phone.set_time(time)
        return phone

    yield make
    for phone, sort in made:
        if sort and cleared_phones.give_back(sort, phone):
            continue
        for page in phone.context.pages:
            page.unroute_all(behavior="ignoreErrors")  # an answer still held or changed ends with its test
        phone.context.close()


@pytest.fixture
def make_phone(
    request: pytest.FixtureRequest, browser: Browser, live_server: Server, cleared_phones: Cleared
) -> Iterator[Any]:
    """Makes phones: contexts of their own, so storage of their own.

    A phone may be that of a test before: all that is stored on it is cleared and its page has no history, but its
    browser holds the modules of the app already. One on which a test has set what outlives a page (a script, a clock, a
    slowed processor) is not handed on; the clock of one that was made with a `time` is set anew (`Phone.set_time`). A
    test with the mark `new_phone` gets new ones, and in the long tier all do.

    The service worker fetches and keeps all of the app again in each new one, which takes as long as most tests do. So
    only tests with the mark `service_worker` have it, and in the long tier all."""
    keeps = tiers.LONG or request.node.get_closest_marker("service_worker") is not None
    always_new = tiers.LONG or request.node.get_closest_marker("new_phone") is not None
    with making_phones(browser, live_server, cleared_phones, keeps=keeps, always_new=always_new) as make:
        yield make


@pytest.fixture(scope="function" if tiers.LONG else "module")
def player_phone(browser: Browser, live_server: Server, cleared_phones: Cleared) -> Iterator[Phone]:
    """The phone of a player for all tests of a file that each play a round of their own on it (`on_the_tee`)."""
    with making_phones(browser, live_server, cleared_phones, keeps=tiers.LONG, always_new=tiers.LONG) as make:
        yield make()


@pytest.fixture
def on_the_tee(player_phone: Phone) -> Phone:
    """On the first tee of a new practice round."""
    phone = player_phone
    if not phone.pages:
        phone.open()
        phone.sign_up()
    elif phone.errors or phone.page.locator("dialog[open]").count():  # a test before has failed on it
        phone.errors.clear()
        phone.kill()
        phone.open()
    phone.page.evaluate("() => { location.hash = '#/new'; }")
    phone.start_here("practice")
    phone.settled()
    return phone


@pytest.fixture(scope="module")
def module_page(browser: Browser, live_server: Server) -> Iterator[Page]:
    """A page of the app for all tests of a file that ask its modules alone and change nothing that another asks."""
    context = browser.new_context(service_workers="block")
    page = context.new_page()
    page.goto(live_server.address)
    page.wait_for_selector("main h1")
    yield page
    context.close()


@contextmanager
def lent_phone(browser: Browser, server: Server, cleared_phones: Cleared) -> Iterator[Lent]:
    """A phone of the server that tests are lent one after another."""
    with making_phones(browser, server, cleared_phones, keeps=tiers.LONG, always_new=tiers.LONG) as make:
        lent = Lent(make(), cleared_phones.spoiled)
        yield lent
        lent.close()


@pytest.fixture(scope="function" if tiers.LONG else "module")
def lent_coach(browser: Browser, demo: Server, cleared_phones: Cleared) -> Iterator[Lent]:
    """For `reader`."""
    with lent_phone(browser, demo, cleared_phones) as lent:
        yield lent


@pytest.fixture
def reader(lent_coach: Lent) -> Iterator[Phone]:
    """The device of a coach for all tests of a file that only read, each of which finds it as one just opened
    (`lending`)."""
    with lending(lent_coach) as phone:
        yield phone


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Squad]:
    """The players of the coach Cara on a server, for all tests of a file."""
    from tests.web.squad import squad

    made = squad(tmp_path_factory.mktemp("squad"))
    yield made
    made.server.stop()


@pytest.fixture(scope="function" if tiers.LONG else "module")
def lent_cara(browser: Browser, here: Squad, cleared_phones: Cleared) -> Iterator[Lent]:
    """For `cara`."""
    with lent_phone(browser, here.server, cleared_phones) as lent:
        here.sign_in(lent.phone, "cara")
        yield lent


@pytest.fixture
def cara(lent_cara: Lent) -> Iterator[Phone]:
    """The browser of a coach, signed in, for all tests of a file that only read (`lending`)."""
    with lending(lent_cara) as phone:
        yield phone


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
