"""Partitions written by Dask: by processes of this machine, or by the workers of a scheduler at an address.

Before anything is written every worker is asked what it runs, and whether it sees the folder and the database's state:
what differs is named. A worker that goes is replaced by the others; when nobody is left, or the scheduler is gone, it
is named.
"""

from __future__ import annotations

import logging
import time
import uuid
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

from server.files.season_dataset.partitions import Order, Receipt, write_partition
from server.files.season_tables.lock import dictionary_hash, made_by
from server.operation.settings import database_to_read
from server.store.shared_states import SharedState, StateError, joined

CONNECT_S: Final = 10.0
WORKERS_S: Final = 30.0
"""How long a scheduler may stay without any worker."""
LOST_S: Final = 5.0
"""How long a scheduler may be silent."""
LOOK_S: Final = 0.5
LOST: Final = "the scheduler is lost"
INSTALL: Final = "install what server/requirements-cluster.txt names"


class ClusterError(RuntimeError):
    """The cluster cannot do it, with the reason."""


def about_here() -> dict[str, str]:
    """What has to be the same on every worker: versions and the data dictionary."""
    return made_by() | {"distributed": version("distributed"), "dictionary": dictionary_hash()}


def look_around(token: str, state: SharedState) -> tuple[dict[str, str], str]:
    """Runs on a worker: what it runs, and why it cannot take part, or nothing. `token`: a file of the export's."""
    if not Path(token).is_file():
        return (
            about_here(),
            f"does not see the folder {Path(token).parent}; it must lie on a file system of all workers",
        )
    try:
        with joined(state, database_to_read()):
            return about_here(), ""
    except StateError as error:
        return about_here(), str(error)
    except Exception as error:
        words = str(error).splitlines() or [type(error).__name__]
        return (
            about_here(),
            f"cannot read the database that PENCILBAG_READ_DATABASE or PENCILBAG_DATABASE names: {words[0]}",
        )


def unlike(here: Mapping[str, str], there: Mapping[str, str]) -> list[str]:
    """What a worker has otherwise, in words."""
    named = {name: (there.get(name, "none"), words) for name, words in here.items()}
    return [f"{name} {found}, here {wanted}" for name, (found, wanted) in named.items() if found != wanted]


def closing_client(client: type[Any]) -> type[Any]:
    """A client that closes itself when it cannot start.

    distributed leaves one that met no scheduler open, to be closed whenever Python comes upon it. Where that is while
    another client starts, the lock of all loops is held already and the process waits for itself.
    """

    class ClosingClient(client):  # type: ignore[misc]
        def start(self, **options: Any) -> None:
            try:
                super().start(**options)
            except BaseException:
                self.close(timeout=CONNECT_S)
                raise

    return ClosingClient


@contextmanager
def cluster_client(workers: int | None, scheduler: str | None, spare: Path) -> Iterator[Any]:
    """A client of `workers` new processes of this machine, or of the scheduler at an address. Raises ClusterError."""
    try:
        distributed: Any = import_module("distributed")
    except ImportError as error:
        raise ClusterError(f"dask[distributed] is not installed; {INSTALL}") from error
    for name in ("distributed", "distributed.client"):  # the second has a level of its own
        logging.getLogger(name).setLevel(logging.CRITICAL)
    with ExitStack() as stack:
        address: Any = scheduler
        if scheduler is None:
            # keys of its own for each run: who is on this machine and lacks them cannot hand in work
            address = stack.enter_context(
                distributed.LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,
                    processes=True,
                    security=True,
                    dashboard_address="127.0.0.1:0",  # without one it takes a fixed port, and warns where that is taken
                    scheduler_kwargs={"dashboard": False},
                    local_directory=str(spare),
                    silence_logs=logging.CRITICAL,
                )
            )
        try:
            client = closing_client(distributed.Client)(address, timeout=CONNECT_S)
        except (OSError, ValueError, TypeError, ImportError) as error:
            raise ClusterError(f"no scheduler answers at {scheduler}") from error
        try:
            yield client
        finally:
            client.close(timeout=CONNECT_S)


