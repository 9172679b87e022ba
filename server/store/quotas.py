"""How many bytes the log and the quarantine of one player may hold, and how many they do.

The counts are in the player's row and move in the transaction that stores something, so that no push adds up a log.
Erasing a player sets them to nothing; what is in the quarantine counts also when it was mended, for it is kept.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from server.records.validation import Fault
from server.store.tables import CHANGE, PLAYER, QUARANTINE

ROW_BYTES: Final = 400
"""Counted for each row beside its texts: ids, times and fingerprints."""

PAGE_BYTES: Final = 4_000_000
"""Of one page of the log, of versions of a record, or of the quarantine. One entry alone may be larger than that only
where one push was: the body of a change has at most 1 MB."""

LOG_SETTING: Final = "PENCILBAG_LOG_BYTES"
QUARANTINE_SETTING: Final = "PENCILBAG_QUARANTINE_BYTES"
LARGEST: Final = 10**15


@dataclass(frozen=True)
class Quotas:
    """The most bytes of one player. A season of 60 rounds has about 5 MB."""

    log: int = 200_000_000
    quarantine: int = 20_000_000


@dataclass(frozen=True)
class Use:
    """What one player's log and quarantine hold, in bytes."""

    log: int
    quarantine: int


class QuotaError(RuntimeError):
    """The player's log would hold more than it may. Nothing was stored; `fault` gives both sizes."""

    def __init__(self, held: int, more: int, most: int) -> None:
        self.fault = Fault(
            "changes",
            f"{held + more} bytes",
            f"up to {most} bytes of log a player ({LOG_SETTING})",
            f"have no room: the log holds {held} bytes, and these are {more} more",
        )
        super().__init__(str(self.fault))


def quotas_from(settings: Mapping[str, Any]) -> Quotas:
    """The quotas that settings by their full names ask for. ValueError in words."""
    usual = Quotas()
    return Quotas(_bytes(settings, LOG_SETTING, usual.log), _bytes(settings, QUARANTINE_SETTING, usual.quarantine))


def _bytes(settings: Mapping[str, Any], name: str, usual: int) -> int:
    words = str(settings.get(name) or usual).strip()
    if not (words.isascii() and words.isdecimal() and len(words) < 17 and 1 <= int(words) <= LARGEST):
        raise ValueError(f"{name}: {words[:40]!r} is not a number of bytes from 1 to {LARGEST}")
    return int(words)


_OPTION: Final = "pencilbag_quotas"


def set_quotas(engine: sa.Engine, quotas: Quotas) -> None:
    """What every transaction of this engine holds itself to from now on."""
    engine.update_execution_options(**{_OPTION: quotas})


def quotas_of(bound: sa.Engine | sa.Connection) -> Quotas:
    """The quotas that hold here."""
    found: Quotas = bound.get_execution_options().get(_OPTION, Quotas())
    return found


def change_bytes(row: Any) -> int:
    """What one row of the log counts. Its texts are ASCII: characters are bytes."""
    return ROW_BYTES + len(row["body"] or "") + len(row["parents"])


def changes_bytes(bodies: Collection[str | None], parents: Iterable[str]) -> int:
    """What many rows of the log count."""
    return ROW_BYTES * len(bodies) + sum(len(body or "") for body in bodies) + sum(map(len, parents))


def quarantine_bytes(row: Any) -> int:
    """What one row of the quarantine counts."""
    return ROW_BYTES + len(row["raw"]) + len(row["problem"])


COUNTED_LOG: Final = sa.func.coalesce(
    sa.func.sum(ROW_BYTES + sa.func.coalesce(sa.func.length(CHANGE.c.body), 0) + sa.func.length(CHANGE.c.parents)), 0
)
COUNTED_QUARANTINE: Final = sa.func.coalesce(
    sa.func.sum(ROW_BYTES + sa.func.length(QUARANTINE.c.raw) + sa.func.length(QUARANTINE.c.problem)), 0
)
"""The same added up by the database, for the check."""


def counted(connection: sa.Connection) -> dict[str, tuple[Use, Use]]:
    """Every living player -> what its row records, and what its log and quarantine hold."""
    log = sa.select(COUNTED_LOG).where(CHANGE.c.player_id == PLAYER.c.player_id).scalar_subquery()
    waiting = sa.select(COUNTED_QUARANTINE).where(QUARANTINE.c.player_id == PLAYER.c.player_id).scalar_subquery()
    query = sa.select(PLAYER.c.player_id, PLAYER.c.log_bytes, PLAYER.c.quarantine_bytes, log, waiting)
    rows = connection.execute(query.where(PLAYER.c.erased_at.is_(None)))
    return {row[0]: (Use(row[1], row[2]), Use(int(row[3]), int(row[4]))) for row in rows}


def set_use(connection: sa.Connection, player_id: str, use: Use) -> None:
    """Write what a player's log and quarantine hold into its row."""
    values = {"log_bytes": use.log, "quarantine_bytes": use.quarantine}
    connection.execute(sa.update(PLAYER).where(PLAYER.c.player_id == player_id).values(values))


def used(connection: sa.Connection, player_ids: list[str]) -> dict[str, Use]:
    """Of these players what their logs and quarantines hold, of those that are there."""
    columns = (PLAYER.c.player_id, PLAYER.c.log_bytes, PLAYER.c.quarantine_bytes)
    query = sa.select(*columns).where(PLAYER.c.player_id.in_(player_ids), PLAYER.c.erased_at.is_(None))
    return {row.player_id: Use(row.log_bytes, row.quarantine_bytes) for row in connection.execute(query)}
