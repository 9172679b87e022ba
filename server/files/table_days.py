"""Days in a table: 2026-05-31, or another way that an option names. 03/04/2026 is never guessed."""

from __future__ import annotations

import re
from datetime import date
from typing import Final

ISO: Final = "YYYY-MM-DD"
FORMATS: Final = {
    ISO: re.compile(r"(?P<y>[0-9]{4})-(?P<m>[0-9]{2})-(?P<d>[0-9]{2})"),
    "YYYY/MM/DD": re.compile(r"(?P<y>[0-9]{4})/(?P<m>[0-9]{1,2})/(?P<d>[0-9]{1,2})"),
    "YYYY.MM.DD": re.compile(r"(?P<y>[0-9]{4})\.(?P<m>[0-9]{1,2})\.(?P<d>[0-9]{1,2})"),
    "DD.MM.YYYY": re.compile(r"(?P<d>[0-9]{1,2})\.(?P<m>[0-9]{1,2})\.(?P<y>[0-9]{4})"),
    "DD/MM/YYYY": re.compile(r"(?P<d>[0-9]{1,2})/(?P<m>[0-9]{1,2})/(?P<y>[0-9]{4})"),
    "MM/DD/YYYY": re.compile(r"(?P<m>[0-9]{1,2})/(?P<d>[0-9]{1,2})/(?P<y>[0-9]{4})"),
    "DD-MM-YYYY": re.compile(r"(?P<d>[0-9]{1,2})-(?P<m>[0-9]{1,2})-(?P<y>[0-9]{4})"),
    "MM-DD-YYYY": re.compile(r"(?P<m>[0-9]{1,2})-(?P<d>[0-9]{1,2})-(?P<y>[0-9]{4})"),
}
"""What `--date-format` may be, and how such a day is written; the first is the usual one."""


def day_of(cell: str, form: str | None = None) -> date | None:
    """The day in a cell, written in the form of that name or as YYYY-MM-DD; None for anything else."""
    for one in dict.fromkeys((form or ISO, ISO)):
        if found := FORMATS[one].fullmatch(cell):
            try:
                return date(int(found["y"]), int(found["m"]), int(found["d"]))
            except ValueError:
                return None
    return None


def forms_of(cell: str) -> list[str]:
    """The names of all forms in which the cell is a day."""
    return [name for name in FORMATS if name != ISO and day_of(cell, name)]
