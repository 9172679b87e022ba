"""Cursors: how far a device has read a player's log, in a form that a log with another past cannot match.

A cursor is "SEQ:CHANGE_ID:CHAIN". The pair of number and id alone is not enough: after an older backup was restored,
devices push again in another order, and the same change can get the same number behind other changes, or
another effective time. The chain is a fingerprint of all entries of the log up to there. A cursor of two parts
(as a script may write it) is checked by the pair.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any, Final

import sqlalchemy as sa

from server.store.tables import CHANGE

START: Final = "0" * 32
"""The chain of an empty log."""


def chained(chain: str, change_id: str, effective_time: str) -> str:
    """The chain after one more change."""
    return hashlib.sha256(f"{chain}{change_id}{effective_time}".encode()).hexdigest()[: len(START)]


def chains(chain: str, change_ids: Iterable[str], effective_times: Iterable[str]) -> list[str]:
    """The chain after each of these changes."""
    sha256, length, found = hashlib.sha256, len(START), []
    for change_id, effective_time in zip(change_ids, effective_times, strict=True):
        chain = sha256(f"{chain}{change_id}{effective_time}".encode()).hexdigest()[:length]
        found.append(chain)
    return found


def cursor_at(row: Any) -> str:
    """The cursor just after a row of the log."""
    return f"{row['seq']}:{row['change_id']}:{row['chain']}"


def sequence_of(connection: sa.Connection, player_id: str, cursor: str | None) -> int | None:
    """The number that a cursor represents (0 for the start); None when it does not match this log."""
    if not cursor:
        return 0
    number, _, rest = cursor.partition(":")
    change_id, _, chain = rest.partition(":")
    if not number.isdecimal() or len(number) > 18:
        return None
    query = sa.select(CHANGE.c.change_id, CHANGE.c.chain).where(
        CHANGE.c.player_id == player_id, CHANGE.c.seq == int(number)
    )
    found = connection.execute(query).first()
    if found is None or found.change_id != change_id or chain not in ("", found.chain):
        return None
    return int(number)
