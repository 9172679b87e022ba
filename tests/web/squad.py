"""A squad in the tests of the coach's pages: the invented demo player, and others that try the pages' limits."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

from freezegun import freeze_time

from server.api.authorization import COOKIE
from server.store.accounts import add_account
from server.store.credentials import SESSION, give
from server.store.engine import open_database
from server.store.sharing import share, write_note
from tests.made_once import copy_demo, made_once
from tests.web.conftest import next_server, start_server
from tests.web.evidence_pages import change_of
from tests.web.phone import Phone, Server

WREN, EMPTY, MANY, LOCKED = (
    "Wren Quillfeather",
    "Nell Fenwick",
    "Marsh Pindle-Overbury of Long Hanging Wood",
    "Larch Tunley",
)
LONG_COURSE = "The Old Upper Course of Blottingham Heath and Long Hanging Wood"
CLUBS = 23
A_PUSH = 900


@dataclass(frozen=True)
class Squad:
    """A running server with accounts; the ids of its players by name; a session's secret of each coach."""

    server: Server
    players: dict[str, str]
    coaches: dict[str, str]

    def sign_in(self, phone: Phone, coach: str) -> None:
        """The phone is this coach's."""
        place = {"domain": "127.0.0.1", "path": "/"}
        phone.context.add_cookies([{"name": COOKIE, "value": self.coaches[coach], **place}])


def long_label(number: int) -> str:
    """A label as long as labels get."""
    return f"utility club {number:02} with the heavy shaft, one degree weaker"


def _push(server: Server, player: str, changes: list[dict[str, Any]]) -> None:
    for start in range(0, len(changes), A_PUSH):
        sent = changes[start : start + A_PUSH]
        answer = server.post(f"/api/players/{player}/changes", {"device_id": "test", "changes": sent})
        assert answer["quarantined"] == []


def _new(server: Server, name: str) -> str:
    player = str(uuid4())
    _push(server, player, [change_of(player, "player", {"name": name, "plays": "left"}, record=player)])
    return player


def _many_clubs(server: Server, wren: str) -> str:
    """The demo season once more, its shots spread over many clubs with long labels, on a course with a long name."""
    player = _new(server, MANY)
    log = server.log(wren)
    clubs = [change_of(player, "club", {"label": long_label(number), "sort": "iron"}) for number in range(CLUBS)]
    ids = {change["record_id"]: str(uuid4()) for change in log}
    course = next(change["body"] for change in log if change["kind"] == "course") | {"name": LONG_COURSE}
    made = [*clubs, change_of(player, "course", course)]
    for change in log:
        if change["kind"] == "round":
            body = change["body"] | {"bag": [club["record_id"] for club in clubs], "course_id": made[-1]["record_id"]}
            clubs.append(change_of(player, "round", body, record=ids[change["record_id"]]))
    made += clubs[CLUBS:]
    heads = {change["record_id"]: change for change in log if change["kind"] == "shot"}
    for number, change in enumerate(heads.values()):
        if change["op"] == "put":
            body = change["body"] | {"club_id": clubs[number % CLUBS]["record_id"]}
            body["round_id"] = ids[body["round_id"]]
            made.append(change_of(player, "shot", body, record=ids[change["record_id"]]))
    _push(server, player, made)
    return player


def _make(folder: Path) -> None:
    """The database: players, then accounts; Cara reads all, Dora reads two of them, Hazel nobody. Their ids and secrets
    beside it."""
    copy_demo(folder / "server.sqlite")
    server = start_server(folder)
    wren = next(one["player_id"] for one in server.get("/api/players")["players"] if one["name"] == WREN)
    players = {WREN: wren, EMPTY: _new(server, EMPTY), LOCKED: _new(server, LOCKED)}
    held = next(change["body"] for change in server.log(wren) if change["kind"] == "round")
    opened = {"played_on": "2026-11-01", "holes": held["holes"], "bag": [], "kind": "competition"}
    _push(server, players[LOCKED], [change_of(players[LOCKED], "round", opened)])
    players[MANY] = _many_clubs(server, wren)
    server.stop()
    engine = open_database(f"sqlite:///{folder}/server.sqlite")
    coaches = {}
    for name in ("cara", "dora", "hazel"):
        account = add_account(engine, name, "coach", None)
        coaches[name] = give(engine, "", account.account_id, SESSION, label="test")[1]
        for player in {"cara": players.values(), "dora": (wren, players[EMPTY]), "hazel": ()}[name]:
            share(engine, player, reader=name, squad=None)
        if name == "cara":
            words = "Keep the stance narrow in the wind and let the club do it; we look at the long irons again. " * 8
            with freeze_time("2026-11-02T09:00:00Z", auto_tick_seconds=60):  # no two in one millisecond
                for number in range(6):
                    write_note(engine, players[MANY], account, "club", long_label(number), words)
            write_note(engine, wren, account, "club", "4 iron A", "Goes back into the bag when the trial is settled.")
    engine.dispose()
    (folder / "people.json").write_text(json.dumps([players, coaches]), encoding="utf-8")


def squad(folder: Path, *, changed: bool = False) -> Squad:
    """A server of its own with the squad; `changed`: a test changes who reads or what was played."""
    made = made_once("squad", _make)
    players, coaches = json.loads((made / "people.json").read_text(encoding="utf-8"))
    shutil.copy(made / "server.sqlite", folder / "server.sqlite")
    server = next_server(folder, "changed squad" if changed else "squad", keep=not changed)
    return Squad(server, players, coaches)
