"""The application on a database of its own, and a client of it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server import create_app


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """One application a module; tests use players of their own."""
    place = tmp_path_factory.mktemp("api") / "log.sqlite"
    made = create_app({"DATABASE": f"sqlite:///{place}"})
    yield made
    made.extensions["pencilbag_engine"].dispose()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client on this machine."""
    return app.test_client()
