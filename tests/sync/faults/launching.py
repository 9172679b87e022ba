"""Starts the real command `serve` over and over without importing the application again: `python -m ...launching`.

Each line on stdin, JSON {"environment": {...}, "dies": null | "before commit" | "after commit"}, forks a process that
runs `serve --port 0` with that environment; {"wait": PID} waits for its end. What the servers print and the answers
here share stdout. `dies` kills that server, as hard as can be, around the commit of its first push.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa

import server.api.app  # noqa: F401 - imported once, for every server to come
from server.__main__ import main
from server.store import log

BEFORE_COMMIT = "before commit"
AFTER_COMMIT = "after commit"


def die() -> None:
    """End this process at once: nothing is flushed, closed or rolled back."""
    os.kill(os.getpid(), signal.SIGKILL)


def dying(moment: str) -> Any:
    """The write transaction of a push, in a process that does not outlive it."""
    sound = log.writing

    @contextmanager
    def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
        with sound(engine) as connection:
            yield connection
            if moment == BEFORE_COMMIT:
                die()
        die()

    return writing


def serve(wanted: dict[str, Any]) -> None:
    """The server, in the forked process."""
    os.environ.update(wanted["environment"])
    if wanted["dies"]:
        log.writing = dying(wanted["dies"])
    try:
        main(["serve", "--port", "0"], prog_name="server")
    finally:
        sys.stderr.flush()
        os._exit(0)


def listen() -> None:
    """Take orders until stdin ends."""
    for line in sys.stdin:
        wanted = json.loads(line)
        if "wait" in wanted:
            os.waitpid(wanted["wait"], 0)
            print("ended", flush=True)
            continue
        child = os.fork()
        if child == 0:
            serve(wanted)
        print(f"process {child}", flush=True)


if __name__ == "__main__":
    listen()
