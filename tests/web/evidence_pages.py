"""The evidence screens in the tests: a server that holds the invented demo season, and what a reader sees of it."""

from __future__ import annotations

import re
import time
from copy import deepcopy
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from playwright.sync_api import Page, Route

from tests.made_once import DEMO_PLAYER, copy_demo, copy_short_demo
from tests.web.conftest import start_server
from tests.web.phone import Phone, Server


def demo_server(folder: Path, *, keep: bool = False, short: bool = False) -> Server:
    """A server of its own with the demo season; `keep`: what was answered in this run is not worked out again; `short`:
    with every fourth of its rounds, which are quickly worked out."""
    (copy_short_demo if short else copy_demo)(folder / "server.sqlite")
    return start_server(folder, keep=keep)


def demo_player(server: Server) -> str:
    """The id of the invented player."""
    players = server.get("/api/players")["players"]
    return str(next(player["player_id"] for player in players if player["name"] == DEMO_PLAYER))


def answer(server: Server, view: str, **query: Any) -> Any:
    """What the API answers of the invented player."""
    path = f"/api/players/{demo_player(server)}/{view}?{urlencode(query)}"
    if server.kept is None:
        return server.get(path)
    if path not in server.kept:
        server.kept[path] = server.get(path)
    return deepcopy(server.kept[path])


def open_view(phone: Phone, server: Server, address: str) -> Page:
    """A view of the invented player's evidence, drawn in full and unfolded: `address` is what follows the
    player's id. On a phone that shows the app already, in the same page."""
    page = go_to(phone, f"#/evidence/{demo_player(server)}/{address}")
    wait_drawn(page)
    unfold(page)
    return page


def go_to(phone: Phone, hash_: str, wait: str = ".evidence-body") -> Page:
    """An address of the evidence: in the page that the phone shows, if there is one."""
    if not phone.pages:
        return phone.open(hash_, wait)
    phone.page.evaluate(LEAVE, hash_)
    phone.page.wait_for_selector(f"{wait}:not([data-left])")
    return phone.page


def unfold(page: Page) -> None:
    """Opens what is folded behind the answer; it stays so while the view is drawn again."""
    page.evaluate("() => document.querySelectorAll('main details.fold').forEach((one) => { one.open = true; })")
    wait_drawn(page)


def open_anew(phone: Phone, player: str, address: str) -> None:
    """A view of a player's evidence in a fresh page, drawn in full, everything that folds open."""
    phone.page.goto("about:blank")
    phone.page.goto(f"{phone.address}/#/evidence/{player}/{address}")
    phone.page.wait_for_selector(".evidence h1")
    wait_drawn(phone.page)
    phone.page.evaluate("() => document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
    wait_drawn(phone.page)


def to_view(page: Page, server: Server, address: str, wait: str = ".evidence-body", player: str | None = None) -> None:
    """From one view of evidence, the invented player's unless another is named, to another in the same page, drawn
    in full, all that folds open."""
    page.evaluate(LEAVE, f"#/evidence/{player or demo_player(server)}/{address}")
    page.wait_for_selector(f"{wait}:not([data-left])")
    wait_drawn(page)
    page.evaluate("() => document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
    wait_drawn(page)


LEAVE = """(hash) => {
  if (location.hash === hash) throw new Error(`${hash} is shown already`);
  for (const one of document.querySelectorAll('main h1, .evidence-body, .evidence, .locked')) one.dataset.left = '';
  location.hash = hash;
}"""
"""To another address; what is shown now is marked, so that it is not taken for what comes."""


def wait_drawn(page: Page) -> None:
    """Until the view shows how old it is, or why there is none, and its pictures are drawn."""
    page.wait_for_selector(".evidence-body > :not([role=status]), .evidence-body > .as-of", timeout=30_000)
    page.wait_for_function(
        "() => [...document.querySelectorAll('.picture-holder')].every((one) => one.firstChild || !one.clientWidth"
        " || !one.checkVisibility())"  # one that is folded is drawn when it is opened
    )


def hold_back(page: Page, pattern: str) -> list[Route]:
    """The requests to come that fit the pattern wait in the list until the test lets them go on."""
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route(pattern, hold)
    return held


def wait_held(page: Page, held: list[Any], least: int = 1) -> None:
    """Until so many requests are held back, and no more have come for a third of a second."""
    ends = time.monotonic() + 30
    before, since = -1, 0.0
    while len(held) < least or len(held) != before or time.monotonic() - since < 0.35:
        if len(held) != before:
            before, since = len(held), time.monotonic()
        assert time.monotonic() < ends, f"{len(held)} of {least} requests came in half a minute"
        page.wait_for_timeout(30)  # the routes are called while Playwright waits


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
    page.locator(".evidence-table caption").filter(has_text=re.compile(f"^{re.escape(caption)}")).first.wait_for(
        state="attached"
    )
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


def change_of(player: str, kind: str, body: dict[str, Any], *parents: str, record: str | None = None) -> dict[str, Any]:
    """A change of a record, a new one unless it is named."""
    return {
        "change_id": str(uuid4()),
        "record_id": record or str(uuid4()),
        "kind": kind,
        "parents": list(parents),
        "op": "put",
        "body": body,
        "device_id": "test",
        "client_time": "2026-11-01T08:00:00Z",
        "schema_version": 1,
    }


def push(server: Server, changes: list[dict[str, Any]]) -> None:
    """Pushes changes of the invented player, all of which the server must take."""
    answer = server.post(f"/api/players/{demo_player(server)}/changes", {"device_id": "test", "changes": changes})
    assert answer["acknowledged"] == [change["change_id"] for change in changes]
    assert answer["quarantined"] == []


def second_putter(server: Server, label: str = "putter with a long neck") -> str:
    """Gives every second round's putts to another putter; its label."""
    player, log = demo_player(server), server.log(demo_player(server))
    club = change_of(player, "club", {"label": label, "sort": "putter"})
    rounds = sorted((change["body"]["played_on"], change["record_id"]) for change in log if change["kind"] == "round")
    mine = {record for _, record in rounds[::2]}
    putts = [
        change
        for change in log
        if change["kind"] == "shot" and change["body"]["lie"] == "green" and change["body"]["round_id"] in mine
    ]
    moved = [
        change_of(
            player, "shot", putt["body"] | {"club_id": club["record_id"]}, putt["change_id"], record=putt["record_id"]
        )
        for putt in putts
    ]
    assert len(moved) > 300
    push(server, [club, *moved])
    return label
