"""Forks real servers for the tests of the front end, without importing the application again.

`python -m tests.web.launching` reads a line of JSON for each order. {"environment": {...}, "port": 0, "web": null}
forks a server on 127.0.0.1 with those settings; port 0 takes any free one, `web` is the folder of the front end, for
tests that bring a new version of it. The answer is {"pid": ..., "port": ...}, port null for one that could not start.
{"wait": PID} waits for its end.
"""

from __future__ import annotations

import json
import os
import sys
import traceback
from pathlib import Path
from typing import Any

from flask import Response, request
from waitress.server import create_server

import server.api.app  # noqa: F401 - imported once, for every server to come
from server import create_app
from server.api import pages
from tests import tiers

THREADS = 8


def keep_modules(response: Response) -> Response:
    """A browser keeps modules and styles for the time of a run: else it asks again for each of them at every reload."""
    if response.status_code == 200 and request.path.startswith(("/js/", "/css/")):
        response.headers["Cache-Control"] = "max-age=3600"
    return response


def serve(wanted: dict[str, Any], answer: int) -> None:
    """The server, in the forked process; its port goes to the file descriptor `answer`."""
    for name in [name for name in os.environ if name.startswith("PENCILBAG_")]:
        del os.environ[name]
    os.environ.update(wanted["environment"])
    if wanted["web"]:
        pages.WEB = Path(wanted["web"])
    try:
        app = create_app()
        if not wanted["web"] and not tiers.LONG:
            app.after_request(keep_modules)
        made = create_server(app, host="127.0.0.1", port=wanted["port"], threads=THREADS)
        os.write(answer, f"{made.effective_port}\n".encode())
        os.close(answer)
        made.run()
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(0)


def listen() -> None:
    """Take orders until stdin ends."""
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
            serve(wanted, told)
        os.close(told)
        with os.fdopen(heard) as said:
            port = said.readline().strip()
        print(json.dumps({"pid": child, "port": int(port) if port else None}), flush=True)


if __name__ == "__main__":
    listen()
