"""A fresh database for a test, of each sort in the long tier."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store.engine import open_database
from tests.conftest import ABOVE_THE_STORE, POSTGRESQL
from tests.store.cluster import Cluster


@pytest.fixture(params=ABOVE_THE_STORE)
def engine(
    request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path: Path
) -> Iterator[sa.Engine]:
    """An engine of a new database with the newest tables."""
    url = new_database(request.param, tmp_path)
    found = open_database(url)
    yield found
    found.dispose()
    if request.param == POSTGRESQL:
        cluster: Cluster = request.getfixturevalue("cluster")
        cluster.drop(url)
