"""What takes long to make and is only copied: made once in a run, whichever of its processes comes first."""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final
from uuid import uuid4

ROOT: Final = Path(__file__).resolve().parents[1]
DEMO_PLAYER: Final = "Wren Quillfeather"
RUN: Final = os.environ.get("PYTEST_XDIST_TESTRUNUID") or uuid4().hex
"""The run of the tests that this process belongs to."""


def made_once(name: str, make: Callable[[Path], None]) -> Path:
    """The folder of a name, which `make` fills. Of two processes that begin together each fills one, and one stays."""
    folder = Path(tempfile.gettempdir()) / f"pencilbag-{name}-{RUN}"
    if not folder.is_dir():
        being_made = Path(tempfile.mkdtemp(prefix=f"pencilbag-{name}-"))
        make(being_made)
        try:
            being_made.rename(folder)
        except OSError:  # another process was faster
            shutil.rmtree(being_made)
    return folder


@functools.cache
def demo_database() -> Path:
    """A SQLite file with the invented demo season, to be copied and not changed."""

    def load(folder: Path) -> None:
        environment = os.environ | {"PENCILBAG_DATABASE": f"sqlite:///{folder / 'demo.sqlite'}"}
        command = [sys.executable, "-m", "server", "demo"]
        subprocess.run(command, cwd=ROOT, env=environment, check=True, capture_output=True)

    return made_once("demo", load) / "demo.sqlite"


def copy_demo(file: Path) -> None:
    """A database of its own with the demo season, in a file that is not there yet."""
    shutil.copy(demo_database(), file)
