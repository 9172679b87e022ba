"""Serves the real application on 127.0.0.1 for the tests of the front end: `python serving.py PORT` (0: any free one)."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from server import create_app
from waitress.server import create_server

if __name__ == "__main__":
    server = create_server(create_app(), host="127.0.0.1", port=int(sys.argv[1]), threads=8)
    print(f"port {server.effective_port}", flush=True)
    server.run()
