"""A private store for tests: Debian's redis-server or valkey-server on 127.0.0.1, in memory alone, gone at the end."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from typing import Final

import redis

PROGRAMS: Final = ("valkey-server", "redis-server")
PATIENCE_S: Final = 30.0


def program() -> str:
    """The server's program. Raises RuntimeError when there is none: tests/run installs it."""
    found = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if found is None:
        raise RuntimeError("no valkey-server and no redis-server; tests/run installs Debian's package redis-server")
    return found


def free_port() -> int:
    """A port of 127.0.0.1 that nobody listens on."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Store:
    """A running store; `stop` ends it as a crash would, `start` begins again, empty, on the same port."""

    def __init__(self) -> None:
        self.port = free_port()
        self.start()

    @property
    def address(self) -> str:
        """As PENCILBAG_SHARED takes it."""
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        """Begin, and wait until it answers."""
        options = ["--bind", "127.0.0.1", "--port", str(self.port), "--save", "", "--appendonly", "no"]
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen([program(), *options], stdout=quiet, stderr=quiet, stdin=quiet, cwd="/")
        until = time.monotonic() + PATIENCE_S
        with self.client() as client:
            while True:
                try:
                    client.ping()
                    return
                except redis.RedisError:
                    if self.process.poll() is not None or time.monotonic() > until:
                        raise
                    time.sleep(0.02)

    def client(self) -> redis.Redis:
        """A client of it."""
        return redis.Redis(port=self.port, socket_timeout=5)

    def stop(self) -> None:
        """End it at once."""
        self.process.kill()
        self.process.wait()
