"""The two pictures of README, taken of the real screens: `python -m tests.web.take_pictures`.

A phone of 390 by 844 in the middle of a hole, and a coach's screen of 1280 by 800 with the invented demo season. Both
are written to demo_rounds/pictures/; look at them before they are committed.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Final

from playwright.sync_api import Browser, sync_playwright

from tests.web.conftest import ROOT
from tests.web.evidence_pages import demo_player, demo_server, wait_drawn
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS, Phone, Server
from tests.web.screens import first_steps

PICTURES: Final = ROOT / "demo_rounds" / "pictures"
PHONE: Final = {"width": 390, "height": 844}
DESK: Final = {"width": 1280, "height": 800}


def entry_on_a_phone(browser: Browser, server: Server, file: Path) -> None:
    """The entry of a shot, two shots into a hole."""
    context = browser.new_context(viewport=PHONE, service_workers="block")
    phone = Phone(context, server.address)
    for _ in first_steps(phone):
        pass
    phone.page.click("#start-round")
    phone.page.wait_for_selector("#hit")
    phone.hit()
    phone.page.click("#lie-fairway")
    phone.type_distance(142)
    phone.wait_sent()
    phone.page.screenshot(path=file)
    context.close()


def overview_on_a_desk(browser: Browser, server: Server, file: Path) -> None:
    """Strokes gained by club of the demo season."""
    context = browser.new_context(viewport=DESK, service_workers="block")
    page = context.new_page()
    page.goto(f"{server.address}/#/evidence/{demo_player(server)}/overview")
    page.wait_for_selector(".evidence h1")
    wait_drawn(page)
    page.screenshot(path=file)
    context.close()


def main() -> None:
    """Take both."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = demo_server(Path(folder))
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
        entry_on_a_phone(browser, server, PICTURES / "phone.png")
        overview_on_a_desk(browser, server, PICTURES / "desk.png")
        browser.close()
        server.stop()


if __name__ == "__main__":
    main()
