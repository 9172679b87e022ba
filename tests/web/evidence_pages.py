"""The evidence screens in the tests: a server that holds the invented demo season, and what a reader sees of it."""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from playwright.sync_api import Page

from tests.web.conftest import ROOT, start_server
from tests.web.phone import Phone, Server


@functools.cache
def demo_database() -> Path:
    """A database with the demo season, made once and copied for each server."""
    file = Path(tempfile.mkdtemp(prefix="pencilbag-demo-")) / "server.sqlite"
    environment = os.environ | {"PENCILBAG_DATABASE": f"sqlite:///{file}"}
    subprocess.run([sys.executable, "-m", "server", "demo"], cwd=ROOT, env=environment, check=True, capture_output=True)
    return file


def demo_server(folder: Path) -> Server:
    """A server of its own with the demo season."""
    shutil.copy(demo_database(), folder / "server.sqlite")
    return start_server(folder)


def demo_player(server: Server) -> str:
    """The id of the invented player."""
    (player,) = server.get("/api/players")["players"]
    return str(player["player_id"])


def answer(server: Server, view: str, **query: Any) -> Any:
    """What the API says of the invented player."""
    return server.get(f"/api/players/{demo_player(server)}/{view}?{urlencode(query)}")


def open_view(phone: Phone, server: Server, address: str) -> Page:
    """A view of the invented player's evidence, drawn whole: `address` is what stands behind the player's id."""
    page = phone.open(f"#/evidence/{demo_player(server)}/{address}")
    wait_drawn(page)
    return page


def wait_drawn(page: Page) -> None:
    """Until the view says how old it is, or why there is none, and its pictures are drawn."""
    page.wait_for_selector(".evidence-body > :not([role=status]), .evidence-body > .as-of", timeout=30_000)
    page.wait_for_function(
        "() => [...document.querySelectorAll('.picture-holder')].every((one) => one.firstChild || !one.clientWidth)"
    )


def signed(value: float | None) -> str:
    """Strokes gained as the screens write them."""
    if value is None:
        return "–"
    rounded = f"{value:.2f}"
    if float(rounded) == 0:
        return "0.00"
    return f"+{rounded}" if value > 0 else f"−{rounded[1:]}"


def table_rows(page: Page, caption: str) -> list[list[str]]:
    """The cells of the table whose caption begins like this, row by row, lines of a cell joined by a blank."""
    rows: list[list[str]] = page.evaluate(
        """(caption) => {
          const tables = [...document.querySelectorAll('.evidence-table')];
          const table = tables.find((one) => one.caption.textContent.startsWith(caption));
          const parts = (cell) => (cell.children.length ? [...cell.children] : [cell]);
          const words = (cell) => parts(cell).map((part) => part.textContent).join(' ');
          return [...table.tBodies[0].rows].map((row) => [...row.cells].map((cell) => words(cell).trim()));
        }""",
        caption,
    )
    return rows


def interval_words(low: float | None, high: float | None) -> str:
    """An interval as the screens write it."""
    return f"{signed(low)} to {signed(high)}"


def percent(share: float) -> str:
    """A share as the screens write it."""
    if 0 < share < 0.005:
        return "under 1 %"
    if 0.995 < share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"
