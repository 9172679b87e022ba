"""Every error in one shape: problem details (RFC 9457), application/problem+json."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from typing import Any, NoReturn, NotRequired, TypedDict, cast

from flask import Flask, Response, current_app, json, request
from flask_smorest import Api
from marshmallow import Schema
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge, default_exceptions
from werkzeug.http import HTTP_STATUS_CODES

from server.questions.competition_lock import LockedError
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, FaultDocument, InvalidError, faults_in, shown
from server.store.caddie_log import CaddieFullError
from server.store.caddies import CaddieEndedError
from server.store.log import ErasedError
from server.store.quotas import QuotaError
from server.store.unavailable import FullError, UnavailableError, UnreachableError

LOG = logging.getLogger("pencilbag")

PROBLEM = "application/problem+json"

RETRY_AFTER_S = 5
"""Seconds that a client is asked to wait for a busy database; a full disk takes somebody longer to clear."""

RETRY_WHEN_FULL_S = 60

LONGEST_DETAIL = 4000
"""Characters; `errors` lists the faults."""


class Problem(TypedDict):
    """Problem details, RFC 9457, with `errors` naming field, value and range."""

    type: str
    title: str
    status: int
    detail: NotRequired[str]
    errors: NotRequired[list[FaultDocument]]


def problem_body(status: int, detail: str, faults: Sequence[Fault] = (), type_: str = "about:blank") -> Problem:
    """The members of a problem document."""
    body: Problem = {"type": type_, "title": HTTP_STATUS_CODES.get(status, "Error"), "status": status}
    body["detail"] = detail if len(detail) <= LONGEST_DETAIL else f"{detail[:LONGEST_DETAIL]}..."
    if faults:
        body["errors"] = [fault.as_dict() for fault in faults]
    return body


def problem(
    status: int, detail: str, faults: Sequence[Fault] = (), headers: Mapping[str, str] | None = None
) -> Response:
    """An answer that is a problem document."""
    text = json.dumps(problem_body(status, detail, faults))
    return Response(text, status, headers, content_type=PROBLEM)


def stop(status: int, detail: str, headers: Mapping[str, str]) -> NoReturn:
    """End the request with an error that needs headers of its own."""
    error = default_exceptions[status](detail)
    error.data = {"headers": headers}  # type: ignore[attr-defined]
    raise error


class ProblemApi(Api):  # type: ignore[misc]
    """flask-smorest, with its errors as problem documents."""

    ERROR_SCHEMA = schema_of(Problem)

    def _register_error_handlers(self) -> None:
        app: Flask = self._app
        app.register_error_handler(HTTPException, self.handle_http_exception)
        app.register_error_handler(InvalidError, _invalid)
        app.register_error_handler(ErasedError, _erased)
        app.register_error_handler(QuotaError, _no_room)
        app.register_error_handler(CaddieEndedError, _ended)
        app.register_error_handler(CaddieFullError, _too_much)
        app.register_error_handler(LockedError, _locked)
        app.register_error_handler(UnavailableError, _unavailable)
        app.register_error_handler(Exception, _unexpected)

    def _openapi_json(self) -> Response:
        """The description, with every error as the problem document that it is."""
        described = self.spec.to_dict()
        found = [("default", answer) for answer in described["components"].get("responses", {}).values()]
        for methods in described["paths"].values():
            for operation in methods.values():
                found += operation["responses"].items() if isinstance(operation, dict) else ()
        for status, answer in found:
            if (status == "default" or status >= "400") and "$ref" not in answer:
                answer["content"] = {PROBLEM: {"schema": {"$ref": "#/components/schemas/Problem"}}}
        return cast(Response, current_app.json.response(described))

    def handle_http_exception(self, error: HTTPException) -> Response:
        """A problem document of any HTTP error; what a schema refused is listed in `errors`."""
        status = error.code or 500
        headers = dict(getattr(error, "data", {}).get("headers") or {})
        if status == 405 and getattr(error, "valid_methods", None):
            headers["Allow"] = ", ".join(sorted(error.valid_methods))  # type: ignore[attr-defined]
        data = getattr(error, "data", {})
        messages = data.get("messages")
        if status == 422 and isinstance(messages, dict):
            faults = _schema_faults(messages, data.get("schema"))
            return problem(status, "; ".join(str(fault) for fault in faults), faults, headers)
        detail = data.get("message") or error.description or ""
        if status == 404 and request.routing_exception is not None:
            detail = f"There is nothing at {shown(request.path)}. Ids in an address are UUIDs, years have four digits."
        if isinstance(error, RequestEntityTooLarge):
            detail = f"A request may have up to {current_app.config['MAX_CONTENT_LENGTH']} bytes; send fewer changes."
        return problem(status, detail, (), headers)


def _schema_faults(messages: dict[str, Any], schema: Schema | None) -> list[Fault]:
    raw = {"json": request.get_json(silent=True), "query": request.args.to_dict(), "json_or_form": None}
    found: list[Fault] = []
    for place, inside in messages.items():
        below = inside if isinstance(inside, dict) else {"body": inside}
        found += faults_in(below, schema, raw.get(place))
    return found


def _invalid(error: InvalidError) -> Response:
    return problem(422, str(error), error.faults)


def _unavailable(error: UnavailableError) -> Response:
    """503 with Retry-After, whatever the database lacks: nothing is wrong with the request, so the client keeps it."""
    LOG.warning("%s %s: %s (%s)", request.method, request.path, error, error.__cause__)
    if isinstance(error, UnreachableError):
        detail = f"Now {error}. Keep what you sent and send it again later: what was stored already is stored once."
    else:
        detail = f"Now {error}. Nothing of this request was stored; keep it and send it again later."
    wait = RETRY_WHEN_FULL_S if isinstance(error, FullError) else RETRY_AFTER_S
    return problem(503, detail, (), {"Retry-After": str(wait)})


def _erased(error: ErasedError) -> Response:
    return problem(410, "This player was erased: nothing of it is stored here, and nothing more is accepted.")


def _no_room(error: QuotaError) -> Response:
    """507 (RFC 4918, 11.5): what was sent is sound, and stays where it was made until there is room."""
    detail = f"The log of this player is full. {error}. Nothing of this request was stored; keep it."
    return problem(507, detail, [error.fault])


def _ended(error: CaddieEndedError) -> Response:
    return problem(403, str(error))


def _too_much(error: CaddieFullError) -> Response:
    detail = f"{error}. Nothing of this request was stored; what you entered stays on your phone."
    return problem(507, detail, [error.fault])


def _locked(error: LockedError) -> Response:
    return problem(423, str(error))


def _unexpected(error: Exception) -> Response:
    if current_app.testing:
        raise error
    LOG.exception("unexpected error on %s %s", request.method, request.path)
    return problem(500, "Unexpected server error; nothing of this request was stored.")
