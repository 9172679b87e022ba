"""A real server for benches: its address, and what its processes hold in memory."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

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
def served(folder: Path, *, demo: bool = False) -> Iterator[Served]:
    """A server on a free port and a database of its own, with the demo season if wanted; its log goes to a file."""
    environment = os.environ | {"PENCILBAG_DATABASE": f"sqlite:///{folder / 'log.sqlite'}"}
    if demo:
        copy_demo(folder / "log.sqlite")
    command = [sys.executable, "-u", "-m", "server", "serve", "--port", "0"]
    with (
        (folder / "server.log").open("w") as log,
        subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=log, text=True) as process,
    ):
        try:
            assert process.stdout is not None
            address = process.stdout.readline().split()[-1]
            yield Served(int(address.rstrip("/").rsplit(":", 1)[1]), process.pid)
        finally:
            process.terminate()
