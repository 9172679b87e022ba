"""Logs on stderr: one line an event, plain or JSON, and one access line a request.

An access line holds time, request id, caller, method, route, status, milliseconds and bytes. It never holds a body, a
query, a name or a token: the caller is the account's id, the route is the rule and not the path.
"""

from __future__ import annotations

import logging
import logging.config
from typing import Final

from pythonjsonlogger.json import JsonFormatter

ACCESS: Final = logging.getLogger("pencilbag.access")

PLAIN: Final = "plain"
JSON: Final = "json"
FORMS: Final = (PLAIN, JSON)
LEVELS: Final = ("DEBUG", "INFO", "WARNING", "ERROR")

ACCESS_FIELDS: Final = ("request_id", "caller", "method", "route", "status", "ms", "bytes")


class PlainFormatter(logging.Formatter):
    """`2026-05-01T09:00:00+0000 INFO pencilbag.access GET /api/baselines 200 ...`, the fields as name=value."""

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s %(message)s", "%Y-%m-%dT%H:%M:%S%z")

    def format(self, record: logging.LogRecord) -> str:
        """The line, and the access fields that the record has."""
        line = super().format(record)
        found = [f"{name}={getattr(record, name)}" for name in ACCESS_FIELDS if hasattr(record, name)]
        return " ".join([line, *found])


def configure(form: str = PLAIN, level: str = "INFO") -> None:
    """Send every log of this program to stderr in `form`, from `level` up. ValueError for another form or level."""
    if form not in FORMS:
        raise ValueError(f"PENCILBAG_LOG: {form!r} is not one of {', '.join(FORMS)}")
    if level.upper() not in LEVELS:
        raise ValueError(f"PENCILBAG_LOG_LEVEL: {level!r} is not one of {', '.join(LEVELS)}")
    json_form = {
        "()": JsonFormatter,
        "fmt": "%(asctime)s %(levelname)s %(name)s %(message)s",
        "datefmt": "%Y-%m-%dT%H:%M:%S%z",
        "rename_fields": {"asctime": "time", "levelname": "level", "name": "logger"},
    }
    logging.config.dictConfig(
        {
            "version": 1,
            "disable_existing_loggers": False,
            "formatters": {PLAIN: {"()": PlainFormatter}, JSON: json_form},
            "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": form}},
            # Its lines of every start say nothing that an operator can use.
            "loggers": {"alembic": {"level": "WARNING"}},
            "root": {"level": level.upper(), "handlers": ["stderr"]},
        }
    )
