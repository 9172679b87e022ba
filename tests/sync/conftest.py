"""One launcher of real servers for all tests of the exchange."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.sync.faults.servers import Launcher


@pytest.fixture(scope="session")
def launcher() -> Iterator[Launcher]:
    """Forks real servers."""
    started = Launcher()
    yield started
    started.close()
