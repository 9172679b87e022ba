"""Pencilbag: an on-course shot logger and strokes-gained analyser."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flask import Flask

VERSION = "0.1.0"

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Before numpy is loaded. The matrices here are small: with two threads the bag for a course takes 1.6 times the CPU
and longer, more so beside other requests. Who knows better sets it."""


def create_app(config: Mapping[str, Any] | None = None) -> Flask:
    """The web application.

    `config`: Flask settings and ours (DATABASE: a SQLAlchemy address); what it leaves open comes from the environment
    (prefix PENCILBAG_).
    """
    # Imported here so that analysis can be used without a web server.
    from server.api.app import make_app  # noqa: PLC0415

    return make_app(config)
