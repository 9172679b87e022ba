"""How property tests run here: the same examples every time, no clock, nothing kept on disk."""

from __future__ import annotations

from hypothesis import settings

REPEATABLE = settings(derandomize=True, deadline=None, database=None, max_examples=100)
