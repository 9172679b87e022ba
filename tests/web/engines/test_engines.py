"""The app in every engine that a golfer's phone may have: the main flow, with no error of page or console."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.tiers import some
from tests.web.engines.chromium import Chromium
from tests.web.engines.engine import Engine
from tests.web.engines.firefox import Firefox
from tests.web.engines.flow import Flow
from tests.web.engines.webkit import WebKit

ENGINES: dict[str, Callable[[Any, Path], Engine]] = {
    "chromium": Chromium,
    "firefox": lambda _, folder: Firefox(folder),
    "webkitgtk": lambda _, folder: WebKit(folder),
}


@pytest.mark.parametrize("name", some(ENGINES, 1, 2))  # all else in `tests/web` runs in Chromium
def test_the_main_flow(name: str, playwright_session: Any, tmp_path: Path) -> None:
    engine = ENGINES[name](playwright_session, tmp_path)
    flow = None
    try:
        flow = Flow(engine, tmp_path)
        flow.run_all()
    finally:
        engine.close()
        if flow:
            flow.server.stop()
    assert engine.errors == []
