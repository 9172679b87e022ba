"""Small applications that worker processes of the tests answer with; each is told what to do by the path."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

PIECES = 5


def maker(config: Mapping[str, Any]) -> Callable[..., Iterable[bytes]]:
    """An application that echoes, streams, sleeps or dies."""

    def application(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        path = environ["PATH_INFO"]
        if path == "/dies":
            os._exit(1)
        if path == "/sleeps":
            time.sleep(config["seconds"])
        start("200 OK", [("X-Path", path)])
        if path == "/streams":
            return streamed(config["folder"])
        if path == "/fails":
            return failing()
        return [environ["wsgi.input"].read(), b"", str(os.getpid()).encode()]

    return application


def streamed(folder: str) -> Iterator[bytes]:
    """Pieces of a megabyte; a file in the folder tells how many were made, and when it was closed."""
    made = 0
    try:
        while made < PIECES:
            made += 1
            yield b"x" * 1_000_000
    finally:
        with open(f"{folder}/closed", "w", encoding="ascii") as file:
            file.write(str(made))


def failing() -> Iterator[bytes]:
    """Fails after its first piece."""
    yield b"one"
    raise ValueError("in the middle")
