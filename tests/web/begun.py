"""A phone on which a player has signed up, and perhaps begun a round, without a tap: what such a phone has stored is
taken once in a run from one that was tapped, and put on others under ids of their own."""

from __future__ import annotations

import functools
import json
import re
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from uuid import uuid4

from playwright.sync_api import Browser

from tests import tiers
from tests.made_once import made_once
from tests.web.lending import VIEWPORT
from tests.web.phone import ANSWER, Phone

PLAYER: Final = "player"
"""Signed up, no round yet."""
NEVER_SENT: Final = "**/api/players/*/changes*"

TAKE: Final = f"""async () => {{
  {ANSWER}
  if (localStorage.length + sessionStorage.length) throw new Error('something is kept outside of the database');
  const database = await answer(indexedDB.open('pencilbag'));
  const names = [...database.objectStoreNames];
  const transaction = database.transaction(names);
  const rows = await Promise.all(names.map((name) => answer(transaction.objectStore(name).getAll())));
  database.close();
  return JSON.stringify(Object.fromEntries(names.map((name, place) => [name, rows[place]])));
}}"""
PUT: Final = """async (stored) => {
  const { inTransaction, openDatabase } = await import('/js/log/database.js');
  const database = await openDatabase();
  const rows = JSON.parse(stored);
  await inTransaction(database, Object.keys(rows), 'readwrite', async (transaction) => {
    for (const name in rows) for (const row of rows[name]) transaction.objectStore(name).put(row);
  });
  database.close();
}"""


def begin_round(phone: Phone, kind: str = "practice", *, shots: int = 0) -> str:
    """On the first hole of a new round of Robin Vale's, `shots` hit; the round's id. As after the taps of `sign_up` and
    `start_round` without a network: what was written goes to the server now."""
    if tiers.LONG:
        return tapped(phone, kind, shots)
    _, round_id = put(phone, kind, shots)
    phone.open(f"#/round/{round_id}/1", ".entry")
    return round_id


def begin_player(phone: Phone) -> str:
    """On the first screen of the new player Robin Vale, who has a usual bag; the player's id. See `begin_round`."""
    if tiers.LONG:
        phone.open()
        return phone.sign_up()
    player_id, _ = put(phone, PLAYER, 0)
    phone.open().wait_for_selector("#new-round")
    return player_id


def tapped(phone: Phone, kind: str, shots: int) -> str:
    phone.open()
    phone.sign_up()
    if kind == PLAYER:
        return ""
    round_id = phone.start_round(kind)
    for _ in range(shots):
        phone.hit()
    phone.taps = 0
    return round_id


def put(phone: Phone, kind: str, shots: int) -> tuple[str, str]:
    """Stores on a phone that holds nothing what one that was tapped has stored; the ids of the player and the round."""
    assert phone.context.browser is not None
    stored = stored_of(phone.context.browser, phone.address, kind, shots)
    new = {one: str(uuid4()) for one in stored.ids}
    put_rows(phone, re.sub("|".join(stored.ids), lambda found: new[found[0]], stored.rows))
    return new[stored.player_id], new.get(stored.round_id, "")


def put_rows(phone: Phone, rows: str) -> None:
    """Stores on a phone that was not opened yet what `TAKE` has found on another."""
    phone.blank = phone.blank or phone.context.new_page()
    phone.blank.goto(f"{phone.address}/manifest.webmanifest")
    phone.blank.evaluate(PUT, rows)


@dataclass(frozen=True)
class Stored:
    """What a phone has stored: the rows of each store, as JSON, and every id that the phone made."""

    player_id: str
    round_id: str
    rows: str
    ids: tuple[str, ...]


def stored_of(browser: Browser, address: str, kind: str, shots: int) -> Stored:
    """Of a phone that is tapped on this server, if none was yet."""

    def make(folder: Path) -> None:
        with browser.new_context(viewport=VIEWPORT, service_workers="block") as context:
            context.route(NEVER_SENT, lambda route: route.abort())
            phone = Phone(context, address)
            round_id = tapped(phone, kind, shots)
            wait_for_answers(phone)
            assert phone.errors == []
            found = {"player_id": phone.player_id(), "round_id": round_id, "rows": phone.page.evaluate(TAKE)}
            context.unroute_all(behavior="ignoreErrors")
        (folder / "stored.json").write_text(json.dumps(found), encoding="utf-8")

    return read(made_once(f"begun-{kind}-{shots}", make))


def wait_for_answers(phone: Phone) -> None:
    """Until the phone keeps the baseline and who is signed in, which it asks for beside the taps."""
    ends = time.monotonic() + 30
    while {row["path"] for row in phone.all_of("answers")} != {"/api/baselines/tour", "/api/me"}:
        assert time.monotonic() < ends, phone.all_of("answers")
        phone.page.wait_for_timeout(50)


@functools.cache
def read(folder: Path) -> Stored:
    """See `stored_of`."""
    found = json.loads((folder / "stored.json").read_text(encoding="utf-8"))
    rows = json.loads(found["rows"])
    assert len(rows["outbox"]) == len(rows["changes"]) > 10
    ids = {row[name] for row in rows["changes"] for name in ("change_id", "record_id", "device_id")}
    return Stored(ids=tuple(sorted(ids)), **found)
