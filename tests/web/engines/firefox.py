"""Firefox, by WebDriver BiDi (W3C), which it speaks itself over a web socket."""

from __future__ import annotations

import base64
import json
import os
import re
import subprocess
import threading
from pathlib import Path
from typing import Any, Final

import websocket

from tests.web.engines.engine import ByActions, EngineError, closing_on_error, program

SETTINGS: Final = {
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "toolkit.telemetry.enabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "extensions.update.enabled": False,
    "services.settings.server": "data:,",
}
"""A browser that speaks to no server but the one under test."""
LISTENING: Final = re.compile(rb"WebDriver BiDi listening on (ws://\S+)")
ANSWER_S: Final = 60


class Firefox(ByActions):
    """A browser without a window, whose profile lies on the disk."""

    name = "firefox"
    persists = True

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.errors: list[str] = []
        self.profile = folder / "profile"
        self.profile.mkdir()
        lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in SETTINGS.items()]
        (self.profile / "user.js").write_text("\n".join(lines), encoding="utf-8")
        self._begin()

    def _begin(self) -> None:
        command = [program("firefox-esr", "firefox-esr"), "--headless", "--no-remote", "--remote-debugging-port=0"]
        environment = {**os.environ, "HOME": str(self.folder)}
        self.process = subprocess.Popen(
            [*command, "--profile", str(self.profile), "about:blank"],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )
        self.socket: websocket.WebSocket | None = None
        self.asked = 0
        with closing_on_error(self._end):
            self.socket = websocket.create_connection(self._address(), suppress_origin=True, timeout=ANSWER_S)
            self._ask("session.new", capabilities={})
            self._ask("session.subscribe", events=["log.entryAdded"])
            self.context = self._ask("browsingContext.getTree")["contexts"][0]["context"]
            self._ask("browsingContext.setViewport", context=self.context, viewport={"width": 390, "height": 844})

    def _address(self) -> str:
        stream = self.process.stderr
        assert stream is not None
        printed = b""
        for line in stream:
            printed += line
            if found := LISTENING.search(line):
                threading.Thread(target=stream.read, daemon=True).start()  # it goes on to write, and must not block
                return found[1].decode() + "/session"
        raise EngineError(f"Firefox ended without listening: {printed.decode(errors='replace')[-500:]}")

    def _ask(self, method: str, **parameters: Any) -> Any:
        assert self.socket is not None
        self.asked += 1
        self.socket.send(json.dumps({"id": self.asked, "method": method, "params": parameters}))
        while True:
            message = json.loads(self.socket.recv())
            if message.get("method") == "log.entryAdded" and message["params"]["level"] == "error":
                self.errors.append(str(message["params"]["text"]))
            if message.get("id") == self.asked:
                if message["type"] == "error":
                    raise EngineError(f"{method}: {message['error']}: {message['message']}")
                return message["result"]

    def open(self, address: str) -> None:
        for one in ("about:blank", address):
            self._ask("browsingContext.navigate", context=self.context, url=one, wait="complete")

    def run(self, body: str) -> Any:
        expression = f"(async () => {{ {body} }})().then((value) => JSON.stringify(value ?? null))"
        found = self._ask("script.evaluate", expression=expression, target={"context": self.context}, awaitPromise=True)
        if found["type"] == "exception":
            raise EngineError(found["exceptionDetails"]["text"])
        return json.loads(found["result"]["value"])

    def perform(self, *actions: dict[str, Any]) -> None:
        self._ask("input.performActions", context=self.context, actions=list(actions))

    def restart(self) -> None:
        self._end()
        self._begin()

    def pdf(self) -> bytes | None:
        return base64.b64decode(self._ask("browsingContext.print", context=self.context)["data"])

    def _end(self) -> None:
        if self.socket is not None:
            self._ask("browser.close")  # so that the profile is written to its end
            self.socket.close()
            self.socket = None
        else:
            self.process.terminate()
        self.process.wait(timeout=30)
        assert self.process.stderr is not None
        self.process.stderr.close()

    def close(self) -> None:
        self._end()
