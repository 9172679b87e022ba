"""Every route by every role, own and foreign: what may not be seen does not exist, what may not be done is refused."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from server.api.attempts import limiter
from server.api.permissions import NOTING, READING, READING_OWN, THE_PLAYER, WRITING
from tests.api.asked_routes import (
    ALLOWED,
    ANYBODY,
    CADDYING,
    IN_PERSON,
    ROUTES,
    SIGNED_IN,
    Asked,
    a_stranger_id,
    foreign_push,
)
from tests.api.asking import problem
from tests.api.people import House, house

OK = 0
"""Stands for the answer of one who may."""

ROLES: dict[str, tuple[str | None, tuple[str, ...] | None]] = {
    "nobody": (None, None),
    "the player": ("Robin", None),
    "another player": ("Sam", None),
    "coach, shared": ("Ash", None),
    "coach, not shared": ("Hazel", None),
    "analyst, by squad": ("Sage", None),
    "owner": ("Olive", None),
    "caddie": (None, ("caddie",)),
    "token: read own": ("Robin", ("read_own",)),
    "token: write own": ("Robin", ("write_own",)),
    "token: both": ("Robin", ("read_own", "write_own")),
    "token: another": ("Sam", ("read_own", "write_own")),
    "token: shared": ("Ash", ("read_squad",)),
    "token: not shared": ("Hazel", ("read_squad",)),
    "token: idle scopes": ("Ash", ("read_own", "write_own")),
}
"""Who asks: account, and the scopes of a token (None: signed in with a password). The caddie has no account, and sends
the cookie of one of Robin's rounds to every address."""

NEEDS = (ANYBODY, SIGNED_IN, ALLOWED, IN_PERSON, READING, WRITING, READING_OWN, THE_PLAYER, NOTING, CADDYING)

_EXPECTED = """
nobody             | OK  401 401 401 401 401 401 401 401 401
the player         | OK  OK  OK  OK  OK  OK  OK  OK  OK 401
another player     | OK  OK  404 OK  404 404 404 404 404 401
coach, shared      | OK  OK  OK  OK  OK  403 403 403 OK 401
coach, not shared  | OK  OK  404 OK  404 404 404 404 404 401
analyst, by squad  | OK  OK  OK  OK  OK  403 403 403 OK 401
owner              | OK  OK  404 OK  404 404 404 404 404 401
caddie             | OK  401 401 401 401 401 401 401 401 OK
token: read own    | OK  OK  OK  403 OK  403 OK  403 403 401
token: write own   | OK  OK  404 403 403 OK  403 403 OK 401
token: both        | OK  OK  OK  403 OK  OK  OK  403 OK 401
token: another     | OK  OK  404 403 404 404 404 404 404 401
token: shared      | OK  OK  OK  403 OK  403 403 403 403 401
token: not shared  | OK  OK  404 403 404 404 404 404 404 401
token: idle scopes | OK  OK  404 403 404 404 404 404 404 401
"""
"""Per role, in the order of NEEDS: the answer to a request about Robin, who shares with Ash and with Sage's squad."""


def expected() -> dict[tuple[str, str], int]:
    """(role, need) -> status."""
    found = {}
    for line in _EXPECTED.strip().splitlines():
        role, words = line.split("|")
        for need, word in zip(NEEDS, words.split(), strict=True):
            found[role.strip(), need] = OK if word == "OK" else int(word)
    return found


EXPECTED = expected()


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path_factory.mktemp('roles') / 'log.sqlite'}")
    yield made
    made.engine.dispose()


def asks(full: House, role: str, method: str, asked: Asked, player_id: str) -> TestResponse:
    """The answer to a role's request about a player, as if it were the first in a long time."""
    limiter.reset()
    name, scopes = ROLES[role]
    made = asked.makes(full, name or "nobody")
    client: FlaskClient = full.client(name if scopes is None else None)
    if role == "caddie":
        client = full.client(made if asked.needs == CADDYING else full.caddie())
    headers = full.bearer(name, *scopes) if name and scopes is not None else {}
    path = asked.path.format(player=player_id, id=made)
    return client.open(path, method=method, json=asked.body, headers=headers, buffered=True)


