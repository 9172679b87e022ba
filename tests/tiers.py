"""How much a run of the tests takes in: quick (no browser, no PostgreSQL, no simulation), all, or long (full counts).

`tests/run` names the tier in PENCILBAG_TESTS. A test that repeats something asks `count` how often.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Final, TypeVar

import pytest
from hypothesis import settings

QUICK: Final = "quick"
ALL: Final = "all"
LONG_RUN: Final = "long"
TIERS: Final = (QUICK, ALL, LONG_RUN)

TIER: Final = os.environ.get("PENCILBAG_TESTS", ALL)
if TIER not in TIERS:
    raise pytest.UsageError(f"PENCILBAG_TESTS: {TIER!r} is not one of {', '.join(TIERS)}")

LONG: Final = TIER == LONG_RUN

MARKS: Final = {
    "browser": "drives a real browser",
    "postgresql": "runs on PostgreSQL",
    "simulation": "simulates seasons, or many runs, to see how often something holds",
    "processes": "starts servers or commands as processes of their own",
    "slow": "takes long, by the list in slow_tests.txt",
}
"""What the quick tier leaves out."""

ON_POSTGRESQL: Final = ("postgresql", "partitioned")
"""Parameters that name a sort of database on it (`tests/conftest.py`)."""

SLOW: Final = frozenset((Path(__file__).parent / "slow_tests.txt").read_text(encoding="utf-8").split())
"""Files and tests that took long when they were last measured, without parameters (`write_slow_tests`)."""


def count(small: int, full: int) -> int:
    """How often a test repeats: `full` in the long tier, else `small`."""
    return full if LONG else small


T = TypeVar("T")


def some(cases: Iterable[T], *places: int) -> list[T]:
    """Of the cases that a test is tried on those at `places`, in the long tier all of them."""
    every = list(cases)
    return every if LONG else [every[place] for place in places]


# How many examples a property is tried on that does not say so itself.
settings.register_profile("tier", max_examples=count(15, 100))
settings.load_profile("tier")


def marks_of(item: pytest.Item) -> set[str]:
    """The marks that follow from what a test asks for."""
    fixtures = set(getattr(item, "fixturenames", ()))
    parameters = getattr(getattr(item, "callspec", None), "params", {}).values()
    found: set[str] = set()
    if fixtures & {"browser", "playwright_session"}:
        found.add("browser")
    if "cluster" in fixtures or any(isinstance(value, str) and value in ON_POSTGRESQL for value in parameters):
        found.add("postgresql")
    if fixtures & {"launcher", "live_server", "own_server"} or "faults" in item.path.parts:
        found.add("processes")
    if {item.nodeid.split("::")[0], item.nodeid.split("[", 1)[0]} & SLOW:
        found.add("slow")
    return found
