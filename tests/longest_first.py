"""The tests that take longest begin first, so that no process of tests is left with one of them at the end."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final, TypeVar

import pytest

LONGEST: Final = tuple((Path(__file__).parent / "longest_tests.txt").read_text(encoding="utf-8").split())
"""Tests without parameters that take eight seconds of the processor or more."""

T = TypeVar("T")


def spread(first: list[list[T]], rest: list[T], processes: int) -> list[T]:
    """The groups of `first` and `rest`, in order, so that each of `processes` equal shares begins with its groups."""
    found: list[T] = []
    taken = 0
    count = sum(map(len, first)) + len(rest)
    for share in range(processes):
        begins = [one for group in first[share::processes] for one in group]
        size = max(0, (share + 1) * count // processes - len(found) - len(begins))
        found += begins + rest[taken : taken + size]
        taken += size
    return found + rest[taken:]


def order(items: list[pytest.Item]) -> None:
    """Where several processes share the tests, each begins with some of the longest, and with the other tests of their
    files: what these share is made in one process."""
    processes = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if processes == 1:
        return
    files: dict[str, list[pytest.Item]] = {}
    for item in items:
        files.setdefault(item.nodeid.split("::")[0], []).append(item)
    longest = {item for item in items if item.nodeid.split("[", 1)[0] in LONGEST}
    first = [sorted(group, key=lambda item: item not in longest) for group in files.values() if longest & set(group)]
    chosen = {item for group in first for item in group}
    items[:] = spread(first, [item for item in items if item not in chosen], processes)
