"""A real server for benches: its address, and what its processes hold in memory."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from tests.made_once import copy_demo

PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True)
class Served:
    """Where it listens, and its process."""

    port: int
    pid: int

    def resident_mb(self) -> dict[int, float]:
        """Resident megabytes of the serving process and its workers, by process id (Linux)."""
        children = Path(f"/proc/{self.pid}/task/{self.pid}/children").read_text(encoding="ascii").split()
        found = {}
        for pid in (self.pid, *map(int, children)):
            pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
            found[pid] = pages * PAGE / 1e6
        return found


@contextmanager
def started(environment: Mapping[str, str], log: Path | None = None) -> Iterator[Served]:
    """A server with this environment on a free port, in a new process. Its log goes to a file, or where ours does."""
    command = [sys.executable, "-u", "-m", "server", "serve", "--port", "0"]
    with ExitStack() as stack:
        file = stack.enter_context(log.open("w")) if log else None
        process = stack.enter_context(
            subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=file, text=True)
        )
        stack.callback(process.terminate)
        assert process.stdout is not None
        yield Served(port_in(process.stdout.readline()), process.pid)


def port_in(line: str) -> int:
    """The port in the first line that a server prints."""
    return int(line.rsplit(maxsplit=1)[-1].rstrip("/").rsplit(":", 1)[1])


class Start(Protocol):
    """How a server is started, which ends with the block."""

    def __call__(self, environment: Mapping[str, str], log: Path | None = None) -> AbstractContextManager[Served]:
        """With this environment; where its log goes."""


@contextmanager
def served(folder: Path, *, demo: bool = False, start: Start = started) -> Iterator[Served]:
    """A server on a free port and a database of its own, with the demo season if wanted; its log goes to a file."""
    if demo:
        copy_demo(folder / "log.sqlite")
    environment = os.environ | {"PENCILBAG_DATABASE": f"sqlite:///{folder / 'log.sqlite'}"}
    with start(environment, folder / "server.log") as found:
        yield found
