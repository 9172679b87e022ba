"""The settings: what the environment may say, each with its kind, default, range and meaning. Nothing else reads it."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from typing import Any, Final

from server.store.engine import BUSY_WAIT_S, DEFAULT_DATABASE
from server.store.quotas import Quotas

PREFIX: Final = "PENCILBAG_"


@dataclass(frozen=True)
class Setting:
    """A setting. `default`: as text; `low` to `high` (both included), `unit`: of numbers; `integral`: of integers."""

    name: str
    meaning: str
    default: str = ""
    low: float = 0
    high: float = 0
    unit: str = ""
    integral: bool = False

    @property
    def is_number(self) -> bool:
        """Whether its value is a number."""
        return self.high > self.low


SETTINGS: Final = {
    setting.name: setting
    for setting in (
        Setting("DATABASE", "the database, a SQLAlchemy address", DEFAULT_DATABASE),
        Setting("READ_DATABASE", "the database that exports and verify read, a replica for instance; usually DATABASE"),
        Setting("BUSY_WAIT_S", "how long a write waits for another one", f"{BUSY_WAIT_S:g}", 0, 3600, "seconds"),
        Setting("LOG_BYTES", "how many bytes the log of one player may hold", str(Quotas().log)),
        Setting("QUARANTINE_BYTES", "how many bytes of bad changes are kept for one player", str(Quotas().quarantine)),
        Setting("BASELINES", "the folder of baselines fitted here"),
        Setting("SECRET", "by which sessions and tokens are hashed"),
        Setting("HOSTS", "the host names that the server answers to, separated by commas"),
        Setting("LOG", "the form of the logs on stderr, plain or json", "plain"),
        Setting("LOG_LEVEL", "the lowest level that is logged", "INFO"),
        Setting("WORKERS", "worker processes for slow work", "2", 0, 64, "processes", True),
        Setting("SHARED", "the Valkey or Redis that several servers share, for example redis://127.0.0.1:6379/0"),
        Setting("PROXIES", "proxies in front of the server whose headers are trusted", "0", 0, 10, "proxies", True),
    )
}
"""Every setting by its name without the prefix."""


class SettingError(ValueError):
    """A setting that is no number, or one outside its range; the message names the setting, its value and the range."""


def environment() -> dict[str, str]:
    """What the environment says, by the names of the settings; an empty variable says nothing."""
    found = {name: os.environ.get(PREFIX + name, "") for name in SETTINGS}
    return {name: value for name, value in found.items() if value}


def text(name: str) -> str:
    """A setting as text: the environment's, else the default."""
    return os.environ.get(PREFIX + name) or SETTINGS[name].default


def database_to_read() -> str:
    """The address of the database that exports read."""
    return text("READ_DATABASE") or text("DATABASE")


def number(name: str, value: Any = None) -> float:
    """The setting `name` as a number: `value`, else the environment's, else the default. Raises SettingError.

    >>> number("PROXIES", "1")
    1.0
    """
    setting = SETTINGS[name]
    value = text(name) if value is None else value
    allowed = f"{setting.low:g} to {setting.high:g} {setting.unit}"
    try:
        found = float(value)
    except (TypeError, ValueError):
        found = math.nan
    if math.isnan(found) or (setting.integral and not found.is_integer()):
        raise SettingError(f"{PREFIX}{name}: {value!r} is not a {'whole ' * setting.integral}number, {allowed}")
    if not setting.low <= found <= setting.high:
        raise SettingError(f"{PREFIX}{name}: {value} is outside {allowed}")
    return found
