"""Writes `slow_tests.txt`, the tests that the quick tier leaves out for their time, from a report of pytest on stdin.

    PENCILBAG_TESTS=all .venv/bin/python -m pytest tests --durations=0 | .venv/bin/python -m tests.write_slow_tests

A test is slow when its calls, set-ups and tear-downs, all its parameters together, take longer than `LONGEST` seconds;
a whole file when its set-ups do take longer than `LONGEST_SET_UP`, for whichever test is left pays for what they share.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Final

LONGEST: Final = 0.3
LONGEST_SET_UP: Final = 1.2
SLOW_TESTS: Final = Path(__file__).with_name("slow_tests.txt")
LINE: Final = re.compile(r"(\d+\.\d+)s (call|setup|teardown) +(\S+?)(?:\[.*)?$")


def slow_tests(report: Iterable[str]) -> list[str]:
    """The slow files and tests of a report, sorted, without parameters; tests of slow files are not named again.

    >>> slow_tests(["0.30s call     tests/a.py::b[1]", "0.31s setup    tests/a.py::b[2]", "3.00s setup  tests/c.py::d"])
    ['tests/a.py::b', 'tests/c.py']
    """
    spent: Counter[str] = Counter()
    set_up: Counter[str] = Counter()
    for line in report:
        if found := LINE.match(line.strip()):
            spent[found[3]] += float(found[1])
            if found[2] == "setup":
                set_up[found[3].split("::")[0]] += float(found[1])
    files = {name for name, seconds in set_up.items() if seconds > LONGEST_SET_UP}
    tests = {name for name, seconds in spent.items() if seconds > LONGEST and name.split("::")[0] not in files}
    return sorted(files | tests)


if __name__ == "__main__":
    SLOW_TESTS.write_text("".join(f"{name}\n" for name in slow_tests(sys.stdin)), encoding="utf-8")
