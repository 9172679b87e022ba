"""The application on a database of its own, and a client of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server import create_app
from tests.conftest import ABOVE_THE_STORE


@pytest.fixture(scope="module", params=ABOVE_THE_STORE)
def app(
    request: pytest.FixtureRequest,
    new_database: Callable[[str, Path], str],
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Flask]:
    """One application a module on each sort of database; tests use players of their own."""
    made = create_app({"DATABASE": new_database(request.param, tmp_path_factory.mktemp("api"))})
    yield made
    made.extensions["pencilbag_engine"].dispose()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client on this machine."""
    return app.test_client()
