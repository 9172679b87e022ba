"""Commands and servers that are forked from a process that has imported the application, not started anew.

That process is the launcher of the front end's tests, which each process of tests has anyway. What starting anew shows,
workers included, is shown by `tests/cli/test_cli_serve.py` and `tests/operation/test_workers.py`; in the long tier each
one starts anew.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from subprocess import CompletedProcess
from typing import Final

from tests import tiers
from tests.bench.served import Served, Start, port_in, started
from tests.web.launcher import ROOT, launcher

WITHOUT_POWER: Final = ("setpriv", "--bounding-set=-dac_override,-dac_read_search") if os.geteuid() == 0 else ()
"""Root may write whatever a mode says; without these two capabilities it may not."""


def python(*words: str, more: Mapping[str, str], weak: bool = False, err: str = "") -> CompletedProcess[str]:
    """What `python -m server ...` or `python -c CODE ...` prints with `more` in its environment. `weak`: without root's
    power to write whatever a mode forbids; `err`: where errors go instead."""
    environment = os.environ | more
    if tiers.LONG:
        assert not weak or not WITHOUT_POWER or shutil.which(WITHOUT_POWER[0])
        command = [*(WITHOUT_POWER if weak else ()), sys.executable, *words]
        with open(err or os.devnull, "w") as errors:
            return subprocess.run(
                command,
                env=environment,
                cwd=ROOT,
                stdout=subprocess.PIPE,
                stderr=errors if err else subprocess.PIPE,
                text=True,
                check=False,
            )
    with tempfile.TemporaryDirectory() as folder:
        places = [str(Path(folder, "out")), err or str(Path(folder, "err"))]
        asked = {"python": words, "environment": environment, "out": places[0], "err": places[1], "weak": weak}
        pid = launcher().ask(**asked)["pid"]
        code = launcher().ask(wait=pid)["code"]
        told = [Path(place).read_text(encoding="utf-8") for place in places[: 1 if err else 2]]
    return CompletedProcess(words, code, *told)


@contextmanager
def forked(environment: Mapping[str, str], log: Path | None = None) -> Iterator[Served]:
    """A server with this environment on a free port; its log goes to a file."""
    with tempfile.TemporaryDirectory() as folder:
        said = Path(folder) / "said"
        os.mkfifo(said)
        asked = {"out": str(said), "err": str(log or os.devnull), "weak": False}
        pid = launcher().ask(python=["-m", "server", "serve", "--port", "0"], environment=dict(environment), **asked)[
            "pid"
        ]
        try:
            with said.open(encoding="utf-8") as printed:
                yield Served(port_in(printed.readline()), pid)
        finally:
            os.kill(pid, signal.SIGTERM)
            launcher().ask(wait=pid)


start: Final[Start] = started if tiers.LONG else forked
"""Started anew in the long tier."""


@contextmanager
def serving(url: str) -> Iterator[Served]:
    """A server on the database `url`, without workers."""
    with start(os.environ | {"PENCILBAG_DATABASE": url, "PENCILBAG_WORKERS": "0"}) as found:
        yield found
