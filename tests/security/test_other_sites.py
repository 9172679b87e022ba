"""Pages of other sites, other names for this server, proxies that say more than they know."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from server import create_app
from tests.api.asking import problem
from tests.api.people import PASSWORD, House, house
from tests.records.made import change

HOSTS = "pencilbag.example, Other.example"


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path_factory.mktemp('sites') / 'log.sqlite'}", HOSTS=HOSTS)
    yield made
    made.engine.dispose()


@pytest.fixture
def open_house(tmp_path: Path) -> Iterator[Flask]:
    made = create_app({"DATABASE": f"sqlite:///{tmp_path / 'open.sqlite'}"})
    yield made
    made.extensions["pencilbag_engine"].dispose()


FOREIGN = [
    {"Origin": "https://evil.example"},
    {"Origin": "http://localhost:9999"},
    {"Origin": "http://localhost.evil.example"},
    {"Origin": "null"},
    {"Origin": ""},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"Sec-Fetch-Site": "whatever"},
    {"Origin": "http://localhost", "Sec-Fetch-Site": "cross-site"},
]
NEAR = [{}, {"Origin": "http://localhost"}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"}]


def writes(player_id: str) -> list[tuple[str, str, Any]]:
    """Requests that change something."""
    push = {"device_id": "page", "changes": [change("club", {"label": "x", "sort": "iron"})]}
    return [
        ("POST", f"/api/players/{player_id}/changes", push),
        ("POST", f"/api/players/{player_id}/shares", {"squad": "first"}),
        ("POST", f"/api/players/{player_id}/erasure", {"name": "Robin", "meant": "erase everything"}),
        ("POST", "/api/me/tokens", {"label": "x", "scopes": ["read_own"]}),
        ("POST", "/api/me/join-code", None),
        ("POST", "/api/me/password", {"password": PASSWORD, "new_password": "taken over now"}),
        ("POST", "/api/sign-out", None),
        ("POST", "/api/sign-in", {"name": "Robin", "password": PASSWORD}),
        ("POST", "/api/join", {"code": "x"}),
    ]


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_a_page_of_another_site_changes_nothing(full: House, headers: dict[str, str]) -> None:
    for method, path, body in writes(full.robin.player_id):
        answer = full.client("Robin").open(path, method=method, json=body, headers=headers)
        assert problem(answer, 403)["detail"] == "This request comes from another site."
        assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_nor_does_it_with_a_header_that_is_no_token(full: House, headers: dict[str, str]) -> None:
    path = f"/api/players/{full.robin.player_id}/changes"
    push = {"device_id": "page", "changes": []}
    for authorization in ("Basic Um9iaW46eA==", "Digest x", ""):
        asked = headers | {"Authorization": authorization}
        problem(full.client("Robin").post(path, json=push, headers=asked), 403)


@pytest.mark.parametrize("headers", NEAR, ids=str)
def test_ones_own_page_does(full: House, headers: dict[str, str]) -> None:
    path = f"/api/players/{full.robin.player_id}/changes"
    answer = full.client("Robin").post(path, json={"device_id": "page", "changes": []}, headers=headers)
    assert answer.status_code == 200


def test_a_token_may_come_from_anywhere(full: House) -> None:
    path = f"/api/players/{full.robin.player_id}/changes"
    headers = full.bearer("Robin", "write_own") | FOREIGN[0]
    answer = full.app.test_client().post(path, json={"device_id": "script", "changes": []}, headers=headers)
    assert answer.status_code == 200
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]


def test_no_other_origin_may_read(full: House) -> None:
    answer = full.client("Robin").get("/api/players", headers=FOREIGN[0])
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    preflight = {**FOREIGN[0], "Access-Control-Request-Method": "POST"}
    asked = full.app.test_client().options(f"/api/players/{full.robin.player_id}/changes", headers=preflight)
    assert not [name for name, _ in asked.headers if name.startswith("Access-Control")]


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_an_open_house_is_no_easier(open_house: Flask, headers: dict[str, str]) -> None:
    client, player_id = open_house.test_client(), "11111111-2222-4333-8444-555555555555"
    push = {"device_id": "page", "changes": [change("player", {"name": "x", "plays": "left"}, player_id)]}
    problem(client.post(f"/api/players/{player_id}/changes", json=push, headers=headers), 403)
    assert client.get("/api/players").get_json() == {"players": []}


@pytest.mark.parametrize("content_type", ["text/plain", "application/x-www-form-urlencoded", None])
def test_what_a_form_can_send_is_not_taken(full: House, content_type: str | None) -> None:
    for method, path, body in writes(full.robin.player_id):
        if body is not None:
            client = full.client("Robin")
            problem(client.open(path, method=method, data=str(body), content_type=content_type), 415)


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example", "[::2]", "x:80"])
def test_a_name_that_is_not_ours_is_not_answered(full: House, open_house: Flask, host: str) -> None:
    """A page whose name is pointed at this machine (DNS rebinding) brings its own name."""
    for client in (full.client("Robin"), open_house.test_client()):
        for path in ("/api/players", "/", "/api/me"):
            problem(client.get(path, headers={"Host": host}), 403)


@pytest.mark.parametrize("host", ["pencilbag.example", "PENCILBAG.example:8443", "other.example", "localhost:8000"])
def test_the_names_of_the_setting_are_answered(full: House, open_house: Flask, host: str) -> None:
    asked = full.bearer("Robin", "read_own") | {"Host": host}
    assert full.app.test_client().get("/api/players", headers=asked).status_code == 200
    expected = 200 if host.startswith("localhost") else 403
    assert open_house.test_client().get("/api/players", headers={"Host": host}).status_code == expected


@pytest.mark.parametrize(
    "more",
    [
        {"environ_base": {"REMOTE_ADDR": "192.0.2.7"}},
        {"environ_base": {"REMOTE_ADDR": ""}},
        {"headers": {"X-Forwarded-For": "127.0.0.1"}},
        {"headers": {"Forwarded": "for=127.0.0.1"}},
        {"headers": {"X-Real-IP": "127.0.0.1"}},
        {"headers": {"X-Forwarded-Host": "localhost"}},
    ],
    ids=str,
)
def test_an_open_house_is_open_to_this_machine_only(open_house: Flask, more: dict[str, Any]) -> None:
    """Also behind a proxy that somebody put before it without accounts."""
    for path in ("/api/players", "/", "/api/openapi.json"):
        problem(open_house.test_client().get(path, **more), 403)


@pytest.mark.parametrize("secret", ["", "short"])
def test_accounts_without_a_sound_secret_are_of_this_machine_only(full: House, secret: str) -> None:
    app = create_app({"DATABASE": str(full.engine.url), "HOSTS": HOSTS, "SECRET": secret})
    client = app.test_client()
    assert client.get("/api/me").get_json() == {"open_house": False, "account": None, "storage": []}
    problem(client.get("/api/me", headers={"Host": "pencilbag.example"}), 403)
    problem(client.get("/api/me", environ_base={"REMOTE_ADDR": "192.0.2.7"}), 403)
    app.extensions["pencilbag_engine"].dispose()


@pytest.mark.parametrize(("proxies", "secure"), [(0, False), (1, True)])
def test_forwarded_headers_are_believed_of_as_many_proxies_as_are_set(full: House, proxies: int, secure: bool) -> None:
    app = create_app({"DATABASE": str(full.engine.url), "HOSTS": HOSTS, "SECRET": "s" * 32, "PROXIES": proxies})
    headers = {
        "Host": "pencilbag.example",
        "X-Forwarded-For": "198.51.100.4, 203.0.113.9",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "evil.example",
        "X-Forwarded-Port": "1",
        "X-Forwarded-Prefix": "/evil",
    }
    seen: dict[str, Any] = {}

    @app.after_request
    def look(response: Any) -> Any:
        from flask import request

        seen.update(address=request.remote_addr, secure=request.is_secure, host=request.host, root=request.script_root)
        return response

    assert app.test_client().get("/api/me", headers=headers).status_code == 200
    address = "203.0.113.9" if proxies else "127.0.0.1"
    assert seen == {"address": address, "secure": secure, "host": "pencilbag.example", "root": ""}
    app.extensions["pencilbag_engine"].dispose()
