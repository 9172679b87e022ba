"""The process that forks servers and commands for the tests (`launching.py`)."""

from __future__ import annotations

import atexit
import functools
import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


class Launcher:
    """A process that has the application imported and forks real servers (`launching.py`): one a process of tests."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.web.launching"]
        self.process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def ask(self, **wanted: Any) -> dict[str, Any]:
        """An order and its answer."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(wanted) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        assert line, "the launcher ended"
        found: dict[str, Any] = json.loads(line)
        return found

    def end(self, pid: int) -> None:
        """Kill a server, as hard as can be, and wait until it is gone."""
        os.kill(pid, signal.SIGKILL)
        self.ask(wait=pid)

    def close(self) -> None:
        """End the launcher; it has no server left."""
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            pipe.close()
        self.process.wait(timeout=20)


@functools.cache
def launcher() -> Launcher:
    """The launcher of this process, started when a server is first wanted."""
    started = Launcher()
    atexit.register(started.close)
    return started
