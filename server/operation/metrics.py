"""Metrics for the operator in the text format of Prometheus, one registry an application."""

from __future__ import annotations

from typing import Final, TypedDict

import sqlalchemy as sa
from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST

from server.store.health import database_bytes

CONTENT_TYPE: Final = CONTENT_TYPE_LATEST
SECONDS: Final = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
"""Upper edges of the histogram of answers, seconds."""


class _Named(TypedDict):
    registry: CollectorRegistry
    namespace: str


class Metrics:
    """Counters of one application. Labels are routes, statuses and names of caches: never a player or an account."""

    def __init__(self, engine: sa.Engine) -> None:
        self.registry = CollectorRegistry()
        named = _Named(registry=self.registry, namespace="pencilbag")
        self.seconds = Histogram(
            "request_seconds", "Seconds a request, by route", ["method", "route"], buckets=SECONDS, **named
        )
        self.answers = Counter("answers", "Answers, by route and status", ["method", "route", "status"], **named)
        self.pushes = Counter("pushes", "Pushes stored", **named)
        self.changes = Counter("changes", "Changes pushed, by what became of them", ["outcome"], **named)
        self.cache = Counter("cache_lookups", "Look-ups in a cache", ["cache", "result"], **named)
        size = Gauge("database_bytes", "Bytes of the database", **named)
        size.set_function(lambda: database_bytes(engine))

    def answered(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count one answer."""
        self.seconds.labels(method, route).observe(seconds)
        self.answers.labels(method, route, str(status)).inc()

    def pushed(self, sent: int, quarantined: int) -> None:
        """Count one push and what became of its changes."""
        self.pushes.inc()
        self.changes.labels("stored").inc(sent - quarantined)
        self.changes.labels("quarantined").inc(quarantined)

    def looked_up(self, cache: str, hit: bool) -> None:
        """Count one look-up in a cache."""
        self.cache.labels(cache, "hit" if hit else "miss").inc()

    def text(self) -> bytes:
        """Everything counted so far."""
        return generate_latest(self.registry)
