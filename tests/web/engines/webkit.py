"""WebKitGTK, by WebDriver (W3C) from Debian's WebKitWebDriver, on a screen of its own.

Its driver reports no console, so that the page itself keeps what it throws and writes as an error, from the moment at
which it is there. Its automation keeps storage in memory alone: a restart is a new window of the same browser.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any, Final

from tests.web.engines.engine import ByActions, EngineError, closing_on_error, program, until

ANSWER_S: Final = 60
LISTENED: Final = """
if (!globalThis.seen) {
  globalThis.seen = [];
  addEventListener('error', (event) => seen.push(String(event.error ?? event.message)));
  addEventListener('unhandledrejection', (event) => seen.push(String(event.reason)));
  const error = console.error.bind(console);
  console.error = (...words) => { seen.push(words.join(' ')); error(...words); };
}
return location.href;"""


class WebKit(ByActions):
    """A browser in a window on a screen that nobody sees."""

    name = "webkitgtk"
    persists = False

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.errors: list[str] = []
        self.driver: subprocess.Popen[bytes] | None = None
        self.session = ""
        self.screen = subprocess.Popen(
            [program("Xvfb", "xvfb"), "-displayfd", "1", "-screen", "0", "600x1000x24", "-nolisten", "tcp"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        with closing_on_error(self.close):
            assert self.screen.stdout is not None
            display = f":{self.screen.stdout.readline().decode().strip()}"
            self._drive(display)
            self.session = self._ask("POST", "/session", {"capabilities": {}})["sessionId"]
            self._ask("POST", "/timeouts", {"script": 1000 * ANSWER_S})
            self._fit()

    def _drive(self, display: str) -> None:
        environment = {**os.environ, "DISPLAY": display, "HOME": str(self.folder), "LIBGL_ALWAYS_SOFTWARE": "1"}
        environment.pop("WAYLAND_DISPLAY", None)
        self.port = _free_port()
        self.driver = subprocess.Popen(
            [program("WebKitWebDriver", "webkit2gtk-driver"), f"--port={self.port}"],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

        def listens() -> bool:
            try:
                return bool(self._ask("GET", "/status")["ready"])
            except urllib.error.URLError:
                return False

        until(listens, "WebKitWebDriver listens")

    def _fit(self) -> None:
        self._ask("POST", "/window/rect", {"width": 390, "height": 900})

    def _ask(self, method: str, path: str, body: Any = None) -> Any:
        base = f"http://127.0.0.1:{self.port}"
        address = f"{base}{path}" if path in ("/session", "/status") else f"{base}/session/{self.session}{path}"
        data = None if method != "POST" else json.dumps(body or {}).encode()
        request = urllib.request.Request(address, data, {"content-type": "application/json"}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=ANSWER_S) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise EngineError(f"{method} {path}: {error.read().decode(errors='replace')[:500]}") from error

    def open(self, address: str) -> None:
        self._collect()
        self._ask("POST", "/url", {"url": "about:blank"})
        self._ask("POST", "/url", {"url": address})
        self._ask("POST", "/execute/sync", {"script": LISTENED, "args": []})

    def _collect(self) -> None:
        script = "const all = globalThis.seen ?? []; globalThis.seen = globalThis.seen && []; return all;"
        self.errors += self._ask("POST", "/execute/sync", {"script": script, "args": []})

    def run(self, body: str) -> Any:
        script = (
            f"const done = arguments[0]; (async () => {{ {body} }})()"
            ".then((value) => done({value: value ?? null}), (error) => done({error: String(error)}));"
        )
        found = self._ask("POST", "/execute/async", {"script": script, "args": []})
        if "error" in found:
            raise EngineError(found["error"])
        return found["value"]

    def perform(self, *actions: dict[str, Any]) -> None:
        self._ask("POST", "/actions", {"actions": list(actions)})

    def restart(self) -> None:
        self._collect()
        fresh = self._ask("POST", "/window/new", {"type": "window"})["handle"]
        self._ask("DELETE", "/window")
        self._ask("POST", "/window", {"handle": fresh})
        self._fit()

    def pdf(self) -> bytes | None:
        return None  # its driver has no such command

    def close(self) -> None:
        if self.session:
            self._collect()
            self._ask("DELETE", "")
            self.session = ""
        for process in (self.driver, self.screen):
            if process is not None:
                process.terminate()
                process.wait(timeout=30)
        if self.screen.stdout is not None:
            self.screen.stdout.close()


def _free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])
