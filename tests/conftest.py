"""Databases for the tests of every folder: SQLite in a file, and a private PostgreSQL, started when first asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.store.cluster import Cluster

SQLITE, POSTGRESQL = "sqlite", "postgresql"
DATABASES = (SQLITE, POSTGRESQL)
"""What PENCILBAG_DATABASE may name: the same code, the same tests."""


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A private PostgreSQL for the whole run."""
    started = Cluster()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def new_database(request: pytest.FixtureRequest) -> Callable[[str, Path], str]:
    """Makes an empty database of a sort ("sqlite" in a folder, "postgresql" in the cluster): its address."""

    def make(sort: str, folder: Path) -> str:
        if sort == SQLITE:
            return f"sqlite:///{folder / 'log.sqlite'}"
        cluster: Cluster = request.getfixturevalue("cluster")
        return cluster.fresh()

    return make


@pytest.fixture(params=DATABASES)
def database_url(
    request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path: Path
) -> Iterator[str]:
    """The address of a database of its own for a test, which runs on each sort."""
    url = new_database(request.param, tmp_path)
    cluster: Cluster | None = request.getfixturevalue("cluster") if request.param == POSTGRESQL else None
    yield url
    if cluster:
        cluster.drop(url)
