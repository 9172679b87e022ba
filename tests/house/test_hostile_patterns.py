"""No regular expression of ours takes more time than grows with its input."""

from __future__ import annotations

import re
import time

import pytest

from tests.house.patterns import of_the_server, pumps
from tests.tiers import count

SIZES = [500, 2_000, 8_000, count(16_000, 32_000)]
"""Letters: at the end a linear pattern takes milliseconds, a quadratic one half a second, or seconds."""

SLOW_S = 0.5
FOUND = list(of_the_server())


def slowest(pattern: re.Pattern[str]) -> tuple[float, tuple[str, str, str], int]:
    """The longest search, its input and its size; ends at the first that is slow."""
    longest = (0.0, ("", "", ""), 0)
    for head, part, tail in pumps(pattern.pattern):
        for size in SIZES:
            words = head + part * (size // len(part)) + tail
            started = time.process_time()
            for use in (pattern.search, pattern.fullmatch, lambda words: pattern.sub("", words)):
                use(words)
                longest = max(longest, (time.process_time() - started, (head, part, tail), size))
                if longest[0] > SLOW_S:
                    return longest
    return longest


@pytest.mark.parametrize(("place", "pattern"), FOUND, ids=[place for place, _ in FOUND])
def test_its_time_grows_with_the_input(place: str, pattern: re.Pattern[str]) -> None:
    took, pump, size = slowest(pattern)
    assert took < SLOW_S, f"{place}: {pattern.pattern!r} took {took:.1f} s at {size} letters of {pump}"


def test_all_are_found() -> None:
    assert len(FOUND) >= 15
    assert {"server/records/fields.py", "server/files/spreadsheet_cells.py"} <= {
        place.split(":")[0] for place, _ in FOUND
    }


@pytest.mark.parametrize("pattern", [r"^(.*\S)\s*[-\s]\s*(\S{1,2})$", r"\s+$"])
def test_a_bad_one_is_seen(pattern: str) -> None:
    assert slowest(re.compile(pattern))[0] > SLOW_S
