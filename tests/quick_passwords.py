"""Passwords that are quick to check, so that tests do not wait for what is slow on purpose.

A stored password names the cost that it was made at, so all else of it is as always. Tests of the cost itself put
`REAL` back; in the long tier it is there for all.
"""

from __future__ import annotations

from typing import Final

import pytest

from server.store import accounts

REAL: Final = {"SCRYPT": accounts.SCRYPT, "NOBODY": accounts.NOBODY}
"""What a server works with, by the names of `server.store.accounts`."""

_COST: Final = "scrypt:32768:", "scrypt:1024:"


def use() -> None:
    """From now on passwords are made and checked at a cost of 1,024 instead of 32,768 in this process."""
    for name, value in REAL.items():
        assert value.startswith(_COST[0])
        setattr(accounts, name, value.replace(*_COST))


def real_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    """At the cost of a server, for one test."""
    for name, value in REAL.items():
        monkeypatch.setattr(accounts, name, value)
