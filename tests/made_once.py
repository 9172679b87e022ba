"""What takes long to make and is only copied: made once in a run, whichever of its processes comes first."""

from __future__ import annotations

import functools
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final
from uuid import uuid4

import sqlalchemy as sa

ROOT: Final = Path(__file__).resolve().parents[1]
DEMO_PLAYER: Final = "Wren Quillfeather"
ENVELOPE: Final = (
    "change_id",
    "record_id",
    "kind",
    "parents",
    "op",
    "body",
    "device_id",
    "client_time",
    "schema_version",
)
"""What a device records of a change."""
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


SHORT: Final = 4
"""Every so many rounds of the demo season are in the short one."""


@functools.cache
def short_demo_database() -> Path:
    """A SQLite file with the player, clubs and course of the demo and every fourth of its rounds, to be copied: for
    tests that want the demo's records on a phone, or its views, whatever they show."""
    from server.store.engine import open_database, reading
    from server.store.log import push
    from server.store.tables import CHANGE

    def thin(folder: Path) -> None:
        engine = open_database(f"sqlite:///{demo_database()}", create=False)
        with reading(engine) as connection:
            log = [dict(row) for row in connection.execute(sa.select(CHANGE).order_by(CHANGE.c.seq)).mappings()]
        engine.dispose()
        for row in log:
            row["parents"], row["body"] = (
                json.loads(row[name]) if row[name] else row[name] for name in ("parents", "body")
            )
        days = sorted((row["body"]["played_on"], row["record_id"]) for row in log if row["kind"] == "round")
        kept = {round_id for _, round_id in days[::SHORT]}
        chosen = [row for row in log if row["kind"] != "round" or row["record_id"] in kept]
        chosen = [row for row in chosen if row["kind"] != "shot" or row["body"]["round_id"] in kept]
        engine = open_database(f"sqlite:///{folder / 'demo.sqlite'}")
        changes = [{name: row[name] for name in ENVELOPE} for row in chosen]
        assert push(engine, log[0]["player_id"], "the demo", changes, strict=True).quarantined == []
        engine.dispose()

    return made_once("short", thin) / "demo.sqlite"


def copy_short_demo(file: Path) -> None:
    """A database of its own with the short season."""
    shutil.copy(short_demo_database(), file)


def copy_demo(file: Path) -> None:
    """A database of its own with the demo season, in a file that is not there yet."""
    shutil.copy(demo_database(), file)
