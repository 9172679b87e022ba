"""What an operator or a load balancer asks: is it alive, is it ready, what has been counted; and the access line."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from typing import Annotated, Any, Final, TypedDict
from uuid import uuid4

from flask import Flask, Response, abort, current_app, g, request
from flask.views import MethodView
from flask_smorest import Blueprint

from server import VERSION
from server.api.authorization import caller, from_this_machine
from server.api.database import engine, metrics
from server.operation.logs import ACCESS
from server.operation.metrics import CONTENT_TYPE
from server.records.typed_schemas import schema_of
from server.store.credentials import READ_METRICS, SCOPES_OF
from server.store.health import table_steps

blueprint = Blueprint("operation", "operation", url_prefix="/api", description="Health and metrics")

REQUEST_ID: Final = re.compile(r"[A-Za-z0-9._-]{8,64}")
"""What a proxy may send as X-Request-Id; anything else is replaced."""


class Alive(TypedDict):
    """That the process answers."""

    status: Annotated[str, "alive"]
    version: str


class AbleToWork(TypedDict):
    """That it can work: the database answers and its tables are of the newest step."""

    status: Annotated[str, "ready"]
    tables: Annotated[str, "the step that they are of"]


@blueprint.route("/health")
class Health(MethodView):
    """Alive."""

    @blueprint.response(200, schema_of(Alive))
    def get(self) -> Any:
        """The process answers; the database is not asked."""
        return {"status": "alive", "version": VERSION}


@blueprint.route("/ready")
class Ready(MethodView):
    """Ready."""

    @blueprint.response(200, schema_of(AbleToWork))
    @blueprint.alt_response(503, description="The database does not answer, or its tables are of another step")
    def get(self) -> Any:
        """The database answers and its tables are up to date."""
        steps = table_steps(engine())
        if not steps.up_to_date:
            abort(503, f"The tables are at step {steps.current}, this program needs {steps.newest}.")
        return {"status": "ready", "tables": steps.newest}


@blueprint.route("/metrics")
class Metrics(MethodView):
    """Counters."""

    @blueprint.response(200, {"type": "string"}, content_type="text/plain")
    @blueprint.alt_response(403, description="Asked from another machine without a token for it")
    def get(self) -> Any:
        """Counters and times in the text format of Prometheus: for this machine, or with a token of the scope
        read_metrics."""
        if not from_this_machine() and not _may_read_metrics():
            abort(403, "Metrics are for this machine, or for an owner's token with the scope read_metrics.")
        return Response(metrics().text(), content_type=CONTENT_TYPE)


def _may_read_metrics() -> bool:
    who = caller().signed_in
    return who is not None and READ_METRICS in who.scopes and READ_METRICS in SCOPES_OF[who.account.role]


def add_access_log(app: Flask) -> None:
    """Give every request an id, count and log its answer when its last byte was handed over."""
    app.before_request(_begin)
    app.after_request(_log_answer)


def _begin() -> None:
    g.began = time.perf_counter()
    sent = request.headers.get("X-Request-Id", "")
    g.request_id = sent if REQUEST_ID.fullmatch(sent) else uuid4().hex


def _log_answer(response: Response) -> Response:
    began, request_id = g.get("began", time.perf_counter()), g.get("request_id", uuid4().hex)
    response.headers["X-Request-Id"] = request_id
    who = g.get("caller")
    account = who.signed_in.account.account_id if who is not None and who.signed_in is not None else "-"
    route = request.url_rule.rule if request.url_rule is not None else "-"
    method, counted = request.method, current_app.extensions["pencilbag_metrics"]

    sent = _counting(response)
    # not asked of the response at the end: one that holds itself keeps its connection when nobody closes it
    status = response.status_code

    def done() -> None:
        seconds = time.perf_counter() - began
        counted.answered(method, route, status, seconds)
        fields_ = {
            "request_id": request_id,
            "caller": account,
            "method": method,
            "route": route,
            "status": status,
            "ms": round(1000 * seconds, 1),
            "bytes": sent(),
        }
        ACCESS.info("request", extra=fields_)

    if response.direct_passthrough:
        done()  # a file goes to the server as it is, which closes it without asking here; its length is known
    else:
        response.call_on_close(done)
    return response


def _counting(response: Response) -> Callable[[], int]:
    """How many bytes of the body were handed over, to be asked at the end; a stream is counted as it passes."""
    if response.direct_passthrough or not response.is_streamed:
        return lambda: response.content_length or 0
    inner, total = response.response, 0

    def chunks() -> Iterator[Any]:
        nonlocal total
        for chunk in inner:
            total += len(chunk)
            yield chunk

    response.response = chunks()
    close = getattr(inner, "close", None)
    if close is not None:
        response.call_on_close(close)
    return lambda: total
