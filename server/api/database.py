"""The database of the running application, and what is counted of it."""

from __future__ import annotations

from flask import current_app
from sqlalchemy import Engine

from server.operation.metrics import Metrics


def engine() -> Engine:
    """The engine that the application was made with."""
    found: Engine = current_app.extensions["pencilbag_engine"]
    return found


def metrics() -> Metrics:
    """The counters of this application."""
    found: Metrics = current_app.extensions["pencilbag_metrics"]
    return found
