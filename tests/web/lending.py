"""One phone for all tests of a file that only read: each finds it on the first screen, as one that was just opened."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final
from weakref import WeakSet

from playwright.sync_api import BrowserContext, CDPSession, Error, ViewportSize

from tests.web.phone import ANSWER, Phone

VIEWPORT: Final[ViewportSize] = {"width": 390, "height": 844}
NEW_CDP_SESSION: Final = BrowserContext.new_cdp_session
"""As it is without the watch on phones that are handed on (`conftest.watch`)."""

FORGET: Final = f"""async () => {{
  if (document.querySelector('dialog[open]')) throw new Error('a sheet is open');
  {ANSWER}
  if (location.hash !== '#/') {{
    for (const one of document.querySelectorAll('main h1')) one.dataset.left = '';
    location.hash = '#/';
    for (let frame = 0; !document.querySelector('main h1:not([data-left])'); frame += 1) {{
      if (frame === 1200) throw new Error('the first screen does not come');
      await new Promise(requestAnimationFrame);
    }}
  }}
  scrollTo(0, 0);
  document.activeElement.blur();
  document.documentElement.style.fontSize = '';
  for (const one of [localStorage, sessionStorage]) one.clear();
  const {{ CACHE_TURN }} = await import('/js/log/erased.js');
  const database = await answer(indexedDB.open('pencilbag'));
  const transaction = database.transaction([...database.objectStoreNames], 'readwrite');
  const written = await Promise.all(
    ['changes', 'records', 'outbox'].map((name) => answer(transaction.objectStore(name).count())));
  transaction.objectStore('answers').clear();
  const settings = transaction.objectStore('settings');
  const turn = (await answer(settings.get(CACHE_TURN)))?.value ?? 0;
  await answer(settings.put({{name: CACHE_TURN, value: turn + 1}}));
  database.close();
  return written;
}}"""
"""Back to the first screen with nothing kept: what is still asked for is not kept either. How much was written."""

SESSION: Final = "import('/js/session.js').then(({ Session }) => Session.prototype)"
AS_AT_FIRST: Final = """function () {
  if (this.length !== 1) throw new Error(`${this.length} sessions`);
  this[0].state = this[0].state.forPage();
}"""
"""What screens hold in memory (folds, focus, what is unfolded), as when the app starts."""


class Lent:
    """A phone that tests use one after another. `spoiled`: contexts on which is set what outlives a page."""

    def __init__(self, phone: Phone, spoiled: WeakSet[BrowserContext]) -> None:
        self.phone, self.spoiled = phone, spoiled
        self.devtools: CDPSession | None = None
        self.sessions = ""

    def open(self) -> None:
        """The first screen, in a new tab of a phone that holds nothing but its sign-in."""
        phone = self.phone
        phone.blank = phone.blank or phone.context.new_page()
        self.devtools = NEW_CDP_SESSION(phone.context, phone.blank)
        stored = {"origin": phone.address, "storageTypes": "indexeddb,local_storage"}
        self.devtools.send("Storage.clearDataForOrigin", stored)
        phone.open("#/")

    def close(self) -> None:
        """The phone goes back to who made it."""
        if self.devtools is not None:
            self.devtools.detach()
        self.devtools = None

    def set_back(self) -> None:
        """As a test must leave it, whatever the test did."""
        phone, page = self.phone, self.phone.page
        phone.leave_alone(page)
        if page.viewport_size != VIEWPORT:
            page.set_viewport_size(VIEWPORT)
        page.emulate_media(
            media="null", color_scheme="null", reduced_motion="null", contrast="null", forced_colors="null"
        )
        assert page.evaluate(FORGET) == [0, 0, 0], "a test that writes keeps a phone of its own"
        self._screens_forget()
        assert phone.context not in self.spoiled, "a test that sets what outlives a page keeps a phone of its own"

    def _screens_forget(self) -> None:
        """The page's session is looked for once after each load: that takes as long as many a test."""
        assert self.devtools is not None
        try:
            self._forget()
        except Error:  # another document than before
            asked = {"expression": SESSION, "awaitPromise": True}
            prototype = self.devtools.send("Runtime.evaluate", asked)["result"]["objectId"]
            found = self.devtools.send("Runtime.queryObjects", {"prototypeObjectId": prototype})
            self.sessions = found["objects"]["objectId"]
            self._forget()

    def _forget(self) -> None:
        assert self.devtools is not None
        told = self.devtools.send(
            "Runtime.callFunctionOn", {"functionDeclaration": AS_AT_FIRST, "objectId": self.sessions}
        )
        assert "exceptionDetails" not in told, told


@contextmanager
def lending(lent: Lent) -> Iterator[Phone]:
    """The phone, for one test; afterwards it is set back, or left for a new tab where a test has failed on it. An error
    of a page is the failure of the test that met it."""
    phone = lent.phone
    if not phone.pages or phone.page.is_closed():
        lent.open()
    yield phone
    errors = list(phone.errors)
    phone.errors.clear()
    try:
        lent.set_back()
    except (Error, AssertionError):
        lent.close()
        phone.kill()
        raise
    assert errors == []
