"""Standards of the answers: ETags and 304, cache and safety headers, the OpenAPI description."""

from __future__ import annotations

import re
from typing import Any
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.api.asking import post, stored
from tests.records.made import Season, body_of, change, default_clubs, par_four


@pytest.fixture
def season() -> Season:
    made = Season(f"Headers {uuid4()}")
    par_four(made, made.round("one"), default_clubs(made))
    return made


def reads(client: FlaskClient, season: Season) -> list[str]:
    """The address of every read that stays the same while nothing changes."""
    address = stored(client, season)
    round_id = client.get(f"{address}/rounds").get_json()["rounds"][0]["round_id"]
    return [
        "/api/players",
        address,
        f"{address}/rounds",
        f"{address}/rounds/{round_id}/scorecard",
        f"{address}/records/{round_id}",
        f"{address}/strokes-gained",
        f"{address}/quarantine",
        "/api/baselines",
        "/api/baselines/tour",
        "/api/openapi.json",
    ]


def test_a_read_has_an_etag_and_answers_304_until_something_changes(client: FlaskClient, season: Season) -> None:
    tags = {}
    for path in reads(client, season):
        first = client.get(path)
        tags[path] = first.headers["ETag"]
        assert re.fullmatch(r'"[0-9a-f]+"', tags[path]), path
        again = client.get(path, headers={"If-None-Match": tags[path]})
        assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tags[path])
        other = client.get(path, headers={"If-None-Match": '"another"'})
        assert (other.status_code, other.data) == (200, first.data)
    renamed = body_of("player", name=f"Renamed {uuid4()}")
    parents = [season.changes[0]["change_id"]]
    post(client, season.player_id, [change("player", renamed, season.player_id, parents=parents)])
    address = f"/api/players/{season.player_id}"
    for path in ("/api/players", address, f"{address}/strokes-gained"):
        assert client.get(path, headers={"If-None-Match": tags[path]}).status_code == 200
    assert client.get(f"{address}/rounds", headers={"If-None-Match": tags[f"{address}/rounds"]}).status_code == 304


def test_every_answer_is_json_that_nobody_guesses_at_or_keeps_unasked(client: FlaskClient, season: Season) -> None:
    for path in [*reads(client, season), f"/api/players/{season.player_id}/changes", "/api/nothing"]:
        answer = client.get(path)
        assert answer.content_type in ("application/json", "application/problem+json")
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"


def test_the_description_is_openapi_3_1_and_lists_every_route(app: Flask, client: FlaskClient) -> None:
    described = client.get("/api/openapi.json").get_json()
    assert re.fullmatch(r"3\.1\.\d+", described["openapi"])
    assert described["info"]["title"] == "Pencilbag"
    routes = {
        re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule): {method.lower() for method in rule.methods or ()}
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/api/") and rule.endpoint.split(".")[0] not in ("api-docs", "nothing_here")
    }
    assert len(routes) > 30
    listed = {path: set(item) - {"parameters"} for path, item in described["paths"].items()}
    assert listed == {path: methods - {"head", "options"} for path, methods in routes.items()}


def references(found: Any) -> list[str]:
    if isinstance(found, dict):
        own = [found["$ref"]] if isinstance(found.get("$ref"), str) else []
        return own + [name for value in found.values() for name in references(value)]
    return [name for value in found for name in references(value)] if isinstance(found, list) else []


def test_the_description_holds_together(client: FlaskClient) -> None:
    described = client.get("/api/openapi.json").get_json()
    names = references(described)
    assert names
    for name in names:
        place: Any = described
        for step in name.removeprefix("#/").split("/"):
            place = place[step]
    for path, item in described["paths"].items():
        for method, operation in item.items():
            if method != "parameters":
                assert operation["summary"], f"{method} {path}"
                assert operation["responses"], f"{method} {path}"


def test_api_alone_leads_to_the_description(client: FlaskClient) -> None:
    answer = client.get("/api")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/api/openapi.json")