def test_every_route_says_what_it_asks_for(full: House) -> None:
    there = {
        (rule.endpoint, method)
        for rule in full.app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    assert there == set(ROUTES)


def test_every_role_has_its_line() -> None:
    assert {role for role, _ in EXPECTED} == set(ROLES)
    assert {asked.needs for asked in ROUTES.values()} == set(NEEDS)


@pytest.mark.parametrize(("endpoint", "method"), ROUTES)
def test_who_may_do_what(full: House, endpoint: str, method: str) -> None:
    asked = ROUTES[endpoint, method]
    answers = {role: asks(full, role, method, asked, full.robin.player_id) for role in ROLES}
    wanted = {role: EXPECTED[role, asked.needs] or asked.answer for role in ROLES}
    assert {role: answer.status_code for role, answer in answers.items()} == wanted
    for role, answer in answers.items():
        if answer.status_code < 400:
            continue
        said = problem(answer, answer.status_code)
        if EXPECTED[role, asked.needs] == OK:
            assert "no player" not in said["detail"]
        if answer.status_code == 401:
            assert answer.headers["WWW-Authenticate"].startswith('Bearer realm="pencilbag"')


@pytest.mark.parametrize(("endpoint", "method"), [key for key, asked in ROUTES.items() if "{player}" in asked.path])
def test_a_player_who_is_hidden_looks_like_one_who_is_not_there(full: House, endpoint: str, method: str) -> None:
    asked, nowhere = ROUTES[endpoint, method], a_stranger_id()
    for role in ROLES:
        if EXPECTED[role, asked.needs] != 404:
            continue
        hidden = asks(full, role, method, asked, full.robin.player_id)
        missing = asks(full, role, method, asked, nowhere)
        assert hidden.status_code == missing.status_code == 404
        assert hidden.text.replace(full.robin.player_id, nowhere) == missing.text
        assert set(hidden.headers.keys()) == set(missing.headers.keys())


@pytest.mark.parametrize("role", [role for role in ROLES if EXPECTED[role, WRITING]])
def test_nobody_but_the_player_changes_a_record(full: House, role: str) -> None:
    address = f"/api/players/{full.robin.player_id}"
    before = full.client("Robin").get(f"{address}/changes").get_json()["changes"]
    asked = Asked(WRITING, f"{address}/changes", body=foreign_push(full.robin.player_id))
    assert asks(full, role, "POST", asked, full.robin.player_id).status_code in (401, 403, 404)
    assert full.client("Robin").get(f"{address}/changes").get_json()["changes"] == before


@pytest.mark.parametrize("role", ROLES)
def test_lists_hold_only_the_players_that_may_be_read(full: House, role: str) -> None:
    name, scopes = ROLES[role]
    client = full.client(name if scopes is None else None)
    headers = full.bearer(name, *scopes) if name and scopes is not None else {}
    robin = {full.robin.player_id} if EXPECTED[role, READING] == OK else set()
    sam = {full.sam.player_id} if name == "Sam" else set()
    listed = client.get("/api/players", headers=headers)
    if name is None:
        problem(listed, 401)
        return
    assert {player["player_id"] for player in listed.get_json()["players"]} == robin | sam
    table = client.get("/api/season/2026/rounds.csv", headers=headers)
    if not robin | sam:
        problem(table, 404)
        return
    for whose in (full.robin, full.sam):
        assert (whose.player_id in table.text) == (whose.player_id in robin | sam)


@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS"])
def test_asking_for_headers_alone_is_asking(full: House, method: str) -> None:
    address = f"/api/players/{full.robin.player_id}/rounds"
    assert full.client(None).open(address, method=method).status_code == 401
    assert full.client("Hazel").open(address, method=method).status_code == 404
    assert full.client("Ash").open(address, method=method).status_code == 200
