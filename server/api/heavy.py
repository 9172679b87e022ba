"""What takes long is answered by worker processes, so that no phone waits for it."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping
from typing import Any, Final

from flask import Flask, Response, current_app, g, request

from server.api.attempts import address
from server.api.database import metrics, shared_store
from server.api.problems import problem
from server.operation.logs import ACCESS, configure
from server.operation.metrics import Metrics
from server.operation.settings import text
from server.operation.shared import MOST_AT_ONCE
from server.operation.workers import Answered, OverloadedError, WorkerDiedError, Workers

LOG = logging.getLogger("pencilbag")

HEAVY: Final = frozenset(
    {
        "course_bags.CourseBag",
        "evidence.Level",
        "evidence.Scores",
        "evidence.StrokesGained",
        "evidence.TrialOfTwo",
        "evidence.TwoSpans",
        "importing.Import",
        "importing.ImportPractice",
        "others.Against",
        "others.Pair",
        "others.PlayerHoles",
        "others.Ranks",
        "others.SquadHoles",
        "own_data.Erasure",
        "own_data.Everything",
        "plans.Distances",
        "plans.HoleMaps",
        "plans.Patterns",
        "plans.Strikes",
        "plans.TeePlan",
        "practice.AgainstCourse",
        "practice.Targets",
        "priorities.Priorities",
        "putting.PartSwings",
        "putting.Putting",
        "rounds_ahead.RoundAhead",
        "rounds_ahead.RoundsChecked",
        "season.SeasonPackage",
        "season.SeasonTable",
        "squad.Squad",
    }
)
"""Endpoints whose work grows with a season, a table or a map."""

RETRY_AFTER_S: Final = 5
LOOKED_UP: Final = "Pencilbag-Looked-Up"
"""The header by which a worker tells what it looked up in its caches; it is counted and taken off."""


class WorkersResponse(Response):
    """An answer that is sent as it comes from a worker."""

    automatically_set_content_length = False
    implicit_sequence_conversion = False


class WorkerMetrics(Metrics):
    """Metrics of a worker: its look-ups are reported with each answer, and counted where the metrics are read."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self.reported: list[str] = []

    def looked_up(self, cache: str, hit: bool) -> None:
        """Note one look-up."""
        self.reported.append(f"{cache}={int(hit)}")


def add_heavy(app: Flask) -> None:
    """Have heavy requests answered elsewhere, where the application has workers."""
    app.before_request(_answered_elsewhere)
    app.teardown_request(_done)


def _done(_error: BaseException | None) -> None:
    """The one who asked may ask for another; what is still being sent lies with its worker."""
    done = g.pop("heavy_done", None)
    if done is not None:
        done()


def start_workers(app: Flask, count: int) -> None:
    """Worker processes for this application, which asks them from now on. They end with this process, or when
    `pencilbag_workers` of its extensions is closed."""
    # What was read from the environment is there for the workers too; what the caller gave is not.
    config = {name: app.config[name] for name in ("DATABASE", "BUSY_WAIT_S", "SECRET", "HOSTS", "SHARED")}
    quotas = {name: app.config[name] for name in ("LOG_BYTES", "QUARANTINE_BYTES")}
    app.extensions["pencilbag_workers"] = Workers(make_worker, config | quotas, count)


def make_worker(config: Mapping[str, Any]) -> Flask:
    """The application of a worker. The serving process has looked at proxies and limits, and writes the access log."""
    from server.api.app import make_app  # noqa: PLC0415

    configure(text("LOG"), text("LOG_LEVEL"))
    ACCESS.disabled = True
    app = make_app({**config, "PROXIES": 0, "WORKERS": 0})
    reported = WorkerMetrics(app.extensions["pencilbag_engine"])
    app.extensions["pencilbag_metrics"] = reported

    def tell(response: Response) -> Response:
        response.headers[LOOKED_UP] = ",".join(reported.reported)
        reported.reported.clear()
        return response

    app.after_request(tell)
    return app


def _answered_elsewhere() -> Response | None:
    workers: Workers | None = current_app.extensions.get("pencilbag_workers")
    if workers is None or request.endpoint not in HEAVY or request.method == "OPTIONS":
        return None
    shared = shared_store()
    token = shared.begin(address()) if shared else ""
    if token is None:
        words = f"Your address has {MOST_AT_ONCE} summaries, plans, tables or imports in work; ask again soon."
        return problem(429, words, (), {"Retry-After": str(RETRY_AFTER_S)})
    if shared and token:
        whose = address()
        g.heavy_done = lambda: shared.end(whose, token)
    environ = {**request.environ, "HTTP_X_REQUEST_ID": g.request_id}
    try:
        answered = workers.answer(environ, request.get_data())
    except OverloadedError:
        words = "Too many summaries, plans, tables or imports at once. Nothing was stored; try again."
        return problem(503, words, (), {"Retry-After": str(RETRY_AFTER_S)})
    except WorkerDiedError:
        LOG.exception("a worker ended on %s %s", request.method, request.path)
        return problem(500, "Unexpected server error; nothing of this request was stored.")
    return _as_response(answered)


def _as_response(answered: Answered) -> Response:
    headers = []
    for name, value in answered.headers:
        if name == LOOKED_UP:
            _count(value)
        else:
            headers.append((name, value))
    names = {name.lower() for name, _ in headers}
    if "content-length" in names or answered.status[:3] in ("204", "304"):
        # It is complete and in memory: its worker is free before the reader begins.
        return Response(b"".join(answered.pieces), answered.status, headers)
    response = WorkersResponse(_begun(answered.pieces), answered.status, headers)
    response.call_on_close(answered.pieces.close)  # type: ignore[attr-defined]
    return response


def _begun(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The same pieces, the first one taken at once: until it is, closing would not reach the worker."""
    first = next(pieces, b"")

    def all_of_them() -> Iterator[bytes]:
        yield first
        yield from pieces

    return all_of_them()


def _count(reported: str) -> None:
    for one in filter(None, reported.split(",")):
        cache, _, hit = one.partition("=")
        metrics().looked_up(cache, hit == "1")
