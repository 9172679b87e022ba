"""Pictures of all screens, to be looked at: `python -m tests.web.take_screens [PART OF A NAME]`.

The app's walk of `screens.py` and the views of evidence with the invented season, on a phone and a desk, in light and
dark, as they are from the second start on; in `.artifacts/look/`.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from playwright.sync_api import Browser, sync_playwright

from tests.web.conftest import ROOT, start_server
from tests.web.evidence_pages import demo_player, demo_server, to_view, wait_drawn
from tests.web.measures import Look, put_on, take_picture
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS, Phone, Server
from tests.web.screens import every_screen
from tests.web.test_evidence_access import VIEWS

FOLDER: Final = ROOT / ".artifacts" / "look"
LOOKS: Final = (Look(390, 844), Look(390, 844, "dark"), Look(1280, 800), Look(1280, 800, "dark"))
KEPT: Final = """Object.defineProperty(navigator, 'serviceWorker', { value: {
  controller: { postMessage() {} }, addEventListener() {}, register: () => Promise.reject(new Error('blocked')),
} });"""
FULL_HEIGHT: Final = """() => {
  const main = document.querySelector('main');
  return Math.max(innerHeight, innerHeight - main.clientHeight + main.scrollHeight);
}"""


def second_start(browser: Browser, server: Server) -> Phone:
    """A phone that takes the app for kept, so that it shows its own letters."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
    context.add_init_script(KEPT)
    return Phone(context, server.address)


def views(phone: Phone, server: Server) -> Iterator[str]:
    """The views of evidence."""
    player = demo_player(server)
    phone.open(f"#/evidence/{player}/priorities", ".evidence h1")
    wait_drawn(phone.page)
    for name, address in sorted(VIEWS.items(), key=lambda view: view[1] == "priorities"):
        to_view(phone.page, server, address)
        yield f"evidence {name}"


def take(phone: Phone, name: str) -> None:
    """One screen in each look, in full."""
    for look in LOOKS:
        put_on(phone.page, look)
        if not name.startswith("evidence") or look.width > 1000:
            take_picture(phone.page, FOLDER / look.folder, name)
            continue
        height = phone.page.evaluate(FULL_HEIGHT)
        phone.page.set_viewport_size({"width": look.width, "height": min(int(height), 4000)})
        take_picture(phone.page, FOLDER / look.folder, name)
    put_on(phone.page, LOOKS[0])


def main(part: str) -> None:
    """All of them, or those whose name has a part; of `evidence` and `app` one walk alone."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
        for make, walk in ((start_server, lambda phone, _: every_screen(phone)), (demo_server, views)):
            if (part == "app" and make is demo_server) or (part.startswith("evidence") and make is start_server):
                continue
            place = Path(folder) / make.__name__
            place.mkdir()
            server = make(place)
            phone = second_start(browser, server)
            for name in walk(phone, server):
                if part == "app" or part in name:
                    take(phone, name)
            phone.context.close()
            server.stop()
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
