"""A fresh SQLite database for a test."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store.engine import open_database
from tests.files.told import season_database


@pytest.fixture
def engine(new_database: Callable[[str, Path], str], tmp_path: Path) -> Iterator[sa.Engine]:
    """An empty database in a file."""
    opened = open_database(new_database("sqlite", tmp_path))
    yield opened
    opened.dispose()


@pytest.fixture(scope="session")
def season_engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sa.Engine]:
    """The demo season and one made by hand, only read."""
    opened = season_database(tmp_path_factory.mktemp("told"))
    yield opened
    opened.dispose()
