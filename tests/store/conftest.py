"""A fresh database for a test, of each sort."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store import engine as store
from server.store.engine import open_database
from tests import kept_tables
from tests.conftest import OF_THE_STORE, SQLITE, lent
from tests.store.cluster import Cluster
from tests.store.full_database import filled


@pytest.fixture(autouse=True)
def made_tables(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here tables are made, not copied."""
    monkeypatch.setattr(store, "migrate", kept_tables.MAKING)


@pytest.fixture(scope="session")
def new_filled(
    request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str, Path], str]:
    """Makes a database as `new_database` does, with something of everything in it: filled once of each sort, copied."""
    made: dict[str, str] = {}

    def make(sort: str, folder: Path) -> str:
        if sort not in made:
            made[sort] = new_database(sort, tmp_path_factory.mktemp("filled"))
            filling = open_database(made[sort])
            filled(filling)
            filling.dispose()
        if sort == SQLITE:
            shutil.copy(made[sort].removeprefix("sqlite:///"), folder / "log.sqlite")
            return f"sqlite:///{folder / 'log.sqlite'}"
        cluster: Cluster = request.getfixturevalue("cluster")
        return cluster.copy(made[sort])

    return make


@pytest.fixture(params=OF_THE_STORE)
def filled_url(request: pytest.FixtureRequest, new_filled: Callable[[str, Path], str], tmp_path: Path) -> Iterator[str]:
    """The address of a database of its own, filled, for a test, which runs on each sort."""
    with lent(request, new_filled, tmp_path) as url:
        yield url


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    """An empty database: in a file, and in PostgreSQL."""
    opened = open_database(database_url)
    yield opened
    opened.dispose()
