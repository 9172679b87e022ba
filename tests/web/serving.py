"""Serves the real application on 127.0.0.1 for the tests of the front end: `python serving.py PORT [WEB]`.

PORT 0 takes any free one; WEB is the folder of the front end, for tests that bring a new version of it.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from waitress.server import create_server

from server import create_app
from server.api import pages

if __name__ == "__main__":
    if len(sys.argv) > 2:
        pages.WEB = Path(sys.argv[2])
    server = create_server(create_app(), host="127.0.0.1", port=int(sys.argv[1]), threads=8)
    print(f"port {server.effective_port}", flush=True)
    server.run()
