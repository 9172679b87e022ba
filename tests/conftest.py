"""For the tests of every folder: the tier of the run, and databases. SQLite lies in a file; a private PostgreSQL starts
when first asked for. Each database is a copy of one whose tables were made once."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from server.store.engine import open_database
from tests import kept_description, kept_tables, longest_first, quick_passwords, tiers
from tests.store.cluster import Cluster

SQLITE, POSTGRESQL = "sqlite", "postgresql"
PARTITIONED = "partitioned"
"""PostgreSQL with a log in parts."""
DATABASES = (SQLITE, POSTGRESQL)
"""What PENCILBAG_DATABASE may name: the same code, the same tests of the store."""
ABOVE_THE_STORE = DATABASES if tiers.LONG else (SQLITE,)
"""What stands above the store meets no database itself: both sorts in the long tier alone."""
OF_THE_STORE = (*DATABASES, PARTITIONED) if tiers.LONG else DATABASES
"""What stands on the store meets a partitioned log in the long tier; `tests/store/test_partitioned_log.py` always."""


def pytest_configure(config: pytest.Config) -> None:
    for name, meaning in tiers.MARKS.items():
        config.addinivalue_line("markers", f"{name}: {meaning}")
    if not tiers.LONG:
        quick_passwords.use()
        kept_description.use()
        kept_tables.use()
    config.addinivalue_line("markers", "service_worker: the phones of the test keep the app, as real ones do")
    config.addinivalue_line("markers", "new_phone: the phones of the test have been no other's")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what follows from fixtures; the quick tier takes nothing that is marked."""
    for item in items:
        for name in tiers.marks_of(item):
            item.add_marker(name)
    if tiers.TIER == tiers.QUICK:
        left_out = [item for item in items if any(item.get_closest_marker(name) for name in tiers.MARKS)]
        config.hook.pytest_deselected(items=left_out)
        chosen = set(items) - set(left_out)
        items[:] = [item for item in items if item in chosen]
    longest_first.order(items)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A private PostgreSQL for the whole run."""
    started = Cluster()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def new_database(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str, Path], str]:
    """Makes an empty database with the newest tables ("sqlite" as log.sqlite in a folder, the other sorts in the
    cluster): its address."""
    empty = tmp_path_factory.mktemp("empty") / "empty.sqlite"
    open_database(f"sqlite:///{empty}").dispose()

    def make(sort: str, folder: Path) -> str:
        if sort == SQLITE:
            shutil.copy(empty, folder / "log.sqlite")
            return f"sqlite:///{folder / 'log.sqlite'}"
        cluster: Cluster = request.getfixturevalue("cluster")
        return cluster.partitioned() if sort == PARTITIONED else cluster.fresh()

    return make


@contextmanager
def lent(request: pytest.FixtureRequest, make: Callable[[str, Path], str], folder: Path) -> Iterator[str]:
    """The address of a database that `make` makes of the sort that is the fixture's parameter, gone afterwards."""
    url = make(request.param, folder)
    cluster: Cluster | None = request.getfixturevalue("cluster") if request.param != SQLITE else None
    yield url
    if cluster:
        cluster.drop(url)


@pytest.fixture(params=OF_THE_STORE)
def database_url(
    request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path: Path
) -> Iterator[str]:
    """The address of a database of its own for a test, which runs on each sort."""
    with lent(request, new_database, tmp_path) as url:
        yield url
