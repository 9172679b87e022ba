"""The application factory: settings, the database, the API, the pages."""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from typing import Any, Final

from flask import Flask, Response, abort, request
from flask.json.provider import DefaultJSONProvider

from server import VERSION
from server.api import baselines, changes, evidence, players
from server.api.bodies import strict_json
from server.api.pages import add_pages
from server.api.problems import ProblemApi
from server.store.engine import BUSY_WAIT_S, USUAL_DATABASE, open_database

LARGEST_REQUEST: Final = 4_000_000
"""Bytes of one request's body."""

LOOPBACK_NAMES: Final = frozenset({"localhost", "127.0.0.1", "[::1]", "::1"})

_SETTINGS: Final[dict[str, Any]] = {
    "DATABASE": USUAL_DATABASE,
    "BUSY_WAIT_S": BUSY_WAIT_S,
    "MAX_CONTENT_LENGTH": LARGEST_REQUEST,
    "API_TITLE": "Pencilbag",
    "API_VERSION": VERSION,
    "OPENAPI_VERSION": "3.1.0",
    "OPENAPI_URL_PREFIX": "/api",
    "OPENAPI_JSON_PATH": "openapi.json",
    "PROPAGATE_EXCEPTIONS": False,
}


class StrictJson(DefaultJSONProvider):
    """JSON as the standard has it: NaN and Infinity are refused, keys keep their order."""

    sort_keys = False

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        return strict_json(s)


def make_app(config: Mapping[str, Any] | None = None) -> Flask:
    """See `server.create_app`."""
    app = Flask("server", static_folder=None)
    app.json = StrictJson(app)
    app.config.update(_SETTINGS)
    app.config.from_prefixed_env("PENCILBAG", loads=str)
    app.config.update(config or {})
    app.extensions["pencilbag_engine"] = open_database(app.config["DATABASE"], float(app.config["BUSY_WAIT_S"]))
    app.before_request(refuse_strangers)
    app.after_request(finish)
    api = ProblemApi(app)
    for blueprint in (changes.blueprint, baselines.blueprint, players.blueprint, evidence.blueprint):
        api.register_blueprint(blueprint)
    add_pages(app)
    return app


def refuse_strangers() -> None:
    """Without accounts the server answers this machine only, by the sender's address and the name it was asked by."""
    try:
        near = ipaddress.ip_address(request.remote_addr or "").is_loopback
    except ValueError:
        near = False
    name = request.host.rsplit(":", 1)[0] if not request.host.endswith("]") else request.host
    if not near or name not in LOOPBACK_NAMES:
        abort(403, "There are no accounts yet, so this server answers 127.0.0.1 and localhost only.")


def finish(response: Response) -> Response:
    """Headers of every answer; an ETag on every read, and 304 when nothing changed."""
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    if request.path.startswith("/api/"):
        response.headers.setdefault("Cache-Control", "no-cache")
        if request.method == "GET" and response.status_code == 200 and not response.is_streamed:
            response.add_etag()
            response.make_conditional(request)
    return response
