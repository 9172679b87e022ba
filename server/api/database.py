"""The database of the running application, and what is counted of it."""

from __future__ import annotations

from flask import current_app
from sqlalchemy import Engine

from server.operation.metrics import Metrics
from server.operation.shared import Shared


def engine() -> Engine:
    """The engine that the application was made with."""
    found: Engine = current_app.extensions["pencilbag_engine"]
    return found


def shared_store() -> Shared | None:
    """What this application shares with others, or None."""
    found: Shared | None = current_app.extensions.get("pencilbag_shared")
    return found


def metrics() -> Metrics:
    """The counters of this application."""
    found: Metrics = current_app.extensions["pencilbag_metrics"]
    return found
