"""The tests that take longest begin first, so that no process of tests is left with one of them at the end."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final, TypeVar

import pytest

LONGEST: Final = tuple((Path(__file__).parent / "longest_tests.txt").read_text(encoding="utf-8").split())
"""Tests without parameters that take eight seconds of the processor or more."""

T = TypeVar("T")


def spread(first: list[T], rest: list[T], processes: int) -> list[T]:
    """`first` and `rest`, in order, so that each of `processes` equal shares begins with its share of `first`."""
    found: list[T] = []
    taken = 0
    for share in range(processes):
        begins = first[share::processes]
        size = (share + 1) * (len(first) + len(rest)) // processes - len(found) - len(begins)
        found += begins + rest[taken : taken + size]
        taken += size
    return found


def order(items: list[pytest.Item]) -> None:
    """Where several processes share the tests, each begins with some of the longest."""
    processes = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if processes == 1:
        return
    longest = [item for item in items if item.nodeid.split("[", 1)[0] in LONGEST]
    others = [item for item in items if item.nodeid.split("[", 1)[0] not in LONGEST]
    items[:] = spread(longest, others, processes)
