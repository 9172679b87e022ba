"""A house with accounts: two players, coaches, an analyst, an owner, and who reads whom."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from server import create_app
from server.api import caddying
from server.api.authorization import COOKIE
from server.store.accounts import Account, add_account
from server.store.caddies import caddies, end_caddie, invite, take_up
from server.store.credentials import SESSION, TOKEN, give
from server.store.engine import reading
from server.store.log import push
from server.store.players import player_by_id
from server.store.sharing import share
from tests.records.made import BODIES, Season, body_of, default_clubs, par_four

SECRET = "a secret for tests, and for nothing else"
PASSWORD = "correct horse battery"
CADDIES_PHONE = "the caddie's phone"


@dataclass
class House:
    """An application with accounts. `robin` shares with the coach Ash by name and with the squad first, for which the
    analyst Sage reads; `sam` shares with nobody, and Hazel is a coach whom nobody allows anything."""

    app: Flask
    robin: Season
    sam: Season
    accounts: dict[str, Account] = field(default_factory=dict)
    caddies: dict[str, str] = field(default_factory=dict)
    """Secrets of caddies by their ids."""

    @property
    def engine(self) -> Any:
        """The database."""
        return self.app.extensions["pencilbag_engine"]

    def session(self, name: str) -> tuple[str, str]:
        """A session of an account: its id and its secret."""
        return give(self.engine, SECRET, self.accounts[name].account_id, SESSION, label="test")

    def client(self, name: str | None) -> FlaskClient:
        """A browser that is signed in as this account, or holds the cookie of a caddie of this id, and sends it
        everywhere; None for a stranger."""
        client = self.app.test_client()
        for cookie, value in self.cookies(name).items():
            client.set_cookie(cookie, value)
        return client

    def cookies(self, name: str | None) -> dict[str, str]:
        """The cookies of such a browser."""
        if name in self.caddies:
            return {caddying.COOKIE: self.caddies[name]}
        return {} if name is None else {COOKIE: self.session(name)[1]}

    def round_id(self) -> str:
        """An open round of Robin's."""
        return str(next(raw["record_id"] for raw in self.robin.changes if raw["kind"] == "round"))

    def caddie(self) -> str:
        """A new caddie of that round, the only one; returns the id."""
        self.end_caddies()
        caddie_id, code, _ = invite(self.engine, SECRET, self.robin.player_id, self.round_id())
        taken = take_up(self.engine, SECRET, code, "Casey", CADDIES_PHONE)
        assert taken is not None
        self.caddies[caddie_id] = taken[1]
        return caddie_id

    def end_caddies(self) -> None:
        """No invitation and no caddie of Robin's is good any more."""
        with reading(self.engine) as connection:
            there = [one["caddie_id"] for one in caddies(connection, self.robin.player_id) if not one["ended"]]
        for caddie_id in there:
            end_caddie(self.engine, self.robin.player_id, caddie_id)

    def bearer(self, name: str, *scopes: str, lasts: timedelta | None = None) -> dict[str, str]:
        """The header of a script with a token of this account."""
        account_id = self.accounts[name].account_id
        secret = give(self.engine, SECRET, account_id, TOKEN, label="test", scopes=scopes, lasts=lasts)[1]
        return {"Authorization": f"Bearer {secret}"}


def season(name: str) -> Season:
    """Two rounds of one hole, a course with a mapped hole."""
    made = Season(name)
    clubs = default_clubs(made)
    course = made.put("course", "course", body_of("course", name=f"Course of {name}"))
    made.put("hole_map", "map", BODIES["hole_map"] | {"course_id": course})
    for day in ("2026-05-01", "2026-05-02"):
        par_four(made, made.round(day, played_on=day, course_id=course, tees="middle"), clubs)
    session = made.put("session", "session", BODIES["session"])
    made.put("practice_ball", "ball", body_of("practice_ball", session_id=session, club_id=clubs["8 iron"]))
    return made


def house(database: str, name: str = "", **config: Any) -> House:
    """The house on an empty database; `name` keeps the players of several houses apart."""
    app = create_app({"DATABASE": database, "SECRET": SECRET, **config})
    made = House(app, season(f"Robin{name}"), season(f"Sam{name}"))
    for one in (made.robin, made.sam):
        push(made.engine, one.player_id, "phone", one.changes, strict=True)
        with reading(made.engine) as connection:
            assert player_by_id(connection, one.player_id) is not None
    roles = {"Ash": "coach", "Hazel": "coach", "Sage": "analyst", "Olive": "owner"}
    for who, role in roles.items():
        squads = ("first",) if who == "Sage" else ()
        made.accounts[who] = add_account(made.engine, who, role, None, squads=squads)
    made.accounts["Robin"] = add_account(made.engine, "Robin", "player", PASSWORD, player_id=made.robin.player_id)
    made.accounts["Sam"] = add_account(made.engine, "Sam", "player", None, player_id=made.sam.player_id)
    share(made.engine, made.robin.player_id, reader="Ash", squad=None)
    share(made.engine, made.robin.player_id, reader=None, squad="first")
    return made
