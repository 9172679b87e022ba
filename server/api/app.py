"""The application factory: settings, the database, the API, the pages."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, Final

from flask import Flask, Response, request
from flask.json.provider import DefaultJSONProvider
from werkzeug.middleware.proxy_fix import ProxyFix

from server import VERSION
from server.api import (
    accounts,
    baselines,
    caddies,
    caddying,
    changes,
    course_bags,
    evidence,
    importing,
    invitations,
    operation,
    others,
    own_data,
    players,
    practice,
    priorities,
    putting,
    rounds_ahead,
    season,
    sharing,
    signing_in,
    squad,
    tee_plans,
)
from server.api.attempts import add_limits
from server.api.authorization import COOKIE, authorize
from server.api.bodies import strict_json
from server.api.heavy import add_heavy, start_workers
from server.api.operation import add_access_log
from server.api.operation_ids import OperationIds
from server.api.pages import NO_CONTENT, add_pages
from server.api.problems import ProblemApi
from server.operation.metrics import Metrics
from server.operation.settings import PREFIX, SETTINGS, environment, number
from server.operation.shared import Shared
from server.records.fields import DESCRIBED
from server.store.engine import open_database
from server.store.quotas import quotas_from, set_quotas

LARGEST_REQUEST: Final = 4_000_000
"""Bytes of one request's body."""

_SETTINGS: Final[dict[str, Any]] = {
    "MAX_CONTENT_LENGTH": LARGEST_REQUEST,
    "API_TITLE": "Pencilbag",
    "API_VERSION": VERSION,
    "OPENAPI_VERSION": "3.1.0",
    "API_SPEC_OPTIONS": {
        "security": [{"token": []}, {"session": []}, {}],
        "components": {
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer"},
                "session": {"type": "apiKey", "in": "cookie", "name": COOKIE},
            }
        },
    },
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
    app.config.update({name: SETTINGS[name].default for name in SETTINGS} | {"WORKERS": 0})
    app.config.update(environment() | dict(config or {}))
    app.extensions["pencilbag_engine"] = open_database(
        app.config["DATABASE"], number("BUSY_WAIT_S", app.config["BUSY_WAIT_S"])
    )
    quotas = quotas_from({f"{PREFIX}{name}": app.config[name] for name in ("LOG_BYTES", "QUARANTINE_BYTES")})
    set_quotas(app.extensions["pencilbag_engine"], quotas)
    if proxies := int(number("PROXIES", app.config["PROXIES"])):
        # Host is the proxy's to pass on; of the forwarding headers only those that it must set are believed.
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=proxies, x_proto=proxies, x_host=0)  # type: ignore[method-assign]
    app.extensions["pencilbag_metrics"] = Metrics(app.extensions["pencilbag_engine"])
    if app.config["SHARED"]:
        app.extensions["pencilbag_shared"] = Shared(app.config["SHARED"])
    add_access_log(app)
    app.before_request(authorize)
    add_heavy(app)
    app.after_request(finish)
    api = ProblemApi(app, spec_kwargs={"extra_plugins": [OperationIds()]})
    for field, type_, format_ in DESCRIBED:
        api.register_field(field, type_, format_)
    shots = (
        changes,
        baselines,
        players,
        practice,
        evidence,
        putting,
        priorities,
        tee_plans,
        course_bags,
        rounds_ahead,
        season,
        squad,
        others,
    )
    for module in (
        *shots,
        importing,
        signing_in,
        accounts,
        sharing,
        invitations,
        caddies,
        caddying,
        own_data,
        operation,
    ):
        api.register_blueprint(module.blueprint)
    add_limits(app)
    add_pages(app)
    if workers := int(number("WORKERS", app.config["WORKERS"])):
        start_workers(app, workers)
    return app


def finish(response: Response) -> Response:
    """Headers of every answer; an ETag on every read, and 304 when nothing changed."""
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers.setdefault("Content-Security-Policy", NO_CONTENT)
    if response.status_code == HTTPStatus.NO_CONTENT:
        del response.headers["Content-Type"]
    if request.path.startswith("/api/"):
        # No browser keeps what one person may read for the next; scripts still save work by the ETag.
        response.headers.setdefault("Cache-Control", "no-store")
        response.vary.update(("Cookie", "Authorization"))
        if request.method == "GET" and response.status_code == 200 and not response.is_streamed:
            response.add_etag()
            response.make_conditional(request)
    return response
