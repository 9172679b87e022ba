"""Forks real servers for the tests of the front end, without importing the application again.

`python -m tests.web.launching` reads a line of JSON for each order. {"environment": {...}, "port": 0, "web": null,
"keep": false} forks a server on 127.0.0.1 with those settings; port 0 takes any free one, `web` is the folder of the
front end, for tests that bring a new version of it, `keep` whether what was answered in this run is answered so again
(`KeptAnswers`). The answer is {"pid": ..., "port": ...}, port null for one that could not start. {"python": [...],
"environment": {...}, "out": PATH, "err": PATH, "weak": false} forks `python -m server ...` or `python -c CODE ...` with
that environment alone, which prints to those files, `weak` without root's power to write whatever a mode forbids; the
answer is {"pid": ...}. {"wait": PID} waits for its end: {"code": ...}.
"""

from __future__ import annotations

import ctypes
import gc
import hashlib
import json
import multiprocessing
import os
import pickle
import re
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
from server.__main__ import main
from server.api import pages
from tests import kept_description, tiers
from tests.made_once import made_once
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


OF_ONE_PLAYER: Final = re.compile(
    r"/api/players/(?P<player>[0-9a-f-]{36})/(compared|course-bag|distances|level|part-swings|patterns|plans|priorities"
    r"|putting|round-ahead|scores|shapes|strikes|strokes-gained|tee-plan|trial)"
)
"""Questions that the rounds of one player alone answer."""
OF_ALL: Final = re.compile(r"/api/squad(/holes|/ranks)?|/api/players/[0-9a-f-]{36}/(against|holes|pair)")
"""Questions that the rounds of every player answer."""


class KeptAnswers:
    """The app of the demo season or of the squad, but for what a server with it has answered in this run: a question
    whose answer is one player's rounds alone is worked out once for each reader, until something of that player is
    changed here; one of every player's rounds until anything is changed."""

    def __init__(self, app: WSGIApplication) -> None:
        self.app = app
        self.folder = made_once("answers", lambda _: None)
        self.changed: set[str] = set()

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        path = environ["PATH_INFO"]
        if environ["REQUEST_METHOD"] not in ("GET", "HEAD"):
            self.changed.update(PLAYER.findall(path))
            return self.app(environ, start_response)
        # an answer that looks ahead comes in parts, which are to be seen
        in_parts = "ahead=" in environ.get("QUERY_STRING", "") or "HTTP_PREFER" in environ
        by_token = "HTTP_AUTHORIZATION" in environ
        if environ["REQUEST_METHOD"] == "HEAD" or not self.stays(path) or in_parts or by_token:
            return self.app(environ, start_response)
        reader = environ.get("HTTP_COOKIE", "")
        wanted = environ.get("HTTP_ACCEPT", "").replace("*/*", "")  # a browser says that it takes anything
        query = "&".join(sorted(environ.get("QUERY_STRING", "").split("&")))
        question = f"{reader} {wanted} {path}?{query}"
        file = self.folder / hashlib.sha256(question.encode()).hexdigest()
        if file.exists():
            headers, body = pickle.loads(file.read_bytes())
            if environ.get("HTTP_IF_NONE_MATCH") == dict(headers).get("ETag", ""):
                start_response("304 Not Modified", [pair for pair in headers if pair[0] not in OF_A_BODY])
                return []
            start_response("200 OK", headers)
            return [body]
        answer = Response.from_app(self.app, environ, buffered=True)
        if answer.status_code == 200 and self.stays(path):
            being_written = file.with_name(str(uuid4()))
            being_written.write_bytes(pickle.dumps((list(answer.headers), answer.get_data())))
            being_written.rename(file)
        return answer(environ, start_response)

    def stays(self, path: str) -> bool:
        """Whether nothing that answers this question was changed here."""
        asked = OF_ONE_PLAYER.fullmatch(path)
        if asked is None:
            return OF_ALL.fullmatch(path) is not None and not self.changed
        return asked["player"] not in self.changed


PLAYER: Final = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}")
OF_A_BODY: Final = ("Content-Type", "Content-Length")


def warm_up(empty: Path) -> None:
    """Once, before the first server is forked, what each would do again: pack the files of the app, import, compile;
    `empty` becomes a database with the newest tables and no rows."""
    if not tiers.LONG:
        kept_description.use()
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
        if wanted.get("keep") and not tiers.LONG:
            app.wsgi_app = KeptAnswers(app.wsgi_app)  # type: ignore[method-assign]
        made = create_server(app, host="127.0.0.1", port=wanted["port"], threads=THREADS)
        os.write(answer, f"{made.effective_port}\n".encode())
        os.close(answer)
        made.run()
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(0)


CAPABILITIES: Final = 0x20080522
"""The version of the structures of capget(2) that is current since Linux 2.6.26: two words each."""
WRITES_ANYTHING: Final = 0b110
"""CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH."""


def be_weak() -> None:
    """From now on this process heeds the modes of files, even as root."""
    system = ctypes.CDLL(None, use_errno=True)
    about = (ctypes.c_uint32 * 2)(CAPABILITIES, 0)
    held = (ctypes.c_uint32 * 6)()  # effective, permitted, inheritable, twice
    for call in (system.capget, system.capset):
        if call(about, held):
            raise OSError(ctypes.get_errno(), "the capabilities cannot be told or given up")
        held[0] &= ~WRITES_ANYTHING
        held[1] &= ~WRITES_ANYTHING


def command(wanted: dict[str, Any]) -> None:
    """The command, in the forked process. Workers that it starts are forked as well, while it has no threads yet."""
    os.environ.clear()
    os.environ.update(wanted["environment"])
    code: Any = 1
    try:
        if wanted["weak"]:
            be_weak()
        for descriptor, path in ((0, os.devnull), (1, wanted["out"]), (2, wanted["err"])):
            opened = os.open(path, os.O_WRONLY | os.O_CREAT if descriptor else os.O_RDONLY)
            os.dup2(opened, descriptor)
            os.close(opened)
        multiprocessing.get_context = lambda _=None: multiprocessing.context.ForkContext()
        how, what, *more = wanted["python"]
        if how == "-c":
            sys.argv = [how, *more]
            exec(compile(what, "<string>", "exec"), {"__name__": "__main__"})
        else:
            main(more, prog_name="python -m server")
        code = 0
    except SystemExit as ended:
        code = ended.code
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code if isinstance(code, int) else 0 if code is None else 1)


def listen(empty: Path) -> None:
    """Take orders until stdin ends."""
    warm_up(empty)
    for line in sys.stdin:
        wanted = json.loads(line)
        if "wait" in wanted:
            status = os.waitpid(wanted["wait"], 0)[1]
            print(json.dumps({"code": os.waitstatus_to_exitcode(status)}), flush=True)
            continue
        if "python" in wanted:
            child = os.fork()
            if child == 0:
                command(wanted)
            print(json.dumps({"pid": child}), flush=True)
            continue
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read_end)
            serve(wanted, empty, write_end)
        os.close(write_end)
        with os.fdopen(read_end) as answer:
            port = answer.readline().strip()
        print(json.dumps({"pid": child, "port": int(port) if port else None}), flush=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="pencilbag-launcher-") as kept:
        listen(Path(kept) / "empty.sqlite")
