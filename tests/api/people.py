"""A house with accounts: two players, coaches, an analyst, an owner, and who reads whom."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from server import create_app
from server.api.authorization import COOKIE
from server.store.accounts import Account, add_account
from server.store.credentials import SESSION, TOKEN, give
from server.store.engine import reading
from server.store.log import push
from server.store.players import player_by_id
from server.store.sharing import share
from tests.records.made import BODIES, Season, body_of, default_clubs, par_four

SECRET = "a secret for tests, and for nothing else"
PASSWORD = "correct horse battery"


@dataclass
class House:
    """An application with accounts. `robin` shares with the coach Ash by name and with the squad first, for which the
    analyst Sage reads; `sam` shares with nobody, and Hazel is a coach whom nobody allows anything."""

    app: Flask
    robin: Season
    sam: Season
    accounts: dict[str, Account] = field(default_factory=dict)

    @property
    def engine(self) -> Any:
        """The database."""
        return self.app.extensions["pencilbag_engine"]

    def session(self, name: str) -> tuple[str, str]:
        """A session of an account: its id and its secret."""
        return give(self.engine, SECRET, self.accounts[name].account_id, SESSION, label="test")

    def client(self, name: str | None) -> FlaskClient:
        """A browser that is signed in as this account; None for a stranger."""
        client = self.app.test_client()
        if name is not None:
            client.set_cookie(COOKIE, self.session(name)[1])
        return client

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
