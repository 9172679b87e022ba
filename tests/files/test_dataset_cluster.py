"""A dataset written by real schedulers and workers: the same rows by two and by four, by those that are left when some
are killed; what cannot take part is named, and nothing half is published."""

from __future__ import annotations

import errno
import gc
import json
import logging
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path

import distributed
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from server.__main__ import main
from server.files.season_dataset import cluster as clusters
from server.files.season_dataset.cluster import unlike
from server.files.season_dataset.datasets import staging_of
from server.files.season_dataset.partitions import Order, Receipt, write_partition
from server.store.engine import open_database, reading
from server.store.tables import PLAYER
from tests.files.datasets import assert_same_rows, assert_sums, change_a_shot, contents, export, fill, one_machine
from tests.store.cluster import OWNER, Cluster
from tests.tiers import count

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60
DASHBOARD_PORT = 8787
"""Where a scheduler of dask listens by default; another cluster may be there already."""


def until(there: Callable[[], object], what: str) -> None:
    """Wait until it is so."""
    end = time.monotonic() + PATIENCE_S
    while not there():
        assert time.monotonic() < end, what
        time.sleep(0.02)


class Nodes:
    """A scheduler and its workers, started by the commands of the guide."""

    def __init__(self, folder: Path, address: str) -> None:
        self.folder, self.gate = folder, folder / "gate"
        self.gate.mkdir()
        self.about = folder / "scheduler.json"
        self.environment = os.environ | {"PENCILBAG_DATABASE": address, "GATE": str(self.gate)}
        self.environment |= {"TMPDIR": str(folder), "OMP_NUM_THREADS": "1"}
        self.scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.workers: list[subprocess.Popen[bytes]] = []
        try:
            until(lambda: self.about.exists() or self.scheduler.poll() is not None, "the scheduler did not start")
            assert self.scheduler.poll() is None, (folder / "scheduler.log").read_text(encoding="utf-8")
        except BaseException:
            self.stop()
            raise
        self.address = json.loads(self.about.read_text(encoding="utf-8"))["address"]

    def _start(self, kind: str, *options: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "dask", kind, *options]
        if kind == "scheduler":
            command += ["--scheduler-file", str(self.about)]
        with (self.folder / f"{kind}.log").open("ab") as log:
            return subprocess.Popen(command, cwd=ROOT, env=self.environment, stdout=log, stderr=log)

    def have(self, so_many: int) -> None:
        """Start workers until there are so many, or end those above it."""
        preload = str(ROOT / "tests" / "files" / "gated_partitions.py")
        while len(self.workers) < so_many:
            options = ("--no-nanny", "--nthreads", "1", "--no-dashboard", "--preload", preload)
            self.workers.append(self._start("worker", self.address, *options))
        while len(self.workers) > so_many:
            self.end(self.workers[-1])
        with clusters.cluster_client(None, self.address, Path()) as client:
            until(lambda: len(client.scheduler_info(n_workers=-1)["workers"]) == so_many, f"not {so_many} workers")

    def end(self, worker: subprocess.Popen[bytes]) -> None:
        """Kill a worker."""
        worker.kill()
        worker.wait()
        self.workers.remove(worker)

    def begun(self) -> set[int]:
        """The processes that are at a partition."""
        return {int(path.name) for path in self.gate.iterdir() if path.name.isdigit()}

    def shut(self) -> None:
        """Let partitions wait."""
        for path in self.gate.iterdir():
            path.unlink()
        (self.gate / "shut").touch()

    def open(self) -> None:
        """Let them go on."""
        (self.gate / "shut").unlink(missing_ok=True)

    def stop(self) -> None:
        """End all of them."""
        self.open()
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory, new_database: Callable[[str, Path], str]) -> Iterator[sa.Engine]:
    """A season of four players, and the package of one machine beside it."""
    folder = tmp_path_factory.mktemp("season")
    engine = open_database(new_database("sqlite", folder))
    fill(engine)
    one_machine(engine, folder / "one")
    yield engine
    engine.dispose()


@pytest.fixture(scope="module")
def started() -> Iterator[list[Nodes]]:
    """The scheduler in use, with the workers that it has; none yet, or not any more."""
    found: list[Nodes] = []
    yield found
    for one in found:
        one.stop()


@pytest.fixture
def nodes(started: list[Nodes], season: sa.Engine, tmp_path_factory: pytest.TempPathFactory) -> Nodes:
    """A scheduler; a test says how many workers it has."""
    if not started:
        started.append(Nodes(tmp_path_factory.mktemp("nodes"), str(season.url)))
    return started[0]


