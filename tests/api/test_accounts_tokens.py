"""Tokens for scripts: shown once, scoped, expiring, listed, ended, and never in an address."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from freezegun import freeze_time

from server.api.attempts import limiter
from server.store.credentials import LASTS, SESSION
from tests.api.asking import problem
from tests.api.people import SECRET, House, house

START = datetime(2026, 5, 1, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path_factory.mktemp('tokens') / 'log.sqlite'}")
    yield made
    made.engine.dispose()


@pytest.fixture(autouse=True)
def _fresh_limits() -> None:
    limiter.reset()


def status(full: House, headers: dict[str, str]) -> int:
    """What a script with this header is answered."""
    return full.app.test_client().get("/api/players", headers=headers).status_code


def test_a_token_is_shown_once_listed_and_ended(full: House) -> None:
    client = full.client("Robin")
    asked = {"label": "evening report", "scopes": ["read_own", "read_own"], "days": 7}
    made = client.post("/api/me/tokens", json=asked)
    assert (made.status_code, made.headers["Cache-Control"]) == (201, "no-store")
    token, identity = made.get_json()["token"], made.get_json()["credential_id"]
    headers = {"Authorization": f"Bearer {token}"}
    assert status(full, headers) == 200
    listed = client.get("/api/me/tokens")
    assert token not in listed.text
    (found,) = [one for one in listed.get_json()["tokens"] if one["credential_id"] == identity]
    assert (found["label"], found["scopes"], found["current"]) == ("evening report", ["read_own"], False)
    assert found["last_used_at"] is not None
    life = datetime.fromisoformat(found["expires_at"]) - datetime.fromisoformat(found["created_at"])
    assert life == timedelta(days=7)
    problem(full.client("Sam").delete(f"/api/me/tokens/{identity}"), 404)
    problem(client.delete(f"/api/me/sessions/{identity}"), 404)
    assert status(full, headers) == 200
    assert client.delete(f"/api/me/tokens/{identity}").status_code == 204
    assert status(full, headers) == 401
    assert identity not in client.get("/api/me/tokens").text


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"label": "", "scopes": ["read_own"]}, "label"),
        ({"label": "x", "scopes": []}, "scopes"),
        ({"label": "x", "scopes": ["everything"]}, "scopes"),
        ({"label": "x", "scopes": ["read_squad"]}, "nothing that a player can do"),
        ({"label": "x", "scopes": ["read_own"], "days": 0}, "1 to 366"),
        ({"label": "x", "scopes": ["read_own"], "days": 367}, "1 to 366"),
        ({"label": "x", "scopes": ["read_own"], "days": "7"}, "days"),
        ({"label": "x", "scopes": ["read_own"], "account": "Sam"}, "account"),
    ],
)
def test_a_token_that_cannot_be(full: House, asked: dict[str, object], words: str) -> None:
    client = full.client("Robin")
    before = client.get("/api/me/tokens").get_json()
    assert words in problem(client.post("/api/me/tokens", json=asked), 422)["detail"]
    assert client.get("/api/me/tokens").get_json() == before


@pytest.mark.parametrize("lasts", [None, timedelta(days=1), timedelta(days=366)])
def test_a_token_ends_on_its_day_however_much_it_is_used(full: House, lasts: timedelta | None) -> None:
    with freeze_time(START) as clock:
        headers = full.bearer("Robin", "read_own", lasts=lasts)
        life = lasts or LASTS["token"]
        clock.tick(life / 2)
        assert status(full, headers) == 200
        clock.tick(life / 2 - timedelta(seconds=1))
        assert status(full, headers) == 200
        clock.tick(timedelta(seconds=1))
        assert status(full, headers) == 401


def test_a_wrong_token_differs_from_none(full: House) -> None:
    client = full.app.test_client()
    wrong = client.get("/api/players", headers={"Authorization": "Bearer wrong"})
    assert wrong.headers["WWW-Authenticate"] == 'Bearer realm="pencilbag", error="invalid_token"'
    none = client.get("/api/players")
    assert none.headers["WWW-Authenticate"] == 'Bearer realm="pencilbag"'


@pytest.mark.parametrize("scheme", ["bearer", "BEARER", "Bearer"])
def test_the_scheme_is_read_in_any_case(full: House, scheme: str) -> None:
    secret = full.bearer("Robin", "read_own")["Authorization"].removeprefix("Bearer ")
    assert status(full, {"Authorization": f"{scheme} {secret}"}) == 200


@pytest.mark.parametrize("header", ["", "Bearer", "Bearer ", "Basic Um9iaW46eA==", "Token {}", "Bearer {} {}", "{}"])
def test_any_other_header_signs_nobody_in(full: House, header: str) -> None:
    secret = full.bearer("Robin", "read_own")["Authorization"].removeprefix("Bearer ")
    assert status(full, {"Authorization": header.replace("{}", secret)}) == 401


def test_a_token_speaks_alone_even_beside_a_cookie(full: House) -> None:
    client = full.client("Robin")
    assert client.get("/api/players").status_code == 200
    problem(client.get("/api/players", headers={"Authorization": "Bearer wrong"}), 401)
    listed = client.get("/api/players", headers=full.bearer("Sam", "read_own")).get_json()["players"]
    assert [player["player_id"] for player in listed] == [full.sam.player_id]


@pytest.mark.parametrize("word", ["token", "access_token", "Access_Token", "code", "password", "secret"])
@pytest.mark.parametrize("path", ["/api/players", "/api/me", "/api/sign-in", "/api/nothing"])
def test_a_secret_in_the_address_is_refused(full: House, path: str, word: str) -> None:
    secret = full.bearer("Robin", "read_own")["Authorization"].removeprefix("Bearer ")
    for client in (full.app.test_client(), full.client("Robin")):
        answer = client.open(f"{path}?{word}={secret}", method="POST" if "sign-in" in path else "GET")
        assert "never put a secret in an address" in problem(answer, 400)["detail"]
        assert secret not in answer.text


def test_wrong_tokens_are_limited_by_address(full: House) -> None:
    client = full.app.test_client()
    # The thread that forgets old counts lives in real time: what is counted here must lie in its future.
    with freeze_time(START.replace(year=2090)) as clock:
        good = full.bearer("Robin", "read_own")
        answers = [client.get("/api/players", headers={"Authorization": f"Bearer {turn}"}) for turn in range(100)]
        assert [answer.status_code for answer in answers] == [401] * 60 + [429] * 40
        assert 1 <= int(answers[-1].headers["Retry-After"]) <= 60
        problem(answers[-1], 429)
        assert status(full, good) == 429
        elsewhere = client.get("/api/players", headers=good, environ_base={"REMOTE_ADDR": "127.0.0.9"})
        assert elsewhere.status_code == 200
        assert full.client("Robin").get("/api/players").status_code == 200
        assert client.get("/api/players", headers={"Authorization": ""}).status_code == 401
        clock.tick(timedelta(seconds=61))
        assert status(full, good) == 200


def test_what_is_stored_of_a_token_is_no_token(full: House) -> None:
    secret = full.bearer("Robin", "read_own")["Authorization"].removeprefix("Bearer ")
    path = Path(full.engine.url.database)
    stored = b"".join(file.read_bytes() for file in path.parent.glob("log.sqlite*"))
    assert secret.encode() not in stored
    assert SECRET.encode() not in stored
    assert SESSION.encode() in stored
