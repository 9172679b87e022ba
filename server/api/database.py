"""The database of the running application."""

from __future__ import annotations

from flask import current_app
from sqlalchemy import Engine


def engine() -> Engine:
    """The engine that the application was made with."""
    found: Engine = current_app.extensions["pencilbag_engine"]
    return found
