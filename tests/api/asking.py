"""Asking the API: pushes, and problem documents read with their shape checked."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.records.made import Season

STRICT = {"Prefer": "handling=strict"}


def post(client: FlaskClient, player_id: str, changes: list[Any], **more: Any) -> TestResponse:
    """A push of these changes."""
    body = {"device_id": "phone", "changes": changes} | more.pop("body", {})
    return client.post(f"/api/players/{player_id}/changes", json=body, **more)


def stored(client: FlaskClient, season: Season) -> str:
    """Push all of a season, which must be sound; returns the player's address."""
    answer = post(client, season.player_id, season.changes, headers=STRICT)
    assert answer.status_code == 200, answer.text
    return f"/api/players/{season.player_id}"


def problem(answer: TestResponse, status: int) -> dict[str, Any]:
    """The problem document of an error, its shape checked (RFC 9457)."""
    assert answer.status_code == status, answer.text
    assert answer.content_type == "application/problem+json"
    body = answer.get_json()
    assert set(body) <= {"type", "title", "status", "detail", "errors"}
    assert (body["type"], body["title"], body["status"]) == ("about:blank", HTTPStatus(status).phrase, status)
    assert body["detail"]
    for fault in body.get("errors", []):
        assert set(fault) == {"field", "value", "range", "message"}
    return body


def log_of(client: FlaskClient, player_id: str) -> list[str]:
    """The ids of the changes that the log holds; none for a player that it does not know."""
    answer = client.get(f"/api/players/{player_id}/changes?limit=5000")
    return [] if answer.status_code == 404 else [change["change_id"] for change in answer.get_json()["changes"]]
