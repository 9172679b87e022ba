"""Checking the records against the log they derive from, and rebuilding them. Memory stays flat as the log grows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import sqlalchemy as sa

from server.store.derive import derived, remove, write
from server.store.engine import CHUNK, reading, select_in, writing
from server.store.places import mend_places, misplaced
from server.store.quotas import counted, set_use
from server.store.tables import CHANGE, KIND_TABLES, PLAYER, ROUND_HOLE

RECORDS_AT_ONCE: Final = 2_000
MOST_DIFFERENCES: Final = 100
_TABLES: Final = (*KIND_TABLES.values(), ROUND_HOLE)

Progress = Callable[[int], None]


@dataclass
class Report:
    """What a check found. `differences`: the first 100 in words; `faults` counts all of them."""

    changes: int = 0
    records: int = 0
    faults: int = 0
    rebuilt: bool = False
    differences: list[str] = field(default_factory=list)

    def add(self, words: str) -> None:
        """Note one difference."""
        self.faults += 1
        if len(self.differences) < MOST_DIFFERENCES:
            self.differences.append(words)


def check_database(engine: sa.Engine, *, rebuild: bool = False, progress: Progress | None = None) -> Report:
    """Derive every record from the log and compare it with what the tables hold.

    `rebuild` writes the records that differ, in one transaction; pushes wait. The log itself is never changed; gaps
    in its numbers are reported. `progress` hears of every group how many changes it had.
    """
    report = Report(rebuilt=rebuild)
    session = writing(engine) if rebuild else reading(engine)
    with session as connection:
        if rebuild:
            # A push holds its player's row until its commit: with all rows held no record changes meanwhile.
            connection.execute(sa.select(PLAYER.c.player_id).order_by(PLAYER.c.player_id).with_for_update()).all()
        _check_numbers(connection, report)
        _check_places(connection, rebuild, report)
        for record_ids in _groups(connection):
            before = report.changes
            _check_group(connection, record_ids, rebuild, report)
            if progress:
                progress(report.changes - before)
        _check_orphans(connection, rebuild, report)
        _check_bytes(connection, rebuild, report)
    return report


def _groups(connection: sa.Connection) -> Iterator[list[str]]:
    """All records that the log speaks of, in groups, by id. A record belongs to one player, so that one pass over the
    index is enough for all players."""
    last = ""
    while True:
        query = (
            sa.select(CHANGE.c.record_id)
            .distinct()
            .where(CHANGE.c.record_id > last)
            .order_by(CHANGE.c.record_id)
            .limit(RECORDS_AT_ONCE)
        )
        ids = [row[0] for row in connection.execute(query)]
        if not ids:
            break
        last = ids[-1]
        yield ids


def _check_group(connection: sa.Connection, record_ids: list[str], rebuild: bool, report: Report) -> None:
    # Of an erased player the log keeps no body: no record follows from it, and none may be held.
    query = sa.select(CHANGE).join(PLAYER, PLAYER.c.player_id == CHANGE.c.player_id)
    query = query.where(CHANGE.c.record_id.between(record_ids[0], record_ids[-1]), PLAYER.c.erased_at.is_(None))
    by_player: dict[str, list[Any]] = defaultdict(list)
    asked = set(record_ids)
    owners: dict[str, str] = {}
    for change in connection.execute(query).mappings():
        # On PostgreSQL a new player may push its first records between two statements: they came after, and are sound.
        if change["record_id"] not in asked:
            continue
        by_player[change["player_id"]].append(change)
        if owners.setdefault(change["record_id"], change["player_id"]) != change["player_id"]:
            report.add(f"record {change['record_id']}: it is in the logs of two players")
    wanted = [one for player_id, changes in by_player.items() for one in derived(player_id, changes, {})]
    report.changes += sum(map(len, by_player.values()))
    report.records += len(record_ids)
    expected = {_key(table, row): row for table, row in wanted}
    held = _held(connection, record_ids)
    differing = sorted(key for key in expected.keys() | held.keys() if not _same(expected.get(key), held.get(key)))
    for table_name, record_id, _ in differing:
        report.add(f"{table_name} {record_id}: the record differs from its changes")
    if differing and rebuild:
        mended = {record_id for _, record_id, _ in differing}
        for start in range(0, len(record_ids), CHUNK):
            part = [one for one in record_ids[start : start + CHUNK] if one in mended]
            remove(connection, part, KIND_TABLES)
        write(connection, ((table, row) for table, row in wanted if row["record_id"] in mended))


def _key(table: sa.Table, row: Any) -> tuple[str, str, int]:
    return (table.name, row["record_id"], row["number"] if table is ROUND_HOLE else 0)


def _held(connection: sa.Connection, record_ids: list[str]) -> dict[tuple[str, str, int], Any]:
    """The rows that the tables hold for some records, whichever player they name."""
    held: dict[tuple[str, str, int], Any] = {}
    for table in _TABLES:
        rows = select_in(connection, tuple(table.c), table.c.record_id, record_ids)
        held |= {_key(table, row._mapping): dict(row._mapping) for row in rows}
    return held


def _same(expected: Mapping[str, Any] | None, held: Mapping[str, Any] | None) -> bool:
    if expected is None or held is None:
        return False
    return all(held[name] == expected.get(name) for name in held)


def _check_numbers(connection: sa.Connection, report: Report) -> None:
    """The log of each player is numbered 1, 2, 3 ... up to the last number given."""
    counts = (
        sa.select(
            PLAYER.c.player_id,
            PLAYER.c.last_seq,
            sa.func.count(CHANGE.c.seq),
            sa.func.min(CHANGE.c.seq),
            sa.func.max(CHANGE.c.seq),
        )
        .outerjoin(CHANGE, CHANGE.c.player_id == PLAYER.c.player_id)
        .group_by(PLAYER.c.player_id, PLAYER.c.last_seq)
    )
    for player_id, last, count, lowest, highest in connection.execute(counts):
        if not last == count == (highest or 0) or lowest not in (None, 1):
            numbers = f"numbered {lowest} to {highest}" if count else "none numbered"
            report.add(f"player {player_id}: {count} changes, {numbers}, last number given {last}")


def _check_places(connection: sa.Connection, rebuild: bool, report: Report) -> None:
    """Where the changes of a partitioned log are, by the narrow table beside it."""
    if wrong := misplaced(connection):
        report.add(f"change_place: {wrong} rows differ from the log")
        if rebuild:
            mend_places(connection)


def _check_bytes(connection: sa.Connection, rebuild: bool, report: Report) -> None:
    """The bytes of logs and quarantines as the rows of players record them, against a count."""
    for player_id, (stated, held) in counted(connection).items():
        if stated != held:
            words = f"{stated.log} and {stated.quarantine} bytes, there are {held.log} and {held.quarantine}"
            report.add(f"storage of player {player_id}: log and quarantine are counted as {words}")
            if rebuild:
                set_use(connection, player_id, held)


def _check_orphans(connection: sa.Connection, rebuild: bool, report: Report) -> None:
    """Records that no change of the log speaks of."""
    for kind, table in KIND_TABLES.items():
        known = sa.select(CHANGE.c.change_id).where(CHANGE.c.record_id == table.c.record_id).exists()
        orphans = [row[0] for row in connection.execute(sa.select(table.c.record_id).where(~known))]
        for record_id in orphans:
            report.add(f"{table.name} {record_id}: it is in no change of the log")
            if rebuild:
                remove(connection, [record_id], [kind])
