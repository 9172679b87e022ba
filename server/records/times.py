"""Times as records and changes write them: ISO 8601. A wrong clock is never a reason to refuse one."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Final

RANGE: Final = "ISO 8601, such as 2026-05-01T09:30:00.000Z"

_EXPANDED_YEAR: Final = re.compile(r"([+-])[0-9]{6}-")
"""What browsers write for such years."""

_SIGNS: Final = frozenset("+-")


def utc(words: str) -> datetime:
    """An ISO 8601 time as UTC; the expanded years of a clock beyond 9999 or before 1 are taken as those years.

    Raises ValueError, OverflowError or TypeError for what is none.
    """
    if words[:1] in _SIGNS and (expanded := _EXPANDED_YEAR.match(words)):
        words = ("9999" if expanded[1] == "+" else "0001") + words[7:]
    moment = datetime.fromisoformat(words)
    if moment.tzinfo is UTC:
        return moment
    return moment.astimezone(UTC) if moment.tzinfo else moment.replace(tzinfo=UTC)