@pytest.fixture
def one(season: sa.Engine) -> Path:
    """What one machine wrote."""
    return Path(str(season.url.database)).parent / "one"


@pytest.fixture
def run(season: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """`export` of the season with further options."""
    monkeypatch.setenv("PENCILBAG_DATABASE", str(season.url))

    def call(folder: Path, *options: str) -> Result:
        return CliRunner().invoke(main, ["export", "--season", "2026", "--to", str(folder), *options])

    return call


def refusal(result: Result, folder: Path) -> str:
    """What a refused export says; nothing is published."""
    assert (result.exit_code, result.stdout, folder.exists()) == (2, "", False), result.output
    assert len(result.stderr.splitlines()) == 1
    return result.stderr


def test_what_cannot_work_is_named(
    run: Callable[..., Result], nodes: Nodes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    monkeypatch.setattr(clusters, "CONNECT_S", 0.5)
    for address in ("tcp://127.0.0.1:1", "nowhere"):
        words = refusal(run(folder, "--scheduler", address), folder)
        assert f"error: --scheduler: no scheduler answers at {address}" in words
    monkeypatch.setattr(clusters, "CONNECT_S", 10.0)
    monkeypatch.setattr(clusters, "WORKERS_S", 0.2)
    nodes.have(0)
    words = refusal(run(folder, "--scheduler", nodes.address), folder)
    assert f"no worker came to {nodes.address} in 0.2 s; start some" in words
    for options, words in (
        (("--workers", "2", "--scheduler", nodes.address), "--workers: give either it or --scheduler"),
        (("--workers", "2", "--format", "csv"), "--format: a dataset is parquet, not csv"),
        (("--buckets", "2"), "--buckets: is for datasets only; give --workers or --scheduler"),
        (("--workers", "0"), "--workers: "),
    ):
        assert words in refusal(run(folder, *options), folder)
    assert not staging_of(folder).exists()


def test_a_client_that_cannot_start_is_closed_at_once(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """One left to the collector of garbage took the lock under which the next one starts, and waited for itself."""
    monkeypatch.setattr(clusters, "CONNECT_S", 0.1)
    gc.collect()
    gc.disable()
    try:
        with pytest.raises(clusters.ClusterError), clusters.cluster_client(None, "nowhere", tmp_path):
            pass
        left = [one.status for one in gc.get_objects() if isinstance(one, distributed.Client)]
    finally:
        gc.enable()
    assert left
    assert set(left) == {"closed"}


def test_versions_that_differ_are_named() -> None:
    here = {"tool": "0.1.0", "pyarrow": "26.0.1", "dictionary": "sha256:1"}
    assert unlike(here, dict(here)) == []
    assert unlike(here, here | {"pyarrow": "25.0.0"}) == ["pyarrow 25.0.0, here 26.0.1"]
    assert unlike(here, {"tool": "0.1.0", "pyarrow": "26.0.1"}) == ["dictionary none, here sha256:1"]


def test_few_workers_and_more_write_what_one_machine_writes(
    run: Callable[..., Result], nodes: Nodes, one: Path, tmp_path: Path
) -> None:
    few, more = count(1, 2), count(2, 4)
    for workers in (few, more):
        nodes.have(workers)
        done = run(tmp_path / f"by_{workers}", "--scheduler", nodes.address, "--buckets", "4")
        assert (done.exit_code, done.stderr) == (0, ""), done.output
        assert "4 partitions written, 0 as they were, 0 from an export that broke off" in done.stdout
        assert_same_rows(tmp_path / f"by_{workers}", one)
    assert contents(tmp_path / f"by_{few}") == contents(tmp_path / f"by_{more}")
    assert_sums(lambda name: pq.read_table(tmp_path / f"by_{more}" / name).to_pandas())


def test_those_that_are_left_end_the_work_of_killed_workers(
    run: Callable[..., Result], nodes: Nodes, one: Path, tmp_path: Path
) -> None:
    workers = count(2, 3)
    nodes.have(workers)
    nodes.shut()
    with ThreadPoolExecutor(1) as pool:
        done = pool.submit(run, tmp_path / "out", "--scheduler", nodes.address, "--buckets", "4")
        until(lambda: len(nodes.begun()) >= workers, "the workers did not begin")
        for process in nodes.workers[1:]:
            nodes.end(process)
        nodes.open()
        result = done.result(PATIENCE_S)
    assert (result.exit_code, result.stderr) == (0, ""), result.output
    assert_same_rows(tmp_path / "out", one)


def test_workers_without_the_database_are_named(
    run: Callable[..., Result], nodes: Nodes, tmp_path: Path, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = cluster.fresh()
    engine = open_database(address)
    fill(engine, players=1)
    engine.dispose()
    nodes.have(1)
    monkeypatch.setenv("PENCILBAG_READ_DATABASE", address)
    words = refusal(run(tmp_path / "out", "--scheduler", nodes.address), tmp_path / "out")
    assert words.startswith("error: --scheduler: worker tcp://127.0.0.1:")
    assert ": its database is SQLite, the export's is PostgreSQL" in words
    cluster.drop(address)


def test_a_lost_scheduler_ends_the_export_and_nothing_is_published(
    run: Callable[..., Result],
    nodes: Nodes,
    started: list[Nodes],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(clusters, "LOST_S", 0.5)
    nodes.have(1)
    nodes.shut()
    started.clear()  # a test after this one starts another
    try:
        with ThreadPoolExecutor(1) as pool:
            done = pool.submit(run, tmp_path / "out", "--scheduler", nodes.address, "--buckets", "4")
            until(nodes.begun, "no worker began")
            nodes.scheduler.kill()
            words = refusal(done.result(PATIENCE_S), tmp_path / "out")
    finally:
        nodes.stop()
    assert "error: --scheduler: the scheduler is lost; the same command continues from what was written" in words
    # Dask tells of it with a traceback of its own
    assert not logging.getLogger("distributed.client").isEnabledFor(logging.ERROR)


def test_a_pipe_that_breaks_after_the_export_is_no_fault_of_the_folder(
    run: Callable[..., Result], nodes: Nodes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise BrokenPipeError(errno.EPIPE, "Broken pipe")

    monkeypatch.setattr("server.commands.datasets._tell", broken)
    nodes.have(1)
    done = run(tmp_path / "out", "--scheduler", nodes.address)
    assert "cannot be written to" not in done.stderr
    assert (tmp_path / "out" / "season.lock.json").exists()


@pytest.fixture
def on_postgresql(cluster: Cluster, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[sa.Engine, str]]:
    """A season on PostgreSQL, and the address by which an account reads it that can do nothing else."""
    address = cluster.fresh()
    engine = open_database(address)
    fill(engine)
    with cluster.admin() as connection:
        connection.execute("DROP ROLE IF EXISTS reader")
        connection.execute("CREATE ROLE reader LOGIN IN ROLE pg_read_all_data")
    reader = address.replace(f"//{OWNER}@", "//reader@")
    monkeypatch.setenv("PENCILBAG_READ_DATABASE", reader)
    yield engine, reader
    engine.dispose()
    cluster.drop(address)


def test_a_dataset_is_one_state_while_a_phone_pushes(on_postgresql: tuple[sa.Engine, str], tmp_path: Path) -> None:
    engine, reader = on_postgresql
    one_machine(engine, tmp_path / "before")
    with reading(engine) as connection:
        players = list(connection.execute(sa.select(PLAYER.c.player_id)).scalars())

    def run(orders: list[Order]) -> Iterator[Receipt]:
        for order in orders:
            for player_id in players:
                change_a_shot(engine, player_id)
            yield write_partition(order)

    reading_engine = open_database(reader, create=False)
    export(reading_engine, tmp_path / "out", run)
    reading_engine.dispose()
    assert_same_rows(tmp_path / "out", tmp_path / "before")
    one_machine(engine, tmp_path / "after")
    assert contents(tmp_path / "after") != contents(tmp_path / "before")


def test_workers_of_this_machine_read_a_replica_by_an_account_of_its_own(
    on_postgresql: tuple[sa.Engine, str], tmp_path: Path
) -> None:
    engine, _ = on_postgresql
    one_machine(engine, tmp_path / "one", "Player 0000")
    command = [sys.executable, "-m", "server", "export", "--season", "2026", "--to", str(tmp_path / "out")]
    with closing(socket.socket()) as beside:
        with suppress(OSError):  # it is taken already, which does as well
            beside.bind(("127.0.0.1", DASHBOARD_PORT))
            beside.listen()
        done = subprocess.run(
            [*command, "--workers", "1", "--player", "Player 0000"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
            timeout=PATIENCE_S,
        )
    assert (done.returncode, done.stderr) == (0, "")
    assert_same_rows(tmp_path / "out", tmp_path / "one")
