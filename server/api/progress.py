"""Long answers in parts: how far the work is, then the answer.

Whoever asks with `Accept: application/json-seq` gets a JSON text sequence (RFC 7464): records `{"done": SHARE}` while
the work goes on, and last `{"answer": ...}` as it would have come alone, or `{"problem": ...}` (RFC 9457). What fails
before the first record fails as ever, with its status. When the reader is gone, the work is stopped at its next step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextvars import copy_context
from queue import SimpleQueue
from threading import Event, Thread
from typing import Any, Final

from flask import Response, current_app, json, request, stream_with_context
from marshmallow import Schema

from server.analysis.plan.solve import Progress, StoppedError

JSON_SEQ: Final = "application/json-seq"
RECORD: Final = "\x1e"
STEP: Final = 0.01
"""Progress is sent when it has grown by so much."""

Work = Callable[[Progress | None], Any]


def in_parts(work: Work, schema: type[Schema]) -> Any:
    """What the work returns; in parts for whoever asks so. `work` gets a function that reports the share done, which
    may raise `StoppedError`; it runs in a thread of its own then, and may use neither request nor database connection.
    """
    if JSON_SEQ not in [kind for kind, _ in request.accept_mimetypes]:
        return work(None)
    return _InParts(work).response(schema())


class _InParts:
    """Work that goes on in a thread while its progress is read."""

    def __init__(self, work: Work) -> None:
        self.events: SimpleQueue[tuple[str, Any]] = SimpleQueue()
        self.stopped = Event()
        self.sent = -1.0
        self.thread = Thread(target=copy_context().run, args=(self._run, work), daemon=True)

    def response(self, schema: Schema) -> Any:
        """The answer, in parts from the first progress on."""
        self.thread.start()
        kind, what = self.events.get()
        if kind == "done":
            parts = stream_with_context(self._parts(what, schema))
            return Response(parts, content_type=JSON_SEQ, headers={"X-Accel-Buffering": "no"})
        self.thread.join()
        if kind == "error":
            raise what
        return what

    def _run(self, work: Work) -> None:
        try:
            self.events.put(("answer", work(self._report)))
        except BaseException as error:
            self.events.put(("error", error))

    def _report(self, share: float) -> None:
        if self.stopped.is_set():
            raise StoppedError
        if share - self.sent >= STEP:
            self.sent = share
            self.events.put(("done", round(share, 3)))

    def _parts(self, share: float, schema: Schema) -> Iterator[str]:
        try:
            yield _record({"done": share})
            while True:
                kind, what = self.events.get()
                if kind == "done":
                    yield _record({"done": what})
                    continue
                yield _record({"answer": schema.dump(what)} if kind == "answer" else {"problem": _problem(what)})
                return
        finally:
            self.stopped.set()
            self.thread.join()


def _record(value: Any) -> str:
    return f"{RECORD}{json.dumps(value)}\n"


def _problem(error: Exception) -> Any:
    """What the error would have been answered with."""
    answer = current_app.make_response(current_app.handle_user_exception(error))
    return json.loads(answer.get_data(as_text=True))
