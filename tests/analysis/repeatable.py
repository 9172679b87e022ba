"""How property tests run here: the same examples every time, no clock, nothing kept on disk."""

from __future__ import annotations

from hypothesis import settings

from tests.tiers import count

REPEATABLE = settings(derandomize=True, deadline=None, database=None, max_examples=count(15, 100))
