"""Words that a spreadsheet would run as a formula, made harmless in a CSV so that import can undo it.

A cell that starts with = + - @, a tab or a line end may be run when the file is opened; so may what follows a
semicolon, tab or line end inside a cell, where the spreadsheet's list separator is another than the comma. An
apostrophe in front makes it text. Words that have the apostrophe already get one more, so that taking one away is
exact: `freed(guarded(words)) == words` for any words. Numbers never come here; -3.5 stays a number.

Source: OWASP Application Security Verification Standard 5.0, requirement 1.2.10 (=, +, -, @, tab, NUL).
"""

from __future__ import annotations

import re
from typing import Final

_STARTS: Final = r"(?:^|(?<=[;\t\r\n]))"
_RUN: Final = r"[=+\-@\t\r\n]"
_AT_RISK: Final = re.compile(rf"{_STARTS}(?='*{_RUN})")
_GUARDED: Final = re.compile(rf"{_STARTS}'(?='*{_RUN})")


def is_at_risk(words: str) -> bool:
    """True when a spreadsheet might run some of the words, or once an apostrophe is lost."""
    return _AT_RISK.search(words) is not None


def guarded(words: str) -> str:
    """The words with an apostrophe before each place that might be run."""
    return _AT_RISK.sub("'", words)


def freed(cell: str) -> str:
    """The words that were guarded; anything else comes back as it is."""
    return _GUARDED.sub("", cell)