def make_sure(client: Any, token: Path, state: SharedState) -> None:
    """Ask every worker whether it can take part. Raises ClusterError, which names the worker and what is wrong."""
    name = client.scheduler.address if client.scheduler else "the scheduler"
    try:
        client.wait_for_workers(1, timeout=WORKERS_S)
        packages = client.get_versions()
        found = client.run(look_around, str(token), state, on_error="return")
    except TimeoutError as error:
        raise ClusterError(f"no worker came to {name} in {WORKERS_S:g} s; start some") from error
    except OSError as error:
        raise ClusterError(f"the scheduler at {name} is gone") from error
    theirs = (packages["scheduler"] or {}).get("packages", {}).get("distributed")
    ours = packages["client"]["packages"]["distributed"]
    if theirs != ours:
        raise ClusterError(f"the scheduler at {name} has distributed {theirs}, here {ours}")
    here = about_here()
    for address, answer in sorted(found.items()):
        if isinstance(answer, BaseException):
            raise ClusterError(f"worker {address} cannot run this version: {answer}")
        about, fault = answer
        if others := unlike(here, about):
            raise ClusterError(f"worker {address} has other versions: {'; '.join(others)}")
        if fault:
            raise ClusterError(f"worker {address}: {fault}")


def write_on_worker(order: Order) -> Receipt:
    """Runs on a worker: a fault goes back in words, since not every error travels. OSError goes as it is."""
    try:
        return write_partition(order)
    except OSError as error:
        raise OSError(error.errno, error.strerror or str(error)) from None
    except Exception as error:
        words = str(error).splitlines() or [""]
        raise StateError(f"bucket {order.bucket}: {type(error).__name__}: {words[0]}") from None


def run_on(client: Any, orders: list[Order]) -> Iterator[Receipt]:
    """Each receipt as it comes. Raises ClusterError when the cluster is lost, and what
    `write_on_worker` raises."""
    wait: Any = import_module("distributed").wait
    run = uuid.uuid4().hex
    waiting = {
        client.submit(write_on_worker, order, key=f"season-{order.season}-{order.bucket}-{run}", pure=False)
        for order in orders
    }
    seen = {"scheduler": time.monotonic(), "workers": time.monotonic()}
    try:
        while waiting:
            _look(client, seen)
            try:
                done = wait(waiting, timeout=LOOK_S, return_when="FIRST_COMPLETED").done
            except TimeoutError:
                continue
            except (_cancelled(), OSError) as error:
                raise ClusterError(LOST) from error
            for future in done:
                yield _receipt(future)
            waiting -= done
    finally:
        if client.status == "running":
            with suppress(_cancelled(), OSError, TimeoutError):
                client.cancel(list(waiting))


def _look(client: Any, seen: dict[str, float]) -> None:
    """Whether there is still somebody to wait for."""
    now = time.monotonic()
    if client.status == "running":
        seen["scheduler"] = now
        if client.scheduler_info(n_workers=-1)["workers"]:
            seen["workers"] = now
    if now - seen["scheduler"] > LOST_S or client.status == "closed":
        raise ClusterError(LOST)
    if now - seen["workers"] > WORKERS_S + LOST_S:
        raise ClusterError(f"no worker was left for {WORKERS_S:g} s")


def _cancelled() -> type[BaseException]:
    """What a client raises for work that it does not wait for any more, its scheduler gone."""
    found: type[BaseException] = import_module("distributed.client").CancelledError
    return found


def _receipt(future: Any) -> Receipt:
    killed: Any = import_module("distributed").KilledWorker
    closed: Any = import_module("distributed.comm").CommClosedError
    try:
        receipt: Receipt = future.result(timeout=CONNECT_S)
    except killed as error:
        raise ClusterError(f"a partition ended one worker after another, out of memory perhaps: {error}") from error
    except (_cancelled(), closed) as error:
        raise ClusterError(LOST) from error
    return receipt
