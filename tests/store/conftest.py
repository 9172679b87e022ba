"""A fresh database for a test, of each sort."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import sqlalchemy as sa

from server.store import engine as store
from server.store.engine import open_database
from tests import kept_tables


@pytest.fixture(autouse=True)
def made_tables(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here tables are made, not copied."""
    monkeypatch.setattr(store, "migrate", kept_tables.MAKING)


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    """An empty database: in a file, and in PostgreSQL."""
    opened = open_database(database_url)
    yield opened
    opened.dispose()
