"""Servers of tests that are forked from a process that has imported the application, not started anew.

That process is the launcher of the front end's tests, which each process of tests has anyway. What starting anew shows,
workers included, is shown by `tests/cli/test_cli_serve.py` and `tests/operation/test_workers.py`.
"""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from tests import tiers
from tests.bench.served import Served, Start, port_in, started
from tests.web.launcher import launcher


@contextmanager
def forked(environment: Mapping[str, str], log: Path | None = None) -> Iterator[Served]:
    """A server with this environment on a free port; its log goes to a file."""
    with tempfile.TemporaryDirectory() as folder:
        said = Path(folder) / "said"
        os.mkfifo(said)
        arguments = ["serve", "--port", "0"]
        told = launcher().ask(
            arguments=arguments, environment=dict(environment), out=str(said), err=str(log or os.devnull)
        )
        try:
            with said.open(encoding="utf-8") as printed:
                yield Served(port_in(printed.readline()), told["pid"])
        finally:
            os.kill(told["pid"], signal.SIGTERM)
            launcher().ask(wait=told["pid"])


start: Final[Start] = started if tiers.LONG else forked
"""Started anew in the long tier."""
