"""A fresh database for a test, of each sort."""

from tests.store.conftest import engine

__all__ = ["engine"]
