"""A private PostgreSQL for tests: Debian's server on a Unix socket in a folder of its own, no TCP, gone at the end."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
import uuid
from pathlib import Path
from typing import Final

import psycopg

from server.store.engine import open_database
from server.store.partitioned_log import partition_log

INSTALLED: Final = Path("/usr/lib/postgresql")
MEMORY: Final = Path("/dev/shm")
ROOM: Final = 4 * 2**30
"""Bytes that must be free there: a database of a test takes 8 MB, and a run makes some 200."""

PARTS: Final = 4
"""Of a partitioned log; a test has a few players."""

OWNER: Final = "pencilbag"
SYSTEM_USER: Final = "postgres"
"""initdb and the server refuse to run as root; Debian's package brings this user."""


def programs() -> Path:
    """The folder of the newest server's programs. Raises RuntimeError when there is none: tests/run installs it."""
    found = [path.parent for path in INSTALLED.glob("*/bin/initdb")]
    if not found:
        raise RuntimeError(f"no PostgreSQL under {INSTALLED}; tests/run installs Debian's package postgresql")
    return max(found, key=lambda path: [int(part) for part in re.findall(r"\d+", path.parent.name)])


def name_in(url: str) -> str:
    """The database of an address."""
    return re.sub(r".*@/(\w+)\?.*", r"\1", url)


class Cluster:
    """A running server. Nothing that it holds outlives the run, so it does not wait for the disk, unless it is to lie
    in a folder `on_disk`, as one that is measured does."""

    def __init__(self, on_disk: Path | None = None) -> None:
        # A socket's path may hold about 100 bytes: so not in pytest's deep folders.
        roomy = MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ROOM
        self.folder = Path(tempfile.mkdtemp(prefix="pencilbag-pg-", dir=on_disk or (MEMORY if roomy else None)))
        self.data = self.folder / "data"
        self.user = SYSTEM_USER if os.getuid() == 0 else None
        try:
            if self.user:
                shutil.chown(self.folder, self.user)
            self._run("initdb", "-A", "trust", "-U", OWNER, "-E", "UTF8", "--locale=C", "--no-sync")
            waits = "on" if on_disk else "off"
            options = f"-h '' -k {self.folder} -c fsync={waits} -c max_connections=100 -c log_min_messages=fatal"
            log = str(self.folder / "log")
            self._run("pg_ctl", "-w", "-t", "60", "-l", log, "-o", options, "start")
        except BaseException:
            shutil.rmtree(self.folder)
            raise
        # Made once, copied for every test.
        self.template = self._create("pencilbag_empty")
        open_database(self.template).dispose()
        self.with_parts = ""

    def _run(self, name: str, *options: str) -> None:
        command = [str(programs() / name), "-D", str(self.data), *options]
        # The server inherits the ends of a pipe, and would keep it open: a file takes what it prints.
        with (self.folder / "printed").open("a+") as printed:
            done = subprocess.run(
                command,
                user=self.user,
                cwd=self.folder,
                stdout=printed,
                stderr=printed,
                stdin=subprocess.DEVNULL,
                check=False,
            )
            printed.seek(0)
            assert done.returncode == 0, printed.read()

    def url(self, database: str) -> str:
        """The address of a database, as PENCILBAG_DATABASE takes it."""
        return f"postgresql://{OWNER}@/{database}?host={self.folder}"

    def admin(self) -> psycopg.Connection[tuple[object, ...]]:
        """A connection of the cluster's owner, outside any transaction."""
        return psycopg.connect(host=str(self.folder), user=OWNER, dbname="postgres", autocommit=True)

    def _create(self, name: str, template: str = "template1") -> str:
        with self.admin() as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy".encode())
        return self.url(name)

    def fresh(self, *, empty: bool = False) -> str:
        """The address of a new database with the newest tables, or quite `empty`."""
        return self._create(f"test_{uuid.uuid4().hex}", "template1" if empty else "pencilbag_empty")

    def copy(self, url: str) -> str:
        """The address of a new database with all that another holds, to which nobody is connected."""
        return self._create(f"test_{uuid.uuid4().hex}", name_in(url))

    def partitioned(self) -> str:
        """The address of a new database with the newest tables, its log partitioned."""
        if not self.with_parts:
            self.with_parts = self._create("pencilbag_partitioned", "pencilbag_empty")
            engine = open_database(self.with_parts)
            partition_log(engine, PARTS)
            engine.dispose()
        return self._create(f"test_{uuid.uuid4().hex}", "pencilbag_partitioned")

    def drop(self, url: str) -> None:
        """Drop a database, whoever is still connected to it."""
        name = name_in(url)
        with self.admin() as connection:
            connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)".encode())

    def processes(self) -> list[int]:
        """The ids of the server's process and of all that it started, one for each connection among them."""
        first = int((self.data / "postmaster.pid").read_text(encoding="ascii").split()[0])
        children = Path(f"/proc/{first}/task/{first}/children").read_text(encoding="ascii")
        return [first, *map(int, children.split())]

    def stop(self) -> None:
        """Stop the server and remove its folder."""
        self._run("pg_ctl", "-w", "-t", "60", "-m", "immediate", "stop")
        shutil.rmtree(self.folder)
