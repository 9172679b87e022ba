"""A fresh database for a test, of each sort."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import sqlalchemy as sa

from server.store.engine import open_database


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    """An empty database: in a file, and in PostgreSQL."""
    opened = open_database(database_url)
    yield opened
    opened.dispose()
