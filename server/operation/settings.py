"""Settings that are numbers: read from text, each with its range."""

from __future__ import annotations

import math
from typing import Any, Final

PREFIX: Final = "PENCILBAG_"

RANGES: Final[dict[str, tuple[int, int, str]]] = {
    "BUSY_WAIT_S": (0, 3600, "seconds"),
    "PROXIES": (0, 10, "proxies"),
    "WORKERS": (0, 64, "processes"),
}
"""From, to (both included) and the unit, by the name of the setting."""


WHOLE: Final = frozenset({"PROXIES", "WORKERS"})


class SettingError(ValueError):
    """A setting that is no number, or one outside its range; the message names the setting, its value and the range."""


def number(name: str, value: Any) -> float:
    """The setting `name` as a number. Raises SettingError.

    >>> number("PROXIES", "1")
    1.0
    """
    low, high, unit = RANGES[name]
    allowed = f"{low} to {high} {unit}"
    try:
        found = float(value)
    except (TypeError, ValueError):
        found = math.nan
    if math.isnan(found) or (name in WHOLE and not found.is_integer()):
        raise SettingError(f"{PREFIX}{name}: {value!r} is not a {'whole ' * (name in WHOLE)}number, {allowed}")
    if not low <= found <= high:
        raise SettingError(f"{PREFIX}{name}: {value} is outside {allowed}")
    return found
