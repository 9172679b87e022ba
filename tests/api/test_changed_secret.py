"""A server that runs with another secret: who was signed in is asked to sign in again, tokens end, nothing is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from server import create_app
from server.api.authorization import COOKIE
from server.store.credentials import JOIN, SESSION, TOKEN, give
from tests.api.people import PASSWORD, SECRET, House, house
from tests.conftest import ABOVE_THE_STORE
from tests.records.made import body_of, change
from tests.store.full_database import everything

OTHER = "another secret for tests, as long as the first"
KEPT = ("change", "quarantine", "player", "shot", "round", "club", "account", "share", "note")


@pytest.fixture(params=ABOVE_THE_STORE)
def before(request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path: Path) -> Iterator[House]:
    """The house as it was, with its first secret."""
    made = house(new_database(request.param, tmp_path))
    yield made
    made.engine.dispose()


def test_sessions_tokens_and_codes_end_and_a_password_opens_again(before: House) -> None:
    robin = before.accounts["Robin"].account_id
    _, session = give(before.engine, SECRET, robin, SESSION, label="phone")
    _, token = give(before.engine, SECRET, robin, TOKEN, label="script", scopes=("read_own",))
    _, code = give(before.engine, SECRET, robin, JOIN, label="joined by code")
    rows = everything(before.engine)
    address = f"/api/players/{before.robin.player_id}"
    after = create_app({"DATABASE": before.app.config["DATABASE"], "SECRET": OTHER})
    assert after.config["DATABASE"] == before.app.config["DATABASE"]
    signed = after.test_client()
    signed.set_cookie(COOKIE, session)
    bearer = {"Authorization": f"Bearer {token}"}
    sent = {"device_id": "phone", "now": "2026-05-03T12:00:00.000Z", "changes": [change("club", body_of("club"))]}
    answers = [
        signed.get(f"{address}/rounds"),
        signed.post(f"{address}/changes", json=sent),
        after.test_client().get(f"{address}/rounds", headers=bearer),
    ]
    for answer in answers:
        assert (answer.status_code, answer.content_type) == (401, "application/problem+json")
        assert "sign in" in answer.get_json()["detail"].lower() or "token" in answer.get_json()["detail"].lower()
    assert after.test_client().post("/api/join", json={"code": code}).status_code == 401
    assert {name: everything(before.engine)[name] for name in KEPT} == {name: rows[name] for name in KEPT}
    again = after.test_client()
    assert again.post("/api/sign-in", json={"name": "Robin", "password": PASSWORD}).status_code == 200
    assert again.get(f"{address}/rounds").status_code == 200
    pushed = again.post(f"{address}/changes", json=sent)
    assert (pushed.status_code, pushed.get_json()["quarantined"]) == (200, [])
    after.extensions["pencilbag_engine"].dispose()


def test_the_first_secret_lets_in_again(before: House) -> None:
    """Set back, what was given under it is good again: nothing was thrown away meanwhile."""
    _, session = give(before.engine, SECRET, before.accounts["Robin"].account_id, SESSION, label="phone")
    for secret, status in ((OTHER, 401), (SECRET, 200)):
        app = create_app({"DATABASE": before.app.config["DATABASE"], "SECRET": secret})
        client = app.test_client()
        client.set_cookie(COOKIE, session)
        assert client.get(f"/api/players/{before.robin.player_id}/rounds").status_code == status
        app.extensions["pencilbag_engine"].dispose()
