"""Forks real servers for the tests of the front end, without importing the application again.

`python -m tests.web.launching` reads a line of JSON for each order. {"environment": {...}, "port": 0, "web": null}
forks a server on 127.0.0.1 with those settings; port 0 takes any free one, `web` is the folder of the front end, for
tests that bring a new version of it. The answer is {"pid": ..., "port": ...}, port null for one that could not start.
{"wait": PID} waits for its end.
"""

from __future__ import annotations

import gc
import json
import os
import shutil
import sys
import tempfile
import traceback
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from uuid import uuid4

from flask import Response, request
from waitress.server import create_server

import server.api.app  # noqa: F401 - imported once, for every server to come
from server import create_app
from server.api import pages
from tests import tiers
from tests.web.write_asset_list import WORKER_FILES, files

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

THREADS = 8
ASKED_FIRST: Final = (
    "/api/players",
    "/api/me",
    "/api/baselines",
    "/api/baselines/tour",
    f"/api/players/{uuid4()}/strokes-gained",
    f"/api/players/{uuid4()}/changes",
)
"""Paths of the API that have every server import and compile what most tests need."""

PACKED: Final = {"Accept-Encoding": "gzip"}
KEPT: Final[dict[str, tuple[str, list[tuple[str, str]], bytes]]] = {}
"""The app's answers for the files of the front end, by path: each phone asks for up to 220 of them."""


class KeptFiles:
    """The app, but for what it has answered already: files of the front end that a browser asks for, packed, without
    naming a version that it holds."""

    def __init__(self, app: WSGIApplication) -> None:
        self.app = app

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        known = KEPT.get(environ["PATH_INFO"]) if environ["REQUEST_METHOD"] == "GET" else None
        if known is None or "gzip" not in environ.get("HTTP_ACCEPT_ENCODING", "") or "HTTP_IF_NONE_MATCH" in environ:
            return self.app(environ, start_response)
        status, headers, body = known
        start_response(status, list(headers))
        return [body]


def warm_up(empty: Path) -> None:
    """Once, before the first server is forked, what each would do again: pack the files of the app, import, compile;
    `empty` becomes a database with the newest tables and no rows."""
    create_app({"DATABASE": f"sqlite:///{empty}"}).extensions["pencilbag_engine"].dispose()
    with tempfile.TemporaryDirectory() as folder:
        asked = Path(shutil.copy(empty, folder))
        app = create_app({"DATABASE": f"sqlite:///{asked}"})
        app.after_request(keep_modules)
        client = app.test_client()
        for path in (*files(), *WORKER_FILES):
            with client.get(path, headers=PACKED) as answer:
                KEPT[path] = answer.status, list(answer.headers), answer.data
        for path in ASKED_FIRST:
            client.get(path, headers=PACKED).close()
        app.extensions["pencilbag_engine"].dispose()
    gc.collect()
    gc.freeze()  # a server looks for garbage in what it makes itself


def keep_modules(response: Response) -> Response:
    """A browser keeps modules and styles for the time of a run: else it asks again for each of them at every reload."""
    if response.status_code == 200 and request.path.startswith(("/js/", "/css/")):
        response.headers["Cache-Control"] = "max-age=3600"
    return response


def serve(wanted: dict[str, Any], empty: Path, answer: int) -> None:
    """The server, in the forked process; its port goes to the file descriptor `answer`. A database that is not there
    yet begins as a copy of `empty`."""
    for name in [name for name in os.environ if name.startswith("PENCILBAG_")]:
        del os.environ[name]
    os.environ.update(wanted["environment"])
    if wanted["web"]:
        pages.WEB = Path(wanted["web"])
    try:
        file = Path(wanted["environment"]["PENCILBAG_DATABASE"].removeprefix("sqlite:///"))
        if not file.exists():
            shutil.copy(empty, file)
        app = create_app()
        if not wanted["web"] and not tiers.LONG:
            app.after_request(keep_modules)
            app.wsgi_app = KeptFiles(app.wsgi_app)  # type: ignore[method-assign]
        made = create_server(app, host="127.0.0.1", port=wanted["port"], threads=THREADS)
        os.write(answer, f"{made.effective_port}\n".encode())
        os.close(answer)
        made.run()
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(0)


def listen(empty: Path) -> None:
    """Take orders until stdin ends."""
    warm_up(empty)
    for line in sys.stdin:
        wanted = json.loads(line)
        if "wait" in wanted:
            os.waitpid(wanted["wait"], 0)
            print("{}", flush=True)
            continue
        heard, told = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(heard)
            serve(wanted, empty, told)
        os.close(told)
        with os.fdopen(heard) as said:
            port = said.readline().strip()
        print(json.dumps({"pid": child, "port": int(port) if port else None}), flush=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="pencilbag-launcher-") as kept:
        listen(Path(kept) / "empty.sqlite")
