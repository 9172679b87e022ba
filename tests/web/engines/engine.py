"""One small interface to a browser engine, whatever protocol drives it; and what must be installed for it."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final, Protocol

WAIT_S: Final = 30.0
POLL_S: Final = 0.03


class EngineError(Exception):
    """The engine cannot be driven here, or answered with an error."""


class Engine(Protocol):
    """A browser with storage of its own, and the one page that is open in it."""

    name: str
    errors: list[str]
    """What the page threw and what it wrote to the console as an error."""
    persists: bool
    """Whether its storage outlives its process; else a restart is a new window."""

    def open(self, address: str) -> None:
        """Load an address in the page."""

    def run(self, body: str) -> Any:
        """The value of the body of an async function, run in the page; JSON."""

    def click(self, selector: str) -> None:
        """A click with the pointer in the middle of an element that is shown."""

    def fill(self, selector: str, text: str) -> None:
        """Replace the content of a field, by keys."""

    def restart(self) -> None:
        """End the page and begin anew with an empty one on the same storage."""

    def pdf(self) -> bytes | None:
        """The page as it is printed; None where the engine's driver does not print."""

    def close(self) -> None:
        """End the browser and what was started for it."""


PLACE: Final = """const element = document.querySelector(SELECTOR);
if (!element || !element.checkVisibility()) return null;
element.scrollIntoView({block: 'center', inline: 'center', behavior: 'instant'});
const place = () => {
  const box = element.getBoundingClientRect();
  return [Math.round(box.x + box.width / 2), Math.round(box.y + box.height / 2)];
};
const before = place();
await new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)));
const [x, y] = place();
const hit = document.elementFromPoint(x, y);
const still = x === before[0] && y === before[1];
return still && hit && (element.contains(hit) || hit.contains(element)) ? [x, y] : null;"""
"""Where an element is, if it is shown, nothing covers it, and it did not move for two frames."""


def place_of(engine: Engine, selector: str) -> tuple[float, float]:
    """The middle of an element, in pixels of the window, once it is shown and nothing covers it."""
    script = PLACE.replace("SELECTOR", json.dumps(selector))
    x, y = until(lambda: engine.run(script), f"{selector} can be clicked")
    return x, y


CONTROL: Final = "\ue009"
"""The key in WebDriver's table of keys."""


class ByActions(Engine):
    """Pointer and keys of an engine that takes the input actions of WebDriver (W3C), which BiDi has too."""

    def perform(self, *actions: dict[str, Any]) -> None:
        """Do these actions, one source of input each."""
        raise NotImplementedError

    def click(self, selector: str) -> None:
        x, y = place_of(self, selector)
        actions = [
            {"type": "pointerMove", "x": int(x), "y": int(y), "origin": "viewport"},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        self.perform({"type": "pointer", "id": "pointer", "actions": actions})

    def fill(self, selector: str, text: str) -> None:
        self.click(selector)
        all_of_it = [("keyDown", CONTROL), ("keyDown", "a"), ("keyUp", "a"), ("keyUp", CONTROL)]
        keys = all_of_it + [(kind, letter) for letter in text for kind in ("keyDown", "keyUp")]
        self.perform({"type": "key", "id": "keys", "actions": [{"type": kind, "value": key} for kind, key in keys]})


def until(look: Callable[[], Any], what: str, wait_s: float = WAIT_S) -> Any:
    """What `look` finds, as soon as it finds anything."""
    ends = time.monotonic() + wait_s
    while not (found := look()):
        if time.monotonic() > ends:
            raise EngineError(f"waited {wait_s:g} s until {what}")
        time.sleep(POLL_S)
    return found


def program(name: str, package: str) -> str:
    """The path of a program, or an error that names its Debian package."""
    found = shutil.which(name)
    if not found:
        raise EngineError(f"{name} is missing: install the Debian package {package}, or run tests/run, which does")
    return found


@contextmanager
def closing_on_error(close: Callable[[], None]) -> Iterator[None]:
    """What was half begun ends when the beginning fails."""
    try:
        yield
    except BaseException:
        close()
        raise
