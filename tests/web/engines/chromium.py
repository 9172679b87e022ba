"""Chromium, by Playwright."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import ConsoleMessage, Playwright

from tests.web.engines.engine import place_of
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS

NETWORK = "Failed to load resource"
"""What Chromium writes of a request that fails: the flow stops the server on purpose."""


class Chromium:
    """A browser whose profile lies on the disk."""

    name = "chromium"
    persists = True

    def __init__(self, playwright: Playwright, folder: Path) -> None:
        self.playwright, self.folder = playwright, folder
        self.errors: list[str] = []
        self._begin()

    def _begin(self) -> None:
        self.context = self.playwright.chromium.launch_persistent_context(
            self.folder / "profile",
            executable_path=CHROMIUM,
            args=CHROMIUM_ARGUMENTS,
            viewport={"width": 390, "height": 844},
        )
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("console", self._on_console)

    def _on_console(self, message: ConsoleMessage) -> None:
        if message.type == "error" and not message.text.startswith(NETWORK):
            self.errors.append(message.text)

    def open(self, address: str) -> None:
        self.page.goto("about:blank")
        self.page.goto(address)

    def run(self, body: str) -> Any:
        return self.page.evaluate(f"async () => {{ {body} }}")

    def click(self, selector: str) -> None:
        x, y = place_of(self, selector)
        self.page.mouse.click(x, y)

    def fill(self, selector: str, text: str) -> None:
        self.click(selector)
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def restart(self) -> None:
        self.context.close()
        self._begin()

    def pdf(self) -> bytes | None:
        return self.page.pdf()

    def close(self) -> None:
        self.context.close()
