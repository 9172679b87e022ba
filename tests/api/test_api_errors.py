"""Every error is a problem document, whatever went wrong, and who is not signed in gets no further than that."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server.api.app import LARGEST_REQUEST
from tests.api.asking import log_of, post, problem, stored
from tests.records.made import Season, change, named

ID = named("nobody at all")


@pytest.mark.parametrize(
    "path",
    [
        "/api/nothing",
        "/api/players/7",
        "/api/players/" + ID,
        f"/api/players/{ID}/changes",
        f"/api/players/{ID}/rounds",
        f"/api/players/{ID}/strokes-gained",
        f"/api/players/{ID}/rounds/{ID}/scorecard",
        f"/api/players/{ID}/records/{ID}",
        f"/api/players/{ID}/rounds/7/scorecard",
        "/api/baselines/nothing",
        "/nothing.html",
        "/../server/__init__.py",
        "/%2e%2e/server/__init__.py",
    ],
)
def test_404(client: FlaskClient, path: str) -> None:
    problem(client.get(path), 404)


def test_404_of_a_round_of_another_player(client: FlaskClient) -> None:
    one, two = Season("Round one"), Season("Round two")
    round_id = one.round("one")
    for season in (one, two):
        stored(client, season)
    problem(client.get(f"/api/players/{two.player_id}/rounds/{round_id}/scorecard"), 404)


@pytest.mark.parametrize(
    ("method", "path", "allowed"),
    [
        ("DELETE", "/api/players", "GET"),
        ("POST", "/api/baselines", "GET"),
        ("PUT", f"/api/players/{ID}", "GET"),
        ("PATCH", f"/api/players/{ID}/changes", "GET, POST"),
        ("POST", f"/api/players/{ID}/strokes-gained", "GET"),
    ],
)
def test_405_names_what_is_allowed(client: FlaskClient, method: str, path: str, allowed: str) -> None:
    answer = client.open(path, method=method)
    problem(answer, 405)
    named_methods = set(answer.headers["Allow"].split(", "))
    assert set(allowed.split(", ")) == named_methods - {"HEAD", "OPTIONS"}


@pytest.mark.parametrize(
    "content_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", None]
)
def test_415_a_body_must_say_that_it_is_json(client: FlaskClient, content_type: str | None) -> None:
    """A page of another site can send these kinds without asking first; JSON it cannot."""
    season = Season("Kinds")
    text = json.dumps({"device_id": "phone", "changes": season.changes})
    answer = client.post(f"/api/players/{season.player_id}/changes", data=text, content_type=content_type)
    assert "application/json" in problem(answer, 415)["detail"]
    assert log_of(client, season.player_id) == []


def nested(levels: int) -> str:
    """A push whose one change has a body nested so deep."""
    raw = change("club", {"label": "x", "sort": "iron", "deep": "HERE"})
    text = json.dumps({"device_id": "phone", "changes": [raw]})
    return text.replace('"HERE"', "[" * levels + "]" * levels)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"not JSON",
        b"<html><body>Sign in to the network</body></html>",
        b'{"device_id": "phone", "changes": [NaN]}',
        b'{"device_id": "phone", "changes": [Infinity]}',
        b'{"device_id": "phone", "changes": [1e999]}',
        b'{"device_id": "phone", "changes": []} {}',
        b'{"device_id": "\xff", "changes": []}',
        b'{"device_id": "phone", "changes": [' + b"9" * 5000 + b"]}",
        *(nested(levels).encode() for levels in (101, 500, 900, 960, 975, 985, 1000, 100_000)),
        b"[" * 100_000,
    ],
    ids=lambda body: f"{body[:40]!r} of {len(body)}",
)
def test_400_what_is_not_json_or_nests_too_deep(client: FlaskClient, body: bytes) -> None:
    player_id = str(uuid4())
    answer = client.post(f"/api/players/{player_id}/changes", data=body, content_type="application/json")
    assert problem(answer, 400)["detail"].startswith("The body is not valid JSON")
    assert log_of(client, player_id) == []


def test_reasonable_nesting_is_taken_and_given_back(client: FlaskClient) -> None:
    player_id = str(uuid4())
    answer = client.post(f"/api/players/{player_id}/changes", data=nested(90), content_type="application/json")
    assert answer.get_json()["quarantined"] == []
    (found,) = client.get(f"/api/players/{player_id}/changes").get_json()["changes"]
    assert str(found["body"]["deep"]) == "[" * 90 + "]" * 90


@pytest.mark.parametrize("body", ["[]", "5", '"x"', "null", "true"])
def test_422_json_that_is_no_object(client: FlaskClient, body: str) -> None:
    answer = client.post(f"/api/players/{ID}/changes", data=body, content_type="application/json")
    problem(answer, 422)


def test_413_states_the_limit(client: FlaskClient) -> None:
    season = Season("Too large")
    text = json.dumps({"device_id": "phone", "changes": season.changes})
    padded = text + " " * (LARGEST_REQUEST - len(text))
    path = f"/api/players/{season.player_id}/changes"
    found = problem(client.post(path, data=padded + " ", content_type="application/json"), 413)
    assert "4000000 bytes" in found["detail"]
    assert log_of(client, season.player_id) == []
    assert client.post(path, data=padded, content_type="application/json").status_code == 200


def test_500_tells_nothing_of_the_inside(client: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: Any) -> None:
    def broken(_connection: Any) -> Any:
        raise RuntimeError("the secret inside")

    monkeypatch.setattr("server.api.players.players", broken)
    answer = client.get("/api/players")
    problem(answer, 500)
    assert "secret" not in answer.text
    assert "the secret inside" in caplog.text


def test_500_in_a_push_stores_nothing(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    season = Season("Broken")
    with monkeypatch.context() as patched:
        patched.setattr("server.store.log.rederive", lambda *_: 1 / 0)
        problem(post(client, season.player_id, season.changes), 500)
    assert log_of(client, season.player_id) == []
    stored(client, season)
    assert len(log_of(client, season.player_id)) == 1


FOREIGN = ["192.0.2.1", "10.0.0.5", "0.0.0.0", "::", "2001:db8::1", "not an address", ""]


@pytest.mark.parametrize("sender", FOREIGN)
@pytest.mark.parametrize("path", ["/api/players", "/", "/api/openapi.json", "/api/nothing"])
def test_403_for_senders_from_elsewhere(client: FlaskClient, sender: str, path: str) -> None:
    answer = client.get(path, environ_base={"REMOTE_ADDR": sender}, headers={"X-Forwarded-For": "127.0.0.1"})
    assert "only 127.0.0.1 and localhost" in problem(answer, 403)["detail"]


@pytest.mark.parametrize(
    "name",
    [
        "pencilbag.example",
        "pencilbag.example:8000",
        "127.0.0.1.example",
        "localhost.example",
        "192.0.2.1:8000",
        "10.0.0.5",
    ],
)
def test_403_when_asked_by_another_name(client: FlaskClient, name: str) -> None:
    """A page of another site whose name was pointed at 127.0.0.1 asks by its own name."""
    season = Season("Foreign name")
    problem(client.get("/api/players", headers={"Host": name}), 403)
    problem(post(client, season.player_id, season.changes, headers={"Host": name}), 403)
    assert log_of(client, season.player_id) == []


@pytest.mark.parametrize(
    ("sender", "name"),
    [
        ("127.0.0.1", "127.0.0.1:8000"),
        ("127.0.0.2", "localhost"),
        ("::1", "[::1]:8000"),
        ("::1", "[::1]"),
        ("127.0.0.1", "localhost:65535"),
    ],
)
def test_this_machine_is_answered(client: FlaskClient, sender: str, name: str) -> None:
    answer = client.get("/api/players", environ_base={"REMOTE_ADDR": sender}, headers={"Host": name})
    assert answer.status_code == 200


def test_no_cross_origin_reading_is_ever_granted(app: Flask) -> None:
    answer = app.test_client().options(f"/api/players/{ID}/changes", headers={"Origin": "https://pencilbag.example"})
    assert not [name for name, _ in answer.headers if name.lower().startswith("access-control")]
