"""Real servers for tests of faults, and the wire of a device to one of them."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PROJECT = Path(__file__).resolve().parents[3]
NO_WORKERS = "0"
"""The log asks for nothing that takes long: servers that are killed by the dozen start no processes of their own."""
PATIENCE_S = 60
"""A server that does not answer for this long has hung."""


@dataclass(frozen=True)
class Running:
    """A server process and where it listens on 127.0.0.1."""

    pid: int
    port: int


class Launcher:
    """A process that has the application imported and forks real servers (`launching.py`)."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.sync.faults.launching"]
        self.process = subprocess.Popen(
            command, cwd=PROJECT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )

    def start(self, url: str, *, dies: str | None = None, **settings: str) -> Running:
        """A server on the database `url`; `settings` without their prefix."""
        environment = {"PENCILBAG_DATABASE": url, "PENCILBAG_WORKERS": NO_WORKERS}
        environment |= {f"PENCILBAG_{name}": value for name, value in settings.items()}
        self._order({"environment": environment, "dies": dies})
        pid = port = 0
        while not (pid and port):
            words = self._line().split()
            if words[0] == "process":
                pid = int(words[1])
            elif words[:2] == ["phone", "page"]:
                port = int(words[2].rstrip("/").rsplit(":", 1)[1])
        # What `serve` says after its first line.
        for _ in range(2):
            self._line()
        return Running(pid, port)

    def wait(self, server: Running) -> None:
        """Wait until a server that was told to end, or killed, is gone."""
        self._order({"wait": server.pid})
        assert self._line() == "ended\n"

    def kill(self, server: Running) -> None:
        """As hard as can be, at whatever it is doing."""
        os.kill(server.pid, signal.SIGKILL)
        self.wait(server)

    def stop(self, server: Running) -> None:
        """As Ctrl-C does."""
        os.kill(server.pid, signal.SIGTERM)
        self.wait(server)

    @contextmanager
    def serving(self, url: str, **settings: str) -> Iterator[Running]:
        """A server for the length of a block."""
        server = self.start(url, **settings)
        try:
            yield server
        finally:
            self.stop(server)

    def close(self) -> None:
        """End the launcher."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(PATIENCE_S)
        self.process.stdout.close()

    def _order(self, wanted: dict[str, Any]) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(wanted) + "\n")
        self.process.stdin.flush()

    def _line(self) -> str:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "the launcher ended"
        return line


class HttpWire:
    """The way of one device to one server, over a connection of its own. A lost connection is a ConnectionError."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)

    def ask(self, method: str, path: str, sent: Any = None) -> tuple[int, dict[str, str], Any]:
        """One request: status, headers, JSON."""
        body = None if sent is None else json.dumps(sent)
        try:
            self.connection.request(method, path, body, {"Content-Type": "application/json"})
            answer = self.connection.getresponse()
            return answer.status, dict(answer.headers), json.loads(answer.read())
        except (OSError, http.client.HTTPException, ValueError) as error:
            self.connection.close()
            raise ConnectionError(str(error)) from error

    def push(self, player_id: str, sent: dict[str, Any], drop: str = "") -> dict[str, Any]:
        """POST changes, which the server must take."""
        status, _, found = self.ask("POST", f"/api/players/{player_id}/changes", sent)
        assert status == 200, found
        done: dict[str, Any] = found
        return done

    def pull(self, player_id: str, cursor: str | None, limit: int, drop: str = "") -> Any:
        """GET one page; None for a player that the server does not know yet."""
        after = f"&after={cursor}" if cursor else ""
        status, _, found = self.ask("GET", f"/api/players/{player_id}/changes?limit={limit}{after}")
        if status == 404 and not cursor:
            return None
        assert status == 200, found
        return found

    def close(self) -> None:
        """Hang up."""
        self.connection.close()
