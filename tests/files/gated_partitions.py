"""Loaded into Dask workers of tests: a partition waits at a gate, so that a worker can be ended in the midst of it.

The environment's GATE is a folder. Each partition leaves a file of its process's number there, and waits while the file
`shut` is there.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from server.files.season_dataset import partitions
from server.files.season_tables.package import write_pieces

_gate = Path(os.environ["GATE"])


def gated(path: Path, pieces: Iterable[bytes]) -> Any:
    """Write as ever, once the gate is open."""
    (_gate / str(os.getpid())).touch()
    while (_gate / "shut").exists():
        time.sleep(0.02)
    return write_pieces(path, pieces)


partitions.write_pieces = gated
